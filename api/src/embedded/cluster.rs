//! Making the cluster, the first time.

use std::fs::{self, File};
use std::path::Path;
use std::process::Command;

use super::account::Account;
use super::installation::Installation;
use super::{EmbeddedError, SUPERUSER, Secrets, server};

/// The cluster, in the data folder.
pub(super) const FOLDER: &str = "postgres";

/// Where it is made. What is found here at a start is of a start that was cut off.
const STAGING: &str = "postgres.new";

/// The major version that made the cluster; nothing when there is none yet.
pub(super) fn version_of(cluster: &Path) -> Result<Option<u32>, EmbeddedError> {
    if !cluster.exists() {
        return Ok(None);
    }
    let file = cluster.join("PG_VERSION");
    let text = fs::read_to_string(&file).map_err(EmbeddedError::folder("read", &file))?;
    Ok(text.trim().parse().ok())
}

/// Makes the cluster in the staging folder, and gives it its name when it is complete and on disk.
pub(super) async fn make(
    installation: &Installation,
    account: &Account,
    data_folder: &Path,
    secrets: &Secrets,
) -> Result<(), EmbeddedError> {
    let staging = data_folder.join(STAGING);
    if staging.exists() {
        fs::remove_dir_all(&staging).map_err(EmbeddedError::folder("remove", &staging))?;
    }
    fs::create_dir(&staging).map_err(EmbeddedError::folder("make", &staging))?;
    let password = staging.join("password");
    fs::write(&password, secrets.superuser()).map_err(EmbeddedError::folder("write", &password))?;
    account.give(&password)?;
    account.give(&staging)?;

    run_initdb(installation, account, &staging).await?;

    let cluster = data_folder.join(FOLDER);
    fs::rename(staging.join("data"), &cluster).map_err(EmbeddedError::folder("name", &cluster))?;
    File::open(data_folder)
        .and_then(|folder| folder.sync_all())
        .map_err(EmbeddedError::folder("save", data_folder))?;
    fs::remove_dir_all(&staging).map_err(EmbeddedError::folder("remove", &staging))
}

/// Text is UTF-8 and sorted by its bytes, which every system has and no upgrade of the system's locales can change under an
/// index.
async fn run_initdb(
    installation: &Installation,
    account: &Account,
    staging: &Path,
) -> Result<(), EmbeddedError> {
    let shared = account.share(staging)?;
    let program = installation.initdb();
    let mut command = Command::new(&program);
    command
        .args([
            "--encoding=UTF8",
            "--locale=C",
            "--data-checksums",
            "--auth=scram-sha-256",
            "--username",
            SUPERUSER,
        ])
        .arg("--pgdata")
        .arg(shared.path().join("data"))
        .arg("--pwfile")
        .arg(shared.path().join("password"));
    account.apply(&mut command, shared);
    let output = server::in_own_thread("initdb", move || command.output())
        .await
        .map_err(|source| EmbeddedError::Run { program, source })?;
    if output.status.success() {
        return Ok(());
    }
    let said = [output.stdout, output.stderr].concat();
    Err(EmbeddedError::Initdb { output: String::from_utf8_lossy(&said).into_owned() })
}
