//! The schema: applied by the owner's login, checked by the service's.

use tokio_postgres::{Config, NoTls};

use super::{Error, Result, Store};

mod embedded {
    refinery::embed_migrations!("../migrations");
}

/// A migration that could not be applied.
#[derive(Debug, thiserror::Error)]
pub enum MigrateError {
    /// The database cannot be reached as the owner.
    #[error("connecting as the owner: {0}")]
    Connect(#[from] tokio_postgres::Error),
    /// A migration failed; those before it stand.
    #[error("applying a migration: {0}")]
    Apply(#[from] refinery::Error),
}

/// Applies the migrations that are missing and answers their names.
///
/// # Errors
/// [`MigrateError`]; a failed migration leaves no half of itself.
pub async fn run(owner: &Config) -> std::result::Result<Vec<String>, MigrateError> {
    let (mut client, connection) = owner.connect(NoTls).await?;
    let driver = tokio::spawn(connection);
    let report = embedded::migrations::runner().run_async(&mut client).await?;
    drop(client);
    // The connection task ends once the client is gone; its own error would have surfaced above.
    let _ended = driver.await;
    Ok(report.applied_migrations().iter().map(ToString::to_string).collect())
}

/// Why the service must not run on this login or schema; `Display` says what to do.
#[derive(Debug, thiserror::Error)]
pub enum Unfit {
    /// The login could step around row security.
    #[error(
        "the database login `{login}` is {why}: row security would not hold. Give the service a login of its own: \
         CREATE ROLE lapwatch_app LOGIN PASSWORD '…' IN ROLE lapwatch_service; and put it in DATABASE_URL"
    )]
    Login {
        /// Name of the login.
        login: String,
        /// What it is and should not be.
        why: &'static str,
    },
    /// Migrations are missing or newer than this program.
    #[error(
        "the database schema is at version {found}, this program needs {needed}: run `lapwatch migrate` with the owner's login first"
    )]
    Schema {
        /// Version of the newest applied migration, 0 for none.
        found: i32,
        /// Version of the newest migration of this program.
        needed: i32,
    },
    /// The database failed.
    #[error(transparent)]
    Storage(#[from] Error),
}

/// Checks that the service's login cannot evade row security and that the schema is the one this program knows.
///
/// # Errors
/// [`Unfit`] when either does not hold.
pub async fn check(store: &Store) -> std::result::Result<(), Unfit> {
    let client = store.client().await?;
    let row = one(client.rows(include_str!("migrate/login.sql"), &[]).await?)?;
    let why = match (row.get("superuser"), row.get("bypasses"), row.get("owner")) {
        (true, _, _) => Some("a superuser"),
        (_, true, _) => Some("allowed to bypass row security"),
        (_, _, true) => Some("an owner of tables"),
        _ => None,
    };
    if let Some(why) = why {
        return Err(Unfit::Login { login: row.get("login"), why });
    }
    let migrated: bool =
        one(client.rows("SELECT to_regclass('refinery_schema_history') IS NOT NULL", &[]).await?)?.get(0);
    let needed =
        embedded::migrations::runner().get_migrations().iter().map(refinery::Migration::version).max();
    let needed = needed.unwrap_or(0);
    let found = if migrated {
        one(client.rows("SELECT coalesce(max(version), 0)::int4 FROM refinery_schema_history", &[]).await?)?
            .get(0)
    } else {
        0
    };
    if found == needed { Ok(()) } else { Err(Unfit::Schema { found, needed }) }
}

fn one(rows: Vec<tokio_postgres::Row>) -> Result<tokio_postgres::Row> {
    rows.into_iter().next().ok_or_else(|| Error::Corrupt("a catalog query gave no row".into()))
}
