//! What must not stop it: crashes, odd places, any user.

use std::fs::{self, Permissions};
use std::os::unix::fs::{MetadataExt, PermissionsExt, chown};
use std::process::Command;

use anyhow::{Context, Result};
use lapwatch_api::embedded::Embedded;
use lapwatch_tests::harness::TestFolder;

use super::holder::{Holder, user_of, wait_until_gone};
use super::log_in;

/// The user that every system has and that may do nothing. (`initdb` wants a user with a name.)
fn nobody() -> Result<u32> {
    let output = Command::new("id").args(["-u", "nobody"]).output()?;
    Ok(String::from_utf8(output.stdout)?.trim().parse()?)
}

fn are_root() -> Result<bool> {
    Ok(fs::metadata("/proc/self")?.uid() == 0)
}

/// `kill -9` of the service leaves no process, loses nothing that was committed, and the next start needs no help even
/// when it comes while the server is still shutting down.
#[tokio::test]
async fn kill_leaves_no_process_and_loses_nothing() -> Result<()> {
    let folder = TestFolder::make()?;
    let data = folder.join("data");
    let holder = Holder::start(&data)?;
    let server = holder.server;
    holder.kill()?;
    let database = Embedded::start(&data).await.context("a start right after the kill")?;
    assert_eq!(user_of(server), None, "the server of the killed process ended before the next one started");
    let owner = log_in(&database.owner_config()).await?;
    owner.batch_execute("CREATE TABLE kept (n int); INSERT INTO kept VALUES (42)").await?;
    drop(owner);
    database.stop().await?;

    let holder = Holder::start(&data)?;
    let server = holder.server;
    holder.kill()?;
    wait_until_gone(server)?;

    let database = Embedded::start(&data).await?;
    let owner = log_in(&database.owner_config()).await?;
    let kept: i32 = owner.query_one("SELECT n FROM kept", &[]).await?.get(0);
    assert_eq!(kept, 42);
    database.stop().await?;
    Ok(())
}

/// Dropped without being stopped, as when a start fails half-way, the server still ends.
#[tokio::test]
async fn dropping_it_ends_the_server() -> Result<()> {
    let folder = TestFolder::make()?;
    let database = Embedded::start(&folder.join("data")).await?;
    let server = database.process_id();
    drop(database);
    wait_until_gone(server)
}

/// A socket's path may have 107 bytes; the data folder's may have more.
#[tokio::test]
async fn long_path() -> Result<()> {
    let folder = TestFolder::make()?;
    let data = folder.join(&["x".repeat(75), "y".repeat(75)].join("/"));
    assert!(data.as_os_str().len() > 150);
    let database = Embedded::start(&data).await?;
    log_in(&database.service_config()).await?;
    database.stop().await?;
    Ok(())
}

/// Root's clone in root's home: the server's user cannot walk to the data folder, and it works all the same. For an ordinary
/// user the folder is just a private one.
#[tokio::test]
async fn data_folder_behind_a_private_folder() -> Result<()> {
    let folder = TestFolder::make()?;
    fs::set_permissions(folder.path(), Permissions::from_mode(0o700))?;
    let data = folder.join("data");
    for _start in ["cold", "warm"] {
        let database = Embedded::start(&data).await?;
        log_in(&database.service_config()).await?;
        assert_ne!(user_of(database.process_id()), Some(0), "PostgreSQL does not run as root");
        database.stop().await?;
    }
    Ok(())
}

/// As an ordinary user the server runs as that user. Afterwards root can use the folder too, and the files stay the user's.
#[tokio::test]
async fn ordinary_user() -> Result<()> {
    let folder = TestFolder::make()?;
    let data = folder.join("data");
    let ourselves = fs::metadata("/proc/self")?.uid();
    let (user, holder) = if are_root()? {
        let nobody = nobody()?;
        chown(folder.path(), Some(nobody), Some(nobody))?;
        (nobody, Holder::start_as(nobody, folder.path(), &data)?)
    } else {
        (ourselves, Holder::start(&data)?)
    };
    assert_eq!(user_of(holder.server), Some(user));
    holder.stop()?;

    let database = Embedded::start(&data).await?;
    assert_eq!(user_of(database.process_id()), Some(user));
    database.stop().await?;
    assert_eq!(fs::metadata(data.join("postgres/PG_VERSION"))?.uid(), user);
    Ok(())
}

/// After a crash of the machine the process id that the server left may belong to any program.
#[tokio::test]
async fn stale_process_id_of_another_program() -> Result<()> {
    let folder = TestFolder::make()?;
    let data = folder.join("data");
    Embedded::start(&data).await?.stop().await?;
    let noted = data.join("postgres/postmaster.pid");
    fs::write(&noted, format!("{}\n/somewhere\n1\n5432\n/tmp\n\n  1 1\nready\n", std::process::id()))?;
    let owner = fs::metadata(data.join("postgres"))?;
    if are_root()? {
        chown(&noted, Some(owner.uid()), Some(owner.gid()))?;
    }
    Embedded::start(&data).await?.stop().await?;
    Ok(())
}

/// A first start that was cut off leaves a half-made cluster, which the next start replaces.
#[tokio::test]
async fn first_start_cut_off() -> Result<()> {
    let folder = TestFolder::make()?;
    let data = folder.join("data");
    fs::create_dir_all(data.join("postgres.new/data"))?;
    fs::write(data.join("postgres.new/data/PG_VERSION"), "half made")?;
    let database = Embedded::start(&data).await?;
    log_in(&database.service_config()).await?;
    database.stop().await?;
    assert!(!data.join("postgres.new").exists());
    Ok(())
}

/// When the server ends by itself, the service is told how.
#[tokio::test]
async fn end_of_the_server_is_noticed() -> Result<()> {
    let folder = TestFolder::make()?;
    let database = Embedded::start(&folder.join("data")).await?;
    let server = database.process_id().to_string();
    let status = Command::new("kill").args(["-QUIT", &server]).status()?;
    assert!(status.success());
    let why = database.ended().await;
    assert!(why.contains("PostgreSQL") && why.contains("postgres.log"), "{why}");
    Ok(())
}
