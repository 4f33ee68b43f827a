//! `lapwatch token`

use crate::clock::Clock;
use crate::model::Scope;
use crate::service::access;
use anyhow::{Context, Result, anyhow};

use super::database::Database;
use super::service::ServiceArgs;

#[derive(Debug, clap::Args)]
pub(super) struct TokenArgs {
    /// Name of the app, as people will see it.
    #[arg(long)]
    name: String,
    /// What it may do, such as `trials:write`; may be repeated. Default: all that the person may.
    #[arg(long = "scope", value_name = "SCOPE", value_parser = scope)]
    scopes: Vec<Scope>,
    /// Sign-in name of the person who adds it.
    #[arg(long)]
    sign_in: String,
    /// That person's password.
    #[arg(long, env = "LAPWATCH_PASSWORD", hide_env_values = true)]
    password: String,
    #[command(flatten)]
    service: ServiceArgs,
}

fn scope(code: &str) -> Result<Scope> {
    Scope::from_code(code).ok_or_else(|| {
        let known: Vec<&str> = Scope::ALL.iter().map(|scope| scope.code()).collect();
        anyhow!("it may be one of {}", known.join(", "))
    })
}

pub(super) async fn run(args: TokenArgs) -> Result<()> {
    let database = args.service.database.open().await?;
    let outcome = add(&args, &database).await;
    database.close().await?;
    outcome
}

async fn add(args: &TokenArgs, database: &Database) -> Result<()> {
    let service = args.service.operations(database).await?;
    let now = Clock::system().now();
    let (organization, person) =
        access::sign_in(&service, &args.sign_in, &args.password, now).await.context("signing in")?;
    let caller = person.principal(organization);
    let scopes = if args.scopes.is_empty() { caller.scopes.clone() } else { args.scopes.clone() };
    let (_app, token) = access::add_app(&service, &caller, args.name.clone(), scopes, None, None, now)
        .await
        .context("adding the app")?;
    println!("{token}");
    Ok(())
}
