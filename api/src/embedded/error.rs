use std::io;
use std::path::{Path, PathBuf};

/// Why the private PostgreSQL could not be started or stopped. Each message says what to do about it.
#[derive(Debug, thiserror::Error)]
pub enum EmbeddedError {
    /// No PostgreSQL server programs were found.
    #[error(
        "PostgreSQL is not installed: no folder holds both `initdb` and `postgres` (looked in {searched}). Install the \
         server package (Debian, Ubuntu: `apt-get install postgresql`; Fedora: `dnf install postgresql-server`), or set \
         DATABASE_URL and LAPWATCH_OWNER_DATABASE_URL to use a server of your own"
    )]
    NotInstalled {
        /// The folders that were looked into.
        searched: String,
    },
    /// Only versions older than the oldest supported one were found.
    #[error(
        "PostgreSQL {found} is too old: version {needed} or later is needed. Install a newer server package"
    )]
    TooOld {
        /// The newest major version found.
        found: u32,
        /// The oldest major version that will do.
        needed: u32,
    },
    /// The cluster was made by a major version that is not installed.
    #[error(
        "the data were written by PostgreSQL {made_by}, and only {installed} is installed. Install PostgreSQL {made_by} \
         beside it, or convert the cluster with `pg_upgrade`"
    )]
    OtherVersion {
        /// The major version that made the cluster.
        made_by: u32,
        /// The major versions that were found.
        installed: String,
    },
    /// Another process uses the data folder.
    #[error(
        "the data folder {} is in use by another Lapwatch{}. Stop that one, or name another folder with --data",
        folder.display(), holder.map(|pid| format!(" (process {pid})")).unwrap_or_default()
    )]
    InUse {
        /// The data folder.
        folder: PathBuf,
        /// The process that holds it, where known.
        holder: Option<u32>,
    },
    /// Running as root, and there is no `postgres` user to run the server as.
    #[error(
        "PostgreSQL does not run as root, and this system has no user `postgres` to run it as. Add one (`useradd --system \
         postgres`), or start Lapwatch as an ordinary user"
    )]
    NoAccount,
    /// Running as root on a system without `/proc`, and the server's user cannot reach the data folder.
    #[error(
        "the server's user cannot reach the data folder {}: name one that it can reach with --data, or start Lapwatch as \
         an ordinary user", folder.display()
    )]
    Unreachable {
        /// The data folder.
        folder: PathBuf,
    },
    /// A file or folder could not be made, read or written.
    #[error("could not {action} {}: {source}. Check who owns it and the space left, or name another folder with --data", path.display())]
    Folder {
        /// What was tried.
        action: &'static str,
        /// On which file or folder.
        path: PathBuf,
        /// What the system said.
        source: io::Error,
    },
    /// The cluster is there and its passwords are not.
    #[error(
        "the data folder has a cluster, but {} is missing or damaged ({why}). Put it back from a backup; to begin again \
         without the data, move the data folder away", path.display()
    )]
    SecretsLost {
        /// The file.
        path: PathBuf,
        /// What is wrong with it.
        why: String,
    },
    /// A program could not be run at all.
    #[error("could not run {}: {source}. Is the PostgreSQL installation complete?", program.display())]
    Run {
        /// The program.
        program: PathBuf,
        /// What the system said.
        source: io::Error,
    },
    /// `initdb` failed.
    #[error("PostgreSQL could not make its cluster. It said:\n{output}")]
    Initdb {
        /// What `initdb` printed.
        output: String,
    },
    /// The server of an earlier run is still there and does not end.
    #[error(
        "the PostgreSQL server of an earlier run (process {pid}) still uses the data folder and does not end. Look at \
         what it does, end it with `kill -INT {pid}`, and start again"
    )]
    PredecessorStays {
        /// The process.
        pid: u32,
    },
    /// The server ended before it answered.
    #[error("{why}. Its last words:\n{log}")]
    Ended {
        /// How it ended.
        why: String,
        /// The end of its log.
        log: String,
    },
    /// The server runs, and did not answer in time.
    #[error("PostgreSQL did not answer within {waited_s} seconds ({last}). Its last words:\n{log}")]
    NotReady {
        /// How long was waited.
        waited_s: u64,
        /// The last attempt's error.
        last: String,
        /// The end of its log.
        log: String,
    },
    /// The server was told to stop and is still there.
    #[error("PostgreSQL (process {pid}) was told to stop and is still running after {waited_s} seconds")]
    DidNotStop {
        /// The process.
        pid: u32,
        /// How long was waited.
        waited_s: u64,
    },
    /// The server refused a statement that prepares the logins or the database.
    #[error("could not prepare the database logins: {0}")]
    Logins(#[source] tokio_postgres::Error),
}

impl EmbeddedError {
    /// For `map_err`: what was tried on which path.
    pub(super) fn folder(action: &'static str, path: &Path) -> impl FnOnce(io::Error) -> Self + use<> {
        let path = path.to_owned();
        move |source| Self::Folder { action, path, source }
    }
}
