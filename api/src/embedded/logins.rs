//! The logins and the database of a fresh PostgreSQL server: of the private one, and of those that tests are given.

use tokio_postgres::{Client, Config, Error, NoTls};

use super::{EmbeddedError, Secrets};

/// Owns the database and every table; migrations log in as it.
pub const OWNER: &str = "lapwatch_owner";
/// The role that migrations grant rights to. Nobody logs in as it; logins of the service are its members.
pub const SERVICE_GROUP: &str = "lapwatch_service";
/// The service's login. It owns nothing and cannot step around row security.
pub const SERVICE: &str = "lapwatch_app";
/// The database.
pub const DATABASE: &str = "lapwatch";

/// Makes what is missing of roles and database, and sets the logins' passwords, as the server's superuser.
///
/// # Errors
///
/// [`EmbeddedError::Logins`] when the login fails or the server refuses a statement.
pub async fn ensure_logins(superuser: &Config, secrets: &Secrets) -> Result<(), EmbeddedError> {
    let (client, connection) = superuser.connect(NoTls).await.map_err(EmbeddedError::Logins)?;
    // Ends when the client is dropped; its errors are the client's too.
    let driver = tokio::spawn(connection);
    let done = ensure(&client, secrets).await.map_err(EmbeddedError::Logins);
    drop(client);
    driver.await.ok();
    done
}

async fn ensure(client: &Client, secrets: &Secrets) -> Result<(), Error> {
    for role in [SERVICE_GROUP, OWNER, SERVICE] {
        if client.query_opt("SELECT FROM pg_roles WHERE rolname = $1", &[&role]).await?.is_none() {
            client.batch_execute(&format!("CREATE ROLE {role}")).await?;
        }
    }
    // The passwords are hexadecimal digits, made by us; nothing in them needs quoting.
    client
        .batch_execute(&format!(
            "ALTER ROLE {OWNER} LOGIN NOSUPERUSER NOBYPASSRLS PASSWORD '{}';
             ALTER ROLE {SERVICE} LOGIN NOSUPERUSER NOBYPASSRLS PASSWORD '{}';
             GRANT {SERVICE_GROUP} TO {SERVICE};",
            secrets.owner(),
            secrets.service(),
        ))
        .await?;
    if client.query_opt("SELECT FROM pg_database WHERE datname = $1", &[&DATABASE]).await?.is_none() {
        client.batch_execute(&format!("CREATE DATABASE {DATABASE} OWNER {OWNER}")).await?;
    }
    Ok(())
}
