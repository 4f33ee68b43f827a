//! A trial to post: one that a unit of the demo could have made this morning.

use std::collections::HashSet;
use std::fs;
use std::path::{Path, PathBuf};

use crate::clock::Clock;
use crate::model::Principal;
use crate::service::{Service, fleet, trials};
use anyhow::{Context, Result};
use chrono::{DateTime, SecondsFormat, Utc};
use lapwatch_domain::standing::StandingCode;
use lapwatch_fixtures::Fleet;
use serde_json::Value;
use uuid::Uuid;

use crate::cli::private_file;

const FILE: &str = "example-trial.json";

/// Where the example is.
pub(super) fn path(data: &Path) -> PathBuf {
    data.join(FILE)
}

/// Writes down the fleet's latest sweep by a unit that stands steady and whose sweep gave a band.
pub(super) async fn choose(service: &Service, caller: &Principal, sent: &Fleet, data: &Path) -> Result<()> {
    let now = Clock::system().now();
    let board = fleet::board(service, caller, now).await.context("looking at the fleet")?;
    let steady: HashSet<Uuid> = board
        .iter()
        .filter(|row| row.state.standing == StandingCode::Steady)
        .map(|row| row.unit.id)
        .collect();
    for record in sent.records.iter().rev().filter(|record| record.path == "/v1/trials") {
        let trial: Value = serde_json::from_str(&record.body)?;
        let unit = trial["unit_id"].as_str().and_then(|id| Uuid::try_parse(id).ok());
        if trial["purpose"] != "sweep" || !unit.is_some_and(|unit| steady.contains(&unit)) {
            continue;
        }
        let answer = trials::get(service, caller, record.id, now).await.context("looking at a trial")?;
        if answer.evaluation.band.is_some() {
            return private_file::write(&path(data), &serde_json::to_vec_pretty(&trial)?);
        }
    }
    // Only a fleet made of other arguments may have none; the example of before stays.
    Ok(())
}

/// Makes a new trial of the example: with an id of its own, performed now.
pub(super) fn renew(data: &Path, now: DateTime<Utc>) -> Result<()> {
    let path = path(data);
    let text = fs::read(&path).with_context(|| format!("reading {}", path.display()))?;
    let mut trial: Value = serde_json::from_slice(&text)?;
    if let Some(members) = trial.as_object_mut() {
        members.insert("id".to_owned(), Uuid::new_v4().to_string().into());
        members.insert("performed_at".to_owned(), now.to_rfc3339_opts(SecondsFormat::Secs, true).into());
        members.remove("recorded_at");
    }
    private_file::write(&path, &serde_json::to_vec_pretty(&trial)?)
}
