//! The private PostgreSQL: what a start, a crash and a crowd do to it.

pub(crate) mod holder;
mod refused;
mod survives;

use std::fs;
use std::os::unix::fs::{MetadataExt, PermissionsExt};
use std::path::Path;

use anyhow::{Context, Result};
use lapwatch_api::embedded::{Embedded, OWNER, SERVICE};
use lapwatch_tests::harness::TestFolder;
use tokio_postgres::{Client, Config, NoTls};

async fn log_in(config: &Config) -> Result<Client> {
    let (client, connection) = config.connect(NoTls).await?;
    tokio::spawn(connection);
    Ok(client)
}

async fn show(client: &Client, setting: &str) -> Result<String> {
    Ok(client.query_one(&format!("SHOW {setting}"), &[]).await?.get(0))
}

fn mode_of(path: &Path) -> Result<u32> {
    Ok(fs::metadata(path).with_context(|| path.display().to_string())?.permissions().mode() & 0o777)
}

/// A cold start makes a complete, private, durable database; a warm one finds what was written.
#[tokio::test]
async fn first_start_makes_it_and_second_start_keeps_it() -> Result<()> {
    let folder = TestFolder::make()?;
    let data = folder.join("data");

    let first = Embedded::start(&data).await?;
    let owner = log_in(&first.owner_config()).await?;
    owner.batch_execute("CREATE TABLE kept (n int); INSERT INTO kept VALUES (42)").await?;
    owner.batch_execute("GRANT SELECT ON kept TO lapwatch_service").await?;
    for (setting, value) in [
        ("listen_addresses", ""),
        ("fsync", "on"),
        ("synchronous_commit", "on"),
        ("full_page_writes", "on"),
        ("data_checksums", "on"),
        ("server_encoding", "UTF8"),
    ] {
        assert_eq!(show(&owner, setting).await?, value, "{setting}");
    }
    first.stop().await?;

    let second = Embedded::start(&data).await?;
    let service = log_in(&second.service_config()).await?;
    let kept: i32 = service.query_one("SELECT n FROM kept", &[]).await?.get(0);
    assert_eq!(kept, 42);
    second.stop().await?;
    Ok(())
}

/// Neither login of the service is a superuser or steps around row security, and the service owns nothing.
#[tokio::test]
async fn logins_have_no_more_rights_than_they_need() -> Result<()> {
    let folder = TestFolder::make()?;
    let database = Embedded::start(&folder.join("data")).await?;
    let superuser = log_in(&database.superuser_config()).await?;
    for login in [OWNER, SERVICE] {
        let row = superuser
            .query_one(
                "SELECT rolsuper, rolbypassrls, rolcreaterole, rolcreatedb FROM pg_roles WHERE rolname = $1",
                &[&login],
            )
            .await?;
        for column in 0..4 {
            assert!(!row.get::<_, bool>(column), "{login}, column {column}");
        }
    }
    let service = log_in(&database.service_config()).await?;
    let refused = service.batch_execute("CREATE TABLE mine (n int)").await.unwrap_err();
    assert_eq!(refused.code().map(|code| code.code()), Some("42501"), "{refused}");
    let mut wrong = database.service_config();
    wrong.password("guess");
    assert!(wrong.connect(NoTls).await.is_err(), "a wrong password is refused");
    database.stop().await.map_err(Into::into)
}

/// Nobody else on the machine can read the data or the passwords, or reach the socket; nothing stays behind.
#[tokio::test]
async fn everything_is_closed_to_others_and_cleaned_up() -> Result<()> {
    let folder = TestFolder::make()?;
    let data = folder.join("data");
    let database = Embedded::start(&data).await?;
    let socket = fs::read_to_string(data.join("socket"))?;
    let socket = Path::new(&socket);
    assert_eq!(mode_of(&data)?, 0o700);
    assert_eq!(mode_of(&data.join("postgres"))?, 0o700);
    assert_eq!(mode_of(&data.join("secrets.json"))?, 0o600);
    assert_eq!(mode_of(socket)?, 0o700);
    assert_eq!(fs::metadata(socket)?.uid(), fs::metadata(data.join("postgres"))?.uid());
    database.stop().await?;
    assert!(!socket.exists(), "the socket folder is removed");
    assert!(!data.join("postgres/postmaster.pid").exists(), "the server ended in good order");
    Ok(())
}
