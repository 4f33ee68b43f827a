//! Where the log goes.

use std::fs::{self, File};
use std::path::Path;

use crate::telemetry;
use anyhow::{Context, Result};
use tracing_subscriber::EnvFilter;

/// The log of a demo; the one of the run before is kept beside it.
const FILE: &str = "lapwatch.log";

/// Sends the log to standard error, or, given a data folder, to a file there: the demo's terminal is for its reader.
pub(super) fn init(data: Option<&Path>) -> Result<()> {
    let Some(data) = data else {
        telemetry::init_logs(false, telemetry::USUAL_LOGS);
        return Ok(());
    };
    let file = open(data).with_context(|| format!("opening the log in {}", data.display()))?;
    let filter =
        EnvFilter::try_from_default_env().unwrap_or_else(|_| EnvFilter::new("info,refinery_core=warn"));
    let log = tracing_subscriber::fmt().json().with_env_filter(filter).with_writer(file);
    log.try_init().map_err(|error| anyhow::anyhow!(error)).context("setting up the log")
}

fn open(data: &Path) -> std::io::Result<File> {
    use std::os::unix::fs::DirBuilderExt;
    fs::DirBuilder::new().recursive(true).mode(0o700).create(data)?;
    let path = data.join(FILE);
    if path.exists() {
        fs::rename(&path, path.with_extension("log.old"))?;
    }
    File::create(path)
}
