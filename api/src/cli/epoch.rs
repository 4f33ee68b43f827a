//! `lapwatch epoch`

use anyhow::{Context, Result};

use super::database::Database;
use super::service::ServiceArgs;
use crate::service::change;

#[derive(Debug, clap::Args)]
pub(super) struct EpochArgs {
    #[command(flatten)]
    service: ServiceArgs,
}

pub(super) async fn run(args: EpochArgs) -> Result<()> {
    let database = args.service.database.open().await?;
    let outcome = begin(&args, &database).await;
    database.close().await?;
    outcome
}

async fn begin(args: &EpochArgs, database: &Database) -> Result<()> {
    let service = args.service.operations(database).await?;
    let organizations = change::new_epoch(&service).await.context("beginning another epoch")?;
    let word = if organizations == 1 { "organization" } else { "organizations" };
    println!("Another epoch has begun in the change feeds of {organizations} {word}.");
    Ok(())
}
