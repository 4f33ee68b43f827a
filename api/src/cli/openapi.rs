//! `lapwatch openapi`

use std::io::Write;

use crate::routes::contract;
use anyhow::Result;

pub(super) fn run() -> Result<()> {
    std::io::stdout().write_all(contract::json().as_bytes())?;
    Ok(())
}
