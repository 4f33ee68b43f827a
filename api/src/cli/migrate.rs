//! `lapwatch migrate`

use crate::storage;
use anyhow::{Context, Result};

use super::database::DatabaseArgs;

#[derive(Debug, clap::Args)]
pub(super) struct MigrateArgs {
    #[command(flatten)]
    database: DatabaseArgs,
}

pub(super) async fn run(args: MigrateArgs) -> Result<()> {
    let database = args.database.open().await?;
    let owner = database.owner().context("set LAPWATCH_OWNER_DATABASE_URL to the login that owns the tables");
    let outcome = match owner {
        Ok(owner) => storage::migrate::run(&owner).await.context("migrating the database"),
        Err(error) => Err(error),
    };
    database.close().await?;
    let applied = outcome?;
    for name in &applied {
        println!("applied {name}");
    }
    if applied.is_empty() {
        println!("the schema is up to date");
    }
    Ok(())
}
