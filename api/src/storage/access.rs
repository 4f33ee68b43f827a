//! Organizations, people, apps, sessions and the directory that finds them.

use chrono::{DateTime, Utc};
use lapwatch_domain::Coded;
use tokio_postgres::Row;
use uuid::Uuid;

use super::{Client, Error, Result, Tenant};
use crate::model::{App, Person, Role, Scope};

/// Adds the tenant's organization.
pub async fn insert_organization(tenant: &Tenant<'_>, name: &str, now: DateTime<Utc>) -> Result<()> {
    tenant
        .execute(
            "INSERT INTO organization (organization_id, name, created_at) VALUES ($1, $2, $3)",
            &[&name, &now],
        )
        .await?;
    Ok(())
}

/// Name of the tenant's organization.
pub async fn organization_name(tenant: &Tenant<'_>) -> Result<Option<String>> {
    Ok(tenant
        .row("SELECT name FROM organization WHERE organization_id = $1", &[])
        .await?
        .map(|row| row.get(0)))
}

/// Organization and person that a sign-in name belongs to.
pub async fn find_sign_in(client: &Client, key: [u8; 32]) -> Result<Option<(Uuid, Uuid)>> {
    let sql = "SELECT organization_id, subject_id FROM directory WHERE key_hash = $1";
    Ok(client.rows(sql, &[&key.as_slice()]).await?.first().map(|row| (row.get(0), row.get(1))))
}

/// Every organization that anybody can sign in to: what background jobs walk over, one tenant at a time.
pub async fn organizations(client: &Client) -> Result<Vec<Uuid>> {
    let sql = "SELECT DISTINCT organization_id FROM directory ORDER BY 1";
    Ok(client.rows(sql, &[]).await?.iter().map(|row| row.get(0)).collect())
}

/// Adds a person and the directory entry of the sign-in name; `false` when the name is taken anywhere.
pub async fn insert_person(
    tenant: &Tenant<'_>,
    person: &Person,
    password_hash: &str,
    directory_key: [u8; 32],
    now: DateTime<Utc>,
) -> Result<bool> {
    let sql = include_str!("access/insert_directory.sql");
    if tenant.execute(sql, &[&directory_key.as_slice(), &person.id]).await? == 0 {
        return Ok(false);
    }
    let sql = include_str!("access/insert_person.sql");
    let role = person.role.code();
    tenant
        .execute(
            sql,
            &[&person.id, &person.sign_in, &person.name, &role, &person.crew_id, &password_hash, &now],
        )
        .await?;
    Ok(true)
}

/// A person with the password hash; `None` when there is none or it is disabled.
pub async fn person(tenant: &Tenant<'_>, id: Uuid) -> Result<Option<(Person, String)>> {
    let row = tenant.row(include_str!("access/person.sql"), &[&id]).await?;
    row.map(|row| Ok((person_from(&row)?, row.get("password_hash")))).transpose()
}

/// Everybody who is not disabled, by sign-in name.
pub async fn people(tenant: &Tenant<'_>) -> Result<Vec<Person>> {
    tenant.rows(include_str!("access/people.sql"), &[]).await?.iter().map(person_from).collect()
}

fn person_from(row: &Row) -> Result<Person> {
    Ok(Person {
        id: row.get("id"),
        sign_in: row.get("sign_in"),
        name: row.get("name"),
        role: coded::<Role>(row, "role")?,
        crew_id: row.get("crew_id"),
    })
}

/// Adds an app.
pub async fn insert_app(tenant: &Tenant<'_>, app: &App, now: DateTime<Utc>) -> Result<()> {
    let scopes: Vec<&str> = app.scopes.iter().map(|scope| scope.code()).collect();
    tenant
        .execute(
            include_str!("access/insert_app.sql"),
            &[&app.id, &app.name, &scopes, &app.crew_id, &now, &app.expires_at],
        )
        .await?;
    Ok(())
}

/// Every app, newest first.
pub async fn apps(tenant: &Tenant<'_>) -> Result<Vec<App>> {
    tenant.rows(include_str!("access/apps.sql"), &[]).await?.iter().map(app_from).collect()
}

fn app_from(row: &Row) -> Result<App> {
    Ok(App {
        id: row.get("id"),
        name: row.get("name"),
        scopes: row.get::<_, Vec<&str>>("scopes").into_iter().map(decode::<Scope>).collect::<Result<_>>()?,
        crew_id: row.get("crew_id"),
        expires_at: row.get("expires_at"),
        revoked_at: row.get("revoked_at"),
    })
}

/// Revokes an app from `now` on; `false` when there is none. Revoking twice keeps the first time.
pub async fn revoke_app(tenant: &Tenant<'_>, id: Uuid, now: DateTime<Utc>) -> Result<bool> {
    let sql = "UPDATE app SET revoked_at = coalesce(revoked_at, $3) WHERE organization_id = $1 AND id = $2";
    Ok(tenant.execute(sql, &[&id, &now]).await? == 1)
}

/// Whether an app or a person may still act: not revoked, not disabled.
pub async fn is_active(tenant: &Tenant<'_>, id: Uuid) -> Result<bool> {
    Ok(tenant.row(include_str!("access/is_active.sql"), &[&id]).await?.is_some())
}

/// Opens a console session.
pub async fn insert_session(
    tenant: &Tenant<'_>,
    secret_digest: [u8; 32],
    person: Uuid,
    now: DateTime<Utc>,
    expires_at: DateTime<Utc>,
) -> Result<()> {
    tenant
        .execute(
            include_str!("access/insert_session.sql"),
            &[&secret_digest.as_slice(), &person, &now, &expires_at],
        )
        .await?;
    Ok(())
}

/// The person of a session that is still valid.
pub async fn session(
    tenant: &Tenant<'_>,
    secret_digest: [u8; 32],
    now: DateTime<Utc>,
) -> Result<Option<Person>> {
    let row = tenant.row(include_str!("access/session.sql"), &[&secret_digest.as_slice(), &now]).await?;
    row.as_ref().map(person_from).transpose()
}

/// Ends a session.
pub async fn delete_session(tenant: &Tenant<'_>, secret_digest: [u8; 32]) -> Result<()> {
    let sql = "DELETE FROM session WHERE organization_id = $1 AND secret_digest = $2";
    tenant.execute(sql, &[&secret_digest.as_slice()]).await?;
    Ok(())
}

/// The value of a column that holds a code.
pub(super) fn coded<T: Coded>(row: &Row, column: &str) -> Result<T> {
    decode(row.get::<_, &str>(column))
}

/// The value behind a stored code.
pub(super) fn decode<T: Coded>(code: &str) -> Result<T> {
    T::from_code(code).ok_or_else(|| Error::Corrupt(format!("`{code}` is not a code of its kind")))
}
