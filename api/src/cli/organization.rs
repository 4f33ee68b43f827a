//! `lapwatch organization`

use crate::auth::random_secret;
use crate::clock::Clock;
use crate::service::organizations;
use anyhow::{Context, Result};

use super::database::Database;
use super::service::ServiceArgs;

#[derive(Debug, clap::Args)]
pub(super) struct OrganizationArgs {
    /// Name of the organization.
    #[arg(long)]
    name: String,
    /// Name that its director signs in with; unique over the whole service.
    #[arg(long)]
    sign_in: String,
    /// The director's password. Default: a random one, which is printed.
    #[arg(long, env = "LAPWATCH_PASSWORD", hide_env_values = true)]
    password: Option<String>,
    #[command(flatten)]
    service: ServiceArgs,
}

pub(super) async fn run(args: OrganizationArgs) -> Result<()> {
    let database = args.service.database.open().await?;
    let outcome = add(&args, &database).await;
    database.close().await?;
    outcome
}

async fn add(args: &OrganizationArgs, database: &Database) -> Result<()> {
    let service = args.service.operations(database).await?;
    let password = args.password.clone().unwrap_or_else(random_secret);
    let founded =
        organizations::create(&service, &args.name, &args.sign_in, &password, Clock::system().now())
            .await
            .context("adding the organization")?;
    println!("organization  {}", founded.organization);
    println!("sign-in       {}", founded.director.sign_in);
    if args.password.is_none() {
        println!("password      {password}");
    }
    Ok(())
}
