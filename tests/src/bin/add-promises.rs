//! Adds what the contract has come to promise to `openapi/promises.txt`, and takes nothing away.

use std::fs;

use anyhow::{Context, Result, bail};
use lapwatch_api::routes::contract;
use lapwatch_tests::promises::{broken, collect, parse, path, text};

fn main() -> Result<()> {
    let before = parse(&fs::read_to_string(path()).unwrap_or_default()).map_err(anyhow::Error::msg)?;
    let now = collect(&serde_json::from_str(&contract::json())?);
    let broken = broken(&before, &now);
    if !broken.is_empty() {
        let lines: Vec<String> = broken.iter().map(ToString::to_string).collect();
        bail!("the contract breaks what was promised:\n{}", lines.join("\n"));
    }
    // Demands that are gone are dropped: they must not come back unnoticed.
    fs::write(path(), text(&now)).with_context(|| path().display().to_string())
}
