//! Suspect seams: what was welded between the last good trial and the evidence that something was wrong.

use chrono::{DateTime, Utc};
use uuid::Uuid;

use crate::coded::coded_enum;
use crate::standing::{FlagFact, TrialFact};

/// What was welded with the unit, from–to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct SpanFact {
    /// The production span.
    pub span: Uuid,
    /// When it began.
    pub from: DateTime<Utc>,
    /// When it ended.
    pub to: DateTime<Utc>,
}

coded_enum! {
    /// Why seams are suspect.
    pub enum SuspectReason {
        /// A trial failed.
        FailedTrial = "failed_trial",
        /// Two trials in a row failed, and the unit is out of use.
        Withdrawn = "withdrawn",
        /// An edge has moved, to the side that costs margin.
        DriftOnset = "drift_onset",
    }
}

coded_enum! {
    /// How soon the seams should be looked at.
    pub enum Urgency {
        /// Before they are covered.
        BeforeCovering = "before_covering",
        /// At the next visit.
        NextVisit = "next_visit",
    }
}

/// A production span that should be looked at.
#[derive(Debug, Clone, PartialEq)]
pub struct SuspectSpan {
    /// The production span.
    pub span: Uuid,
    /// The part of it in question begins here.
    pub from: DateTime<Utc>,
    /// And ends here.
    pub to: DateTime<Utc>,
    /// The weightiest reason.
    pub reason: SuspectReason,
    /// How soon.
    pub urgency: Urgency,
    /// The trial that gives the reason.
    pub evidence: Uuid,
    /// The last good trial before, if there is one.
    pub last_good: Option<Uuid>,
    /// What to probe and cut.
    pub sentence: String,
}

/// The spans to look at, by start.
#[must_use]
pub fn suspects(spans: &[SpanFact], trials: &[TrialFact], flags: &[FlagFact]) -> Vec<SuspectSpan> {
    todo!()
}
