//! The command line. Each subcommand is one module that reads its arguments and calls the library.

mod database;
mod demo;
mod epoch;
mod migrate;
mod openapi;
mod organization;
mod private_file;
mod serve;
mod service;
mod signals;
mod token;

use std::process::ExitCode;

use clap::{Parser, Subcommand};

/// Calibration log and drift watch for hot-air welders: takes in trial welds, works out the band, follows every welder.
#[derive(Debug, Parser)]
#[command(name = "lapwatch", version)]
struct Cli {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// Runs the service until it is told to stop.
    Serve(serve::ServeArgs),
    /// Brings the database schema up to this program's version, as the tables' owner.
    Migrate(migrate::MigrateArgs),
    /// Prints the OpenAPI document of this program.
    Openapi,
    /// Loads a simulated fleet into a running service, or continues the one loaded before up to now.
    Demo(demo::DemoArgs),
    /// Adds an organization with its first director.
    Organization(organization::OrganizationArgs),
    /// Makes the cursors of the change feeds void, so that readers start anew; run it once after restoring a backup.
    Epoch(epoch::EpochArgs),
    /// Issues the access token of an app.
    Token(token::TokenArgs),
}

/// Reads the arguments and runs the subcommand; what goes wrong is said on standard error.
#[must_use]
pub fn main() -> ExitCode {
    let cli = Cli::parse();
    let outcome = tokio::runtime::Builder::new_multi_thread()
        .enable_all()
        .build()
        .map_err(anyhow::Error::from)
        .and_then(|runtime| runtime.block_on(run(cli.command)));
    match outcome {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("lapwatch: {error:#}");
            ExitCode::FAILURE
        }
    }
}

async fn run(command: Command) -> anyhow::Result<()> {
    match command {
        Command::Serve(args) => serve::run(args).await,
        Command::Migrate(args) => migrate::run(args).await,
        Command::Openapi => openapi::run(),
        Command::Demo(args) => demo::run(args).await,
        Command::Organization(args) => organization::run(args).await,
        Command::Epoch(args) => epoch::run(args).await,
        Command::Token(args) => token::run(args).await,
    }
}

#[cfg(test)]
mod tests {
    use clap::CommandFactory;

    use super::*;

    #[test]
    fn arguments_fit_together() {
        Cli::command().debug_assert();
    }
}
