//! Rechecks, a row each.

use chrono::{DateTime, SecondsFormat, Utc};

use super::Cell;
use crate::service::exports::Names;
use crate::storage::derived;
use crate::view::fleet::Recheck;

/// The names of the columns.
pub fn recheck_columns() -> Vec<String> {
    let names = [
        "recheck_id",
        "unit",
        "unit_id",
        "crew",
        "crew_id",
        "due_on",
        "due_at",
        "state",
        "purpose",
        "reasons",
        "satisfied_by",
    ];
    names.map(str::to_owned).to_vec()
}

/// The row of a recheck as it stands at `now`.
pub fn recheck_row(recheck: &derived::Recheck, names: &Names, now: DateTime<Utc>) -> Vec<Cell> {
    let recheck = Recheck::of(recheck, now);
    vec![
        Cell::code(Some(recheck.id)),
        Cell::text(names.unit(recheck.unit_id)),
        Cell::code(Some(recheck.unit_id)),
        Cell::text(recheck.crew_id.and_then(|crew| names.crew(crew))),
        Cell::code(recheck.crew_id),
        Cell::code(Some(recheck.due_on)),
        Cell::code(Some(recheck.due_at.to_rfc3339_opts(SecondsFormat::AutoSi, true))),
        Cell::code(Some(recheck.state)),
        Cell::code(Some(recheck.purpose)),
        Cell::code(Some(recheck.reasons.join(" "))),
        Cell::code(recheck.satisfied_by),
    ]
}
