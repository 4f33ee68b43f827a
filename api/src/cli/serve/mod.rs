//! `lapwatch serve`

mod account;
mod example;
mod logs;
mod welcome;

use std::net::{IpAddr, Ipv4Addr, SocketAddr};
use std::path::Path;

use crate::clock::Clock;
use crate::server::{self, Running};
use crate::storage;
use anyhow::{Result, bail};

use super::database::Database;
use super::demo::state::{Load, State};
use super::demo::{ScenarioArgs, load};
use super::service::ServiceArgs;
use super::signals::StopSignals;

#[derive(Debug, clap::Args)]
pub(super) struct ServeArgs {
    #[command(flatten)]
    service: ServiceArgs,
    /// Loads the demo fleet the first time, prints how to look at it, and keeps the log in the data folder.
    #[arg(long)]
    demo: bool,
    #[command(flatten)]
    scenario: ScenarioArgs,
}

pub(super) async fn run(args: ServeArgs) -> Result<()> {
    logs::init(args.demo.then_some(args.service.database.data.as_path()))?;
    let database = args.service.database.open().await?;
    let outcome = serve(&args, &database).await;
    let closed = database.close().await;
    outcome.and(closed)
}

/// Runs the service until a signal comes or something fails, and ends it in good order.
async fn serve(args: &ServeArgs, database: &Database) -> Result<()> {
    let mut signals = StopSignals::listen()?;
    migrate(args, database).await?;
    let running = server::start(&args.service.settings(database)?, Clock::system()).await?;
    let outcome = tokio::select! {
        outcome = work(args, &running) => outcome,
        () = signals.received() => Ok(()),
        why = database.ended() => Err(anyhow::anyhow!(why)),
    };
    if args.demo && outcome.is_ok() {
        println!("\nStopping. The data stay in {}.", args.service.database.data.display());
    }
    tokio::select! {
        () = running.stop() => outcome,
        // Whoever asks twice does not want to wait for open connections.
        () = signals.received() => outcome,
    }
}

/// The private database and the demo's are brought up to date by themselves; any other one is an operator's business.
async fn migrate(args: &ServeArgs, database: &Database) -> Result<()> {
    let ours = args.demo || matches!(database, Database::Embedded(_));
    match database.owner() {
        Some(owner) if ours => {
            let applied = storage::migrate::run(&owner).await?;
            tracing::info!(?applied, "migrated");
            Ok(())
        }
        _ => Ok(()),
    }
}

/// What there is to do beside serving. Returns only when it fails.
async fn work(args: &ServeArgs, running: &Running) -> Result<()> {
    let url = format!("http://{}", reachable(running.address));
    if args.demo {
        let data = std::path::absolute(&args.service.database.data)?;
        show_demo(args, running, &data, &url).await?;
    } else {
        println!("Lapwatch listens on {url}");
    }
    std::future::pending().await
}

async fn show_demo(args: &ServeArgs, running: &Running, data: &Path, url: &str) -> Result<()> {
    let mut state = State::open(data)?;
    let caller = account::ensure(&running.service, &mut state, url, Clock::system().now()).await?;
    if state.load.is_none() {
        let now = Clock::system().now();
        state.load = Some(Load::first(&args.scenario.scenario(now)?, now));
    }
    state.save()?;
    if let Some(fleet) = load::finish(&mut state, url).await? {
        example::choose(&running.service, &caller, &fleet, data).await?;
    }
    example::renew(data, Clock::system().now())?;
    let Some(loaded) = state.load.as_ref().filter(|load| load.complete) else {
        bail!("the demo is not loaded")
    };
    welcome::print(&state, loaded, data, url)
}

/// The address to call a listener by: one that listens on every address is called by the loopback one.
fn reachable(address: SocketAddr) -> SocketAddr {
    match address.ip() {
        ip if !ip.is_unspecified() => address,
        IpAddr::V4(_) => SocketAddr::from((Ipv4Addr::LOCALHOST, address.port())),
        IpAddr::V6(_) => SocketAddr::from((std::net::Ipv6Addr::LOCALHOST, address.port())),
    }
}
