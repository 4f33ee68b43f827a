//! The lists of a unit's page: rechecks, spans to probe, trials, work.

use chrono::{DateTime, Utc};
use lapwatch_domain::recheck::RecheckState;

use crate::console::mark::Mark;
use crate::console::show::{Local, Scale, When};
use crate::console::words;
use crate::model::ServiceEvent;
use crate::storage::derived::Recheck;
use crate::storage::records::TrialRow;

/// A scheduled trial.
#[derive(Debug)]
pub(super) struct RecheckRow {
    pub(super) mark: Mark,
    pub(super) state: &'static str,
    pub(super) due: When,
    pub(super) purpose: &'static str,
    pub(super) reasons: String,
    pub(super) satisfied_by: Option<String>,
}

impl RecheckRow {
    pub(super) fn of(recheck: &Recheck, local: Local) -> Self {
        let state = recheck.state_at(local.now);
        Self {
            mark: match state {
                RecheckState::Open => Mark::DUE,
                RecheckState::Overdue => Mark::OVERDUE,
                RecheckState::Satisfied => Mark::DONE,
                RecheckState::Missed | RecheckState::Waived => Mark::LET_GO,
            },
            state: words::recheck_state(state),
            due: local.time(recheck.due_at),
            purpose: words::purpose(recheck.purpose),
            reasons: words::recheck_reasons(&recheck.reasons),
            satisfied_by: recheck.satisfied_by.map(|trial| format!("/trials/{trial}")),
        }
    }
}

/// A trial.
#[derive(Debug)]
pub(super) struct TrialLine {
    pub(super) address: String,
    pub(super) at: When,
    pub(super) purpose: &'static str,
    pub(super) class: &'static str,
    pub(super) outcome: Mark,
    pub(super) grade: &'static str,
    pub(super) band: String,
    pub(super) set_point: String,
}

impl TrialLine {
    pub(super) fn of(trial: &TrialRow, scale: Scale, local: Local) -> Self {
        let whole = |temperature| crate::console::show::whole(scale.value(temperature));
        Self {
            address: format!("/trials/{}", trial.id),
            at: local.time(trial.performed_at),
            purpose: words::purpose_short(trial.purpose),
            class: words::material_class(trial.material_class),
            outcome: Mark::outcome(trial.outcome),
            grade: words::grade(trial.grade),
            band: trial
                .band
                .map_or_else(|| "none".to_owned(), |(low, high)| format!("{}–{}", whole(low), whole(high))),
            set_point: trial.set_point.map_or_else(|| "none".to_owned(), whole),
        }
    }
}

/// Work on the unit.
#[derive(Debug)]
pub(super) struct ServiceRow {
    pub(super) at: When,
    pub(super) kind: String,
    pub(super) restarts: bool,
    pub(super) details: String,
}

impl ServiceRow {
    pub(super) fn of(event: &ServiceEvent, local: Local) -> Self {
        let parts = (!event.parts.is_empty()).then(|| format!("Parts: {}", event.parts.join(", ")));
        let by = event.performed_by.as_ref().map(|by| format!("By {by}"));
        let details: Vec<String> = [parts, by, event.remarks.clone()].into_iter().flatten().collect();
        Self {
            at: local.time(event.performed_at),
            kind: words::service_work(&event.work),
            restarts: event.affects_heat,
            details: details.join(" · "),
        }
    }
}

/// Rechecks that wait, and the last few that do not; they come the latest due first.
pub(super) fn recheck_rows(rechecks: &[Recheck], now: DateTime<Utc>, local: Local) -> Vec<RecheckRow> {
    const SETTLED_SHOWN: usize = 7;
    let waits =
        |recheck: &&Recheck| matches!(recheck.state_at(now), RecheckState::Open | RecheckState::Overdue);
    let waiting = rechecks.iter().filter(waits);
    let settled = rechecks.iter().filter(|recheck| !waits(recheck)).take(SETTLED_SHOWN);
    waiting.chain(settled).map(|recheck| RecheckRow::of(recheck, local)).collect()
}
