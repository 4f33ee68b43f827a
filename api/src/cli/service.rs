//! The service's settings, and its operations without a listener.

use std::net::SocketAddr;
use std::path::PathBuf;

use crate::auth::{Secrets, Tokens};
use crate::config::{PhotoPlace, PhotoSettings, Settings};
use crate::service::{PhotoKeeper, Service};
use crate::storage::{Heads, Store, migrate};
use anyhow::{Context, Result};

use super::database::{Database, DatabaseArgs};

#[derive(Debug, clap::Args)]
pub(super) struct ServiceArgs {
    #[command(flatten)]
    pub(super) database: DatabaseArgs,
    /// Address to listen on; port 0 takes a free one.
    #[arg(long, value_name = "ADDRESS", env = "LAPWATCH_BIND", default_value = "127.0.0.1:8080")]
    pub(super) bind: SocketAddr,
    /// Address under which clients reach the service; access tokens name it. Default: http:// and the listening address.
    #[arg(long, value_name = "URL", env = "LAPWATCH_PUBLIC_URL")]
    public_url: Option<String>,
    /// Folder of the signing key and the pepper. Default: `keys` in the data folder.
    #[arg(long, value_name = "DIR", env = "LAPWATCH_SECRETS")]
    secrets: Option<PathBuf>,
    /// Where photos lie: a folder, or s3://bucket/prefix with the store's address and keys in the environment (AWS_ENDPOINT,
    /// AWS_REGION, AWS_ACCESS_KEY_ID, AWS_SECRET_ACCESS_KEY). Default: `photos` in the data folder.
    #[arg(long, value_name = "PLACE", env = "LAPWATCH_PHOTOS")]
    photos: Option<PhotoPlace>,
    /// Days that photos no record refers to, and unfinished uploads, are kept before a person may throw them away.
    #[arg(long, value_name = "DAYS", env = "LAPWATCH_PHOTO_KEEP_DAYS", default_value_t = 400)]
    photo_keep_days: u16,
    /// Database connections held at most.
    #[arg(long, value_name = "N", env = "LAPWATCH_CONNECTIONS", default_value_t = 16)]
    connections: usize,
    /// Worker threads. Default: one a core.
    #[arg(long, value_name = "N", env = "LAPWATCH_WORKERS")]
    workers: Option<usize>,
    /// Token that `/metrics` asks for; without one it refuses everybody.
    #[arg(long, value_name = "TOKEN", env = "LAPWATCH_OPERATOR_TOKEN", hide_env_values = true)]
    operator_token: Option<String>,
}

impl ServiceArgs {
    /// The settings of the service on this database.
    pub(super) fn settings(&self, database: &Database) -> Result<Settings> {
        let secrets_dir = self.secrets.clone().unwrap_or_else(|| self.database.data.join("keys"));
        let folder = || PhotoPlace::Folder(self.database.data.join("photos"));
        let place = self.photos.clone().unwrap_or_else(folder);
        let photos = PhotoSettings { keep_days: self.photo_keep_days, ..PhotoSettings::new(place.clone()) };
        Ok(Settings {
            bind: self.bind,
            public_url: self.public_url.clone(),
            connections: self.connections,
            workers: self.workers,
            operator_token: self.operator_token.clone(),
            photos,
            ..Settings::new(database.service()?, secrets_dir, place)
        })
    }

    /// The service's operations, for commands that do one and end.
    pub(super) async fn operations(&self, database: &Database) -> Result<Service> {
        let settings = self.settings(database)?;
        // Nobody waits at a feed of a command.
        let store =
            Store::new(&settings.database, 1, Heads::new(0, 0)).context("setting up database connections")?;
        migrate::check(&store).await?;
        let secrets = Secrets::load_or_create(&settings.secrets_dir)?;
        let tokens = Tokens::new(&settings.issuer(settings.bind), &secrets);
        Ok(Service::new(store, secrets, tokens, PhotoKeeper::new(&settings.photos)?))
    }
}
