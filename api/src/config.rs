//! What can be set from outside, with meaning and default; the command line and the environment fill it.

use std::net::{Ipv4Addr, SocketAddr};
use std::path::PathBuf;
use std::time::Duration;

use tokio_postgres::Config as PgConfig;

/// How the change feeds are followed.
#[derive(Debug, Clone, Copy)]
pub struct FeedSettings {
    /// How often the counters of watched organizations are read, for commits of other instances. Default 250 ms.
    pub period: Duration,
    /// How long a stream is silent at most. Default 15 s, less than proxies wait.
    pub heartbeat: Duration,
    /// So many may wait, in streams and long polls together. Default 1000.
    pub waiting: usize,
    /// So many of one organization. Default 200.
    pub waiting_of_one: usize,
}

impl Default for FeedSettings {
    fn default() -> Self {
        Self {
            period: Duration::from_millis(250),
            heartbeat: Duration::from_secs(15),
            waiting: 1000,
            waiting_of_one: 200,
        }
    }
}

/// How one instance of the service runs.
#[derive(Debug, Clone)]
pub struct Settings {
    /// Address to listen on; port 0 takes a free one. Default 127.0.0.1:8080.
    pub bind: SocketAddr,
    /// Address under which clients reach the service: issuer and audience of tokens. Default `http://` + `bind`.
    pub public_url: Option<String>,
    /// Login of the service: a member of `lapwatch_service`, never an owner or superuser.
    pub database: PgConfig,
    /// Database connections held at most. Default 16.
    pub connections: usize,
    /// Folder of the signing key and the pepper, made with mode 0600 files when empty.
    pub secrets_dir: PathBuf,
    /// Token that `/metrics` asks for; without one `/metrics` refuses everybody.
    pub operator_token: Option<String>,
    /// Worker threads. Default: one a core.
    pub workers: Option<usize>,
    /// Whether background jobs run (the turn of the day). Default true; tests call them by hand.
    pub jobs: bool,
    /// How the change feeds are followed.
    pub feed: FeedSettings,
}

impl Settings {
    /// The defaults around a database login and a folder for secrets.
    pub fn new(database: PgConfig, secrets_dir: PathBuf) -> Self {
        Self {
            bind: SocketAddr::from((Ipv4Addr::LOCALHOST, 8080)),
            public_url: None,
            database,
            connections: 16,
            secrets_dir,
            operator_token: None,
            workers: None,
            jobs: true,
            feed: FeedSettings::default(),
        }
    }

    /// The issuer that tokens name: the public address, else the one that is listened on.
    pub fn issuer(&self, address: SocketAddr) -> String {
        self.public_url.clone().unwrap_or_else(|| format!("http://{address}"))
    }

    /// Whether browsers reach the service over TLS, so that cookies must be `Secure`.
    pub fn secure_cookies(&self) -> bool {
        self.public_url.as_deref().is_some_and(|url| url.starts_with("https://"))
    }
}

/// The largest request body taken, in bytes.
pub const BODY_LIMIT_BYTES: usize = 8 * 1024 * 1024;
