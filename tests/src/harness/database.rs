//! A database for one test.

use std::thread;
use std::time::Duration;

use anyhow::{Context, Result};
use lapwatch_api::embedded::{OWNER, SERVICE};
use tokio::time::timeout;
use tokio_postgres::Config;
use uuid::Uuid;

use super::postgres::{self, Postgres, TEMPLATE, log_in};

/// A migrated, empty database of the test's own; dropped with this value, whoever is still connected to it.
#[derive(Debug)]
pub struct TestDatabase {
    server: &'static Postgres,
    name: String,
}

impl TestDatabase {
    /// Copies the template, which takes well under a tenth of a second.
    ///
    /// # Errors
    ///
    /// When the server could not be started or refuses the copy.
    pub async fn make() -> Result<Self> {
        let server = postgres::shared().await?;
        let name = format!("test_{}", Uuid::new_v4().simple());
        let superuser = log_in(&server.superuser).await?;
        // Copying through the write-ahead log needs no checkpoint, so tests do not wait for each other.
        superuser
            .batch_execute(&format!(
                "CREATE DATABASE {name} OWNER {OWNER} TEMPLATE {TEMPLATE} STRATEGY WAL_LOG"
            ))
            .await
            .context("copying the template database")?;
        Ok(Self { server, name })
    }

    /// How the owner of the tables logs in.
    #[must_use]
    pub fn owner_config(&self) -> Config {
        self.server.config(OWNER, self.server.secrets.owner(), &self.name)
    }

    /// How the service logs in.
    #[must_use]
    pub fn service_config(&self) -> Config {
        self.server.config(SERVICE, self.server.secrets.service(), &self.name)
    }

    /// How a superuser logs in, who sees past row security: for looking at what was stored.
    #[must_use]
    pub fn superuser_config(&self) -> Config {
        let mut config = self.server.superuser.clone();
        config.dbname(&self.name);
        config
    }

    /// Its name.
    #[must_use]
    pub fn name(&self) -> &str {
        &self.name
    }
}

impl Drop for TestDatabase {
    /// From a thread with a runtime of its own: the test's may be ending.
    fn drop(&mut self) {
        let superuser = self.server.superuser.clone();
        let statement = format!("DROP DATABASE IF EXISTS {} WITH (FORCE)", self.name);
        let work = async move {
            let client = log_in(&superuser).await?;
            client.batch_execute(&statement).await?;
            anyhow::Ok(())
        };
        let dropped = thread::spawn(move || {
            let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build()?;
            runtime.block_on(async { timeout(Duration::from_secs(10), work).await? })
        });
        // A database that stays goes with the server.
        if !matches!(dropped.join(), Ok(Ok(()))) {
            eprintln!("the database {} could not be dropped", self.name);
        }
    }
}
