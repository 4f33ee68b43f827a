//! Files that only their owner may read.

use std::fs::{self, OpenOptions};
use std::io::Write;
use std::os::unix::fs::OpenOptionsExt;
use std::path::Path;

use anyhow::{Context, Result};

/// Writes a file in one step: whoever reads it, and whenever we are killed, finds the old content or the new one.
pub(super) fn write(path: &Path, content: &[u8]) -> Result<()> {
    let new = path.with_extension("new");
    let written = || {
        // One that a killed run left might have another mode.
        fs::remove_file(&new).or_else(|error| match error.kind() {
            std::io::ErrorKind::NotFound => Ok(()),
            _ => Err(error),
        })?;
        let mut file = OpenOptions::new().write(true).create_new(true).mode(0o600).open(&new)?;
        file.write_all(content)?;
        file.sync_all()?;
        fs::rename(&new, path)
    };
    written().with_context(|| format!("writing {}", path.display()))
}
