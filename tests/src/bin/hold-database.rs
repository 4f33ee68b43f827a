//! Holds a private PostgreSQL on the folder given, for tests that kill, crowd or outlive it from another process.
//!
//! Prints one line of JSON when the database answers, and stops in good order when its standard input ends.

use std::io::Read;
use std::path::PathBuf;
use std::time::Instant;

use anyhow::{Context, Result};
use lapwatch_api::embedded::Embedded;

#[tokio::main]
async fn main() -> Result<()> {
    let folder = PathBuf::from(std::env::args().nth(1).context("usage: hold-database FOLDER")?);
    let started = Instant::now();
    let database = Embedded::start(&folder).await?;
    let ready = serde_json::json!({
        "server": database.process_id(),
        "start_ms": u64::try_from(started.elapsed().as_millis())?,
    });
    println!("{ready}");
    tokio::task::spawn_blocking(|| std::io::stdin().read_to_end(&mut Vec::new())).await??;
    database.stop().await?;
    Ok(())
}
