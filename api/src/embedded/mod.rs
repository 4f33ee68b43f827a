//! A private PostgreSQL, run as a child of this process: what the quick start and the tests keep their data in.
//!
//! Nobody installs, configures or starts anything: [`Embedded::start`] finds the programs that the system's PostgreSQL
//! package brought, makes a cluster in the data folder the first time, and runs it for as long as the returned value
//! lives. It is a full PostgreSQL with `fsync` on, reachable through a unix socket in a private folder and through
//! nothing else.
//!
//! ```text
//! <data folder>/
//!   lock           held while a service uses the folder
//!   secrets.json   the passwords of the three logins; readable by the owner alone
//!   postgres/      the cluster
//!   postgres.log   what the server said in this run; postgres.log.old: in the run before
//!   socket         where the socket folder of this run is, so that the next run can remove what a crash left
//! ```
//!
//! What can go wrong here goes wrong on somebody else's machine on their first day, so each of these is dealt with:
//!
//! - **Root.** PostgreSQL refuses to run as root, so root's server runs as the `postgres` user (or as whoever owns the
//!   cluster already). That user often cannot walk to the data folder, because a clone in root's home has parents with
//!   mode 0700. The folder is therefore handed over as an open descriptor and named `/proc/self/fd/N`, which needs no
//!   right on the parents: see [`account`].
//! - **Long paths.** The path of a unix socket ends at 107 bytes; the socket has a short folder of its own: [`socket`].
//! - **`kill -9`.** The server is told by the kernel when this process dies, and shuts down: [`server`]. A start that
//!   comes while the server of the run before is still writing waits for it: [`predecessor`].
//! - **A crash in the first start.** The cluster is made in a staging folder and renamed when complete: [`cluster`].
//! - **Two services on one folder.** The second is refused, by name of the first: [`lock`].
//! - **A PostgreSQL upgrade by the system.** The programs are chosen by the version that made the cluster:
//!   [`installation`].

mod account;
mod cluster;
mod error;
mod installation;
mod lock;
mod logins;
mod predecessor;
mod secrets;
mod server;
mod socket;

use std::fs;
use std::path::{Path, PathBuf};

use tokio_postgres::Config;

pub use self::error::EmbeddedError;
pub use self::logins::{DATABASE, OWNER, SERVICE, SERVICE_GROUP, ensure_logins};
pub use self::secrets::Secrets;

use self::account::Account;
use self::installation::Installation;
use self::lock::FolderLock;
use self::server::Server;
use self::socket::SocketFolder;

/// The cluster's superuser. Nothing of the service ever uses it; it makes the logins, and databases for tests.
pub(crate) const SUPERUSER: &str = "postgres";

/// A running private PostgreSQL. [`Embedded::stop`] ends it in good order; dropping it asks it to end and does not wait.
#[derive(Debug)]
pub struct Embedded {
    server: Server,
    socket: SocketFolder,
    secrets: Secrets,
    // Last, so that the folder is given up only when everything else is.
    _lock: FolderLock,
}

impl Embedded {
    /// Starts the private PostgreSQL whose data are in `data_folder`, and returns when it answers.
    ///
    /// The first start in a folder makes the cluster, which takes some seconds; later ones take well under one. The
    /// server has one database, [`DATABASE`], owned by [`OWNER`] and used by [`SERVICE`].
    ///
    /// # Errors
    ///
    /// See [`EmbeddedError`]: PostgreSQL is not installed, the folder is in use or cannot be written, the cluster was made
    /// by a version that is no longer installed, or the server ended or did not answer.
    pub async fn start(data_folder: &Path) -> Result<Self, EmbeddedError> {
        let folder = prepare_folder(data_folder)?;
        let lock = FolderLock::take(&folder)?;
        let cluster = folder.join(cluster::FOLDER);
        let installation = Installation::find(cluster::version_of(&cluster)?)?;
        let account = Account::for_cluster(&cluster)?;
        let secrets = Secrets::load_or_make(&folder, cluster.exists())?;

        if cluster.exists() {
            predecessor::settle(&cluster).await?;
        } else {
            cluster::make(&installation, &account, &folder, &secrets).await?;
        }
        let socket = SocketFolder::make(&folder, &account)?;
        let server = Server::start(&installation, &account, &folder, socket.path()).await?;
        let embedded = Self { server, socket, secrets, _lock: lock };
        embedded.wait_until_ready().await?;
        ensure_logins(&embedded.superuser_config(), &embedded.secrets).await?;
        Ok(embedded)
    }

    /// How the owner of the tables logs in: for migrations and nothing else.
    #[must_use]
    pub fn owner_config(&self) -> Config {
        self.config(OWNER, self.secrets.owner(), DATABASE)
    }

    /// How the service logs in: row security applies to it, and it owns nothing.
    #[must_use]
    pub fn service_config(&self) -> Config {
        self.config(SERVICE, self.secrets.service(), DATABASE)
    }

    /// How the superuser logs in: for making further databases, as the tests do.
    #[must_use]
    pub fn superuser_config(&self) -> Config {
        self.config(SUPERUSER, self.secrets.superuser(), SUPERUSER)
    }

    /// The passwords of this cluster's logins.
    #[must_use]
    pub fn secrets(&self) -> &Secrets {
        &self.secrets
    }

    /// The process id of the server.
    #[must_use]
    pub fn process_id(&self) -> u32 {
        self.server.process_id()
    }

    /// Waits until the server has ended, and says why in one sentence. It ends when told to by [`Embedded::stop`]; when it
    /// ends by itself, the service can do nothing but end as well.
    pub async fn ended(&self) -> String {
        self.server.ended().await
    }

    /// Ends the server: sessions are broken off, everything is written to disk. Returns when the process is gone.
    ///
    /// # Errors
    ///
    /// [`EmbeddedError::DidNotStop`] when it is still there half a minute later.
    pub async fn stop(self) -> Result<(), EmbeddedError> {
        self.server.stop().await
    }

    async fn wait_until_ready(&self) -> Result<(), EmbeddedError> {
        self.server.wait_until_ready(&self.superuser_config()).await
    }

    fn config(&self, user: &str, password: &str, database: &str) -> Config {
        let mut config = Config::new();
        config
            .host_path(self.socket.path())
            .port(socket::PORT)
            .user(user)
            .password(password)
            .dbname(database);
        config
    }
}

/// Makes the data folder if it is missing, readable by nobody else, and returns its absolute path.
fn prepare_folder(folder: &Path) -> Result<PathBuf, EmbeddedError> {
    if !folder.exists() {
        fs::create_dir_all(folder).map_err(EmbeddedError::folder("make", folder))?;
        account::make_private(folder)?;
    }
    fs::canonicalize(folder).map_err(EmbeddedError::folder("find", folder))
}
