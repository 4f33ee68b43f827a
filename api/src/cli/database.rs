//! Which database, and as whom.

use std::path::PathBuf;

use crate::embedded::Embedded;
use anyhow::{Context, Result, bail};
use tokio_postgres::Config;

#[derive(Debug, clap::Args)]
pub(super) struct DatabaseArgs {
    /// The service's login to a PostgreSQL server: a member of `lapwatch_service`, never an owner or superuser.
    #[arg(long, value_name = "URL", env = "DATABASE_URL", hide_env_values = true)]
    database_url: Option<Config>,
    /// The login that owns the tables; needed for migrations alone.
    #[arg(long, value_name = "URL", env = "LAPWATCH_OWNER_DATABASE_URL", hide_env_values = true)]
    owner_database_url: Option<Config>,
    /// Runs a private PostgreSQL with its data in the data folder, unless a server is named.
    #[arg(long)]
    embedded: bool,
    /// The folder for the private PostgreSQL, keys, and the demo's sign-in.
    #[arg(long, value_name = "DIR", env = "LAPWATCH_DATA", default_value = ".lapwatch")]
    pub(super) data: PathBuf,
}

/// A database that can be logged in to.
#[derive(Debug)]
#[expect(clippy::large_enum_variant, reason = "there is one of it in the process")]
pub(super) enum Database {
    /// A private server, which ends with us.
    Embedded(Box<Embedded>),
    /// Somebody else's server.
    Given { service: Option<Config>, owner: Option<Config> },
}

impl DatabaseArgs {
    /// The database that the arguments name. Starts the private server if it is that one.
    pub(super) async fn open(&self) -> Result<Database> {
        let (service, owner) = (self.database_url.clone(), self.owner_database_url.clone());
        if service.is_some() || owner.is_some() {
            return Ok(Database::Given { service, owner });
        }
        if !self.embedded {
            bail!(
                "no database: set DATABASE_URL (and LAPWATCH_OWNER_DATABASE_URL for migrations), or run a private one \
                 with --embedded"
            );
        }
        Ok(Database::Embedded(Box::new(Embedded::start(&self.data).await?)))
    }
}

impl Database {
    /// The service's login.
    pub(super) fn service(&self) -> Result<Config> {
        match self {
            Self::Embedded(embedded) => Ok(embedded.service_config()),
            Self::Given { service, .. } => service.clone().context("set DATABASE_URL to the service's login"),
        }
    }

    /// The owner's login, if it is known.
    pub(super) fn owner(&self) -> Option<Config> {
        match self {
            Self::Embedded(embedded) => Some(embedded.owner_config()),
            Self::Given { owner, .. } => owner.clone(),
        }
    }

    /// Returns, with the reason, when the private server ends by itself; never for somebody else's.
    pub(super) async fn ended(&self) -> String {
        match self {
            Self::Embedded(embedded) => embedded.ended().await,
            Self::Given { .. } => std::future::pending().await,
        }
    }

    /// Ends the private server.
    pub(super) async fn close(self) -> Result<()> {
        match self {
            Self::Embedded(embedded) => Ok(embedded.stop().await?),
            Self::Given { .. } => Ok(()),
        }
    }
}
