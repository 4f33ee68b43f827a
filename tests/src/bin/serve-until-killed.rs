//! Serves on the private PostgreSQL in the folder given, for tests that kill it; without jobs, so that what it derives
//! follows from what it was sent.
//!
//! Prints one line of JSON when it answers. Its log goes to standard error.

use std::path::PathBuf;

use anyhow::{Context, Result};
use lapwatch_api::clock::Clock;
use lapwatch_api::config::{PhotoPlace, Settings};
use lapwatch_api::embedded::Embedded;
use lapwatch_api::{server, telemetry};

#[tokio::main]
async fn main() -> Result<()> {
    let mut arguments = std::env::args().skip(1);
    let mut next = || arguments.next().context("usage: serve-until-killed FOLDER PORT ISSUER");
    let (folder, port, issuer) = (PathBuf::from(next()?), next()?.parse()?, next()?);
    telemetry::init_logs(false, telemetry::USUAL_LOGS);
    let database = Embedded::start(&folder).await?;
    let photos = PhotoPlace::Folder(folder.join("photos"));
    let mut settings = Settings::new(database.service_config(), folder.join("keys"), photos);
    settings.bind.set_port(port);
    settings.public_url = Some(issuer);
    settings.jobs = false;
    let running = server::start(&settings, Clock::system()).await?;
    let ready = serde_json::json!({ "database": database.process_id(), "address": running.address });
    println!("{ready}");
    std::future::pending().await
}
