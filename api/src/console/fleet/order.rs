//! In which order, and under which headings, units are shown.

use std::cmp::Ordering;

use chrono::{DateTime, Utc};
use lapwatch_domain::coded_enum;
use lapwatch_domain::quantity::TemperatureDifference;
use lapwatch_domain::standing::StandingCode;
use lapwatch_domain::trial::Outcome;

use crate::service::fleet::FleetRow;

coded_enum! {
    /// An order of the fleet.
    pub(super) enum Sort {
        /// What needs somebody first.
        Attention = "attention",
        /// By label.
        Label = "label",
        /// By crew, then label.
        Crew = "crew",
        /// The smallest margin first.
        Margin = "margin",
        /// The longest without a trial first.
        LastTrial = "last_trial",
        /// The next recheck first.
        Recheck = "recheck",
    }
}

impl Sort {
    /// Its words in the list to choose from.
    pub(super) fn words(self) -> &'static str {
        match self {
            Self::Attention => "What needs somebody first",
            Self::Label => "Label",
            Self::Crew => "Crew",
            Self::Margin => "Smallest margin first",
            Self::LastTrial => "Longest without a trial first",
            Self::Recheck => "Next recheck first",
        }
    }
}

coded_enum! {
    /// Why a unit needs somebody, the most urgent first; each unit is shown once, under the first that applies.
    pub(super) enum Attention {
        /// Withdrawn.
        OutOfUse = "out-of-use",
        /// The last trial failed.
        Failed = "failed-trial",
        /// An edge has moved.
        Drifting = "drifting",
        /// Its trial is overdue.
        Overdue = "overdue",
        /// A warning or another open flag.
        Watch = "watch",
        /// Too little evidence yet.
        New = "new",
        /// Nothing to do.
        Steady = "steady",
    }
}

impl Attention {
    /// What a unit needs at `now`.
    pub(super) fn of(row: &FleetRow, now: DateTime<Utc>) -> Self {
        match row.state.standing {
            StandingCode::Withdrawn => Self::OutOfUse,
            _ if last_failed(row) => Self::Failed,
            StandingCode::Drifting => Self::Drifting,
            _ if is_overdue(row, now) => Self::Overdue,
            StandingCode::Warning => Self::Watch,
            _ if !row.flags.is_empty() => Self::Watch,
            StandingCode::New => Self::New,
            StandingCode::Steady => Self::Steady,
        }
    }

    /// The heading.
    pub(super) fn title(self) -> &'static str {
        match self {
            Self::OutOfUse => "Out of use",
            Self::Failed => "Failed trial",
            Self::Drifting => "Drifting",
            Self::Overdue => "Trial overdue",
            Self::Watch => "To watch",
            Self::New => "New",
            Self::Steady => "Steady",
        }
    }

    /// What the heading means.
    pub(super) fn note(self) -> &'static str {
        match self {
            Self::OutOfUse => "Withdrawn until mended, tried twice and released by an equipment person.",
            Self::Failed => "The last trial found no sound set point: stop welding with these and repeat it.",
            Self::Drifting => {
                "An edge has moved by more than noise explains. Find the cause before seams fail."
            }
            Self::Overdue => "Nobody has checked when they should have.",
            Self::Watch => "A warning or an open flag. Look at the next trials.",
            Self::New => "Too few trials yet to tell drift from noise.",
            Self::Steady => "Nothing in their trials speaks of change.",
        }
    }
}

fn last_failed(row: &FleetRow) -> bool {
    row.state.last_trial.is_some_and(|(_, _, outcome)| outcome == Outcome::Failed)
}

/// Whether the next recheck of a unit should have been done by `now`.
pub(super) fn is_overdue(row: &FleetRow, now: DateTime<Utc>) -> bool {
    row.next_recheck.as_ref().is_some_and(|recheck| recheck.due_at <= now)
}

/// Sorts rows; they come sorted by label, and rows that are equal in the chosen order stay so.
pub(super) fn sort(rows: &mut [&FleetRow], by: Sort, now: DateTime<Utc>) {
    let crew = |row: &FleetRow| row.crew.as_ref().map(|crew| crew.value.name.clone());
    match by {
        Sort::Label => {}
        Sort::Attention => rows.sort_by_key(|row| Attention::of(row, now)),
        // Units without a crew, margin, trial or recheck come last.
        Sort::Crew => rows.sort_by_key(|row| (crew(row).is_none(), crew(row))),
        Sort::Margin => rows.sort_by(|a, b| by_margin(a, b)),
        Sort::LastTrial => rows.sort_by_key(|row| row.state.last_trial.map(|(_, at, _)| at)),
        Sort::Recheck => {
            rows.sort_by_key(|row| {
                let due = row.next_recheck.as_ref().map(|recheck| recheck.due_at);
                (due.is_none(), due)
            });
        }
    }
}

fn by_margin(a: &FleetRow, b: &FleetRow) -> Ordering {
    let least = |row: &FleetRow| -> Option<TemperatureDifference> {
        row.state.margins.map(|(below, above)| if above < below { above } else { below })
    };
    match (least(a), least(b)) {
        (Some(a), Some(b)) => a.partial_cmp(&b).unwrap_or(Ordering::Equal),
        (a, b) => a.is_none().cmp(&b.is_none()),
    }
}
