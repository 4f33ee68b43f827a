//! Suspect seams: what was welded between the last good trial and the evidence that something was wrong.

use chrono::{DateTime, Utc};
use uuid::Uuid;

use crate::coded::coded_enum;
use crate::standing::{FlagFact, FlagKind, FlagState, TrialFact};
use crate::trial::Outcome;

/// What was welded with the unit, from–to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct SpanFact {
    /// The production span.
    pub span: Uuid,
    /// When it began.
    pub from: DateTime<Utc>,
    /// When it ended.
    pub to: DateTime<Utc>,
    /// The product, if it was named.
    pub membrane: Option<Uuid>,
    /// Its production run, if it was named.
    pub lot: Option<Uuid>,
}

coded_enum! {
    /// Why seams are suspect, the weightiest first.
    pub enum SuspectReason {
        /// Two trials in a row failed, and the unit is out of use.
        Withdrawn = "withdrawn",
        /// A trial failed.
        FailedTrial = "failed_trial",
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

coded_enum! {
    /// How a seam was checked.
    pub enum SeamCheckMethod {
        /// A probe drawn along its edge.
        Probe = "probe",
        /// A strip cut out across it and peeled.
        TestCut = "test_cut",
    }
}

coded_enum! {
    /// What became of a checked seam.
    pub enum SeamCheckResult {
        /// Nothing was found.
        Sound = "sound",
        /// Something was found and is not mended yet.
        Defect = "defect",
        /// It was patched or welded again, and checked after that.
        Patched = "patched",
    }
}

/// A check of a span's seams.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct SeamCheckFact {
    /// The check.
    pub id: Uuid,
    /// The production span.
    pub span: Uuid,
    /// When it was made.
    pub at: DateTime<Utc>,
    /// What became of it.
    pub result: SeamCheckResult,
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
    /// The last check of it, if one was made: it found a defect that is not mended.
    pub check: Option<Uuid>,
    /// What to probe and cut.
    pub sentence: String,
}

/// The spans to look at, by start; each once, with its weightiest reason.
///
/// Something was wrong at a trial (it failed, it took the unit out of use, or it made a chart signal a drift that costs
/// margin). What was welded between the last good trial before it and that trial is suspect, in so far as it falls between
/// them. For a drift, which crept past good trials, the last good trial is the last before the earliest onset. Where there
/// was no good trial before, everything before is suspect.
///
/// A check made after the part in question was welded settles it when the seam was sound or is patched; the last check counts. One
/// that found a defect makes it urgent.
#[must_use]
pub fn suspects(
    spans: &[SpanFact],
    trials: &[TrialFact],
    flags: &[FlagFact],
    checks: &[SeamCheckFact],
) -> Vec<SuspectSpan> {
    let mut found: Vec<SuspectSpan> = Vec::new();
    let mut troubles: Vec<Trouble> = flags.iter().filter_map(Trouble::of).collect();
    troubles.sort_by_key(|trouble| (trouble.reason, trouble.at, trouble.evidence));
    for trouble in troubles {
        let good = trials
            .iter()
            .filter(|trial| trial.outcome == Outcome::Stands && trial.at < trouble.good_before)
            .max_by_key(|trial| (trial.at, trial.trial));
        for span in spans {
            let from = good.map_or(span.from, |good| span.from.max(good.at));
            let to = span.to.min(trouble.at);
            let known = found
                .iter()
                .any(|suspect| suspect.span == span.span && suspect.to >= to && suspect.from <= from);
            if from < to && !known {
                found.push(trouble.suspect(span.span, from, to, good.map(|good| good.trial)));
            }
        }
    }
    keep_weightiest(found).into_iter().filter_map(|suspect| suspect.after(checks)).collect()
}

impl SuspectSpan {
    /// What is left to do after the checks of the span.
    fn after(mut self, checks: &[SeamCheckFact]) -> Option<Self> {
        let of_span = checks.iter().filter(|check| check.span == self.span && check.at >= self.to);
        let Some(last) = of_span.max_by_key(|check| (check.at, check.id)) else { return Some(self) };
        if last.result != SeamCheckResult::Defect {
            return None;
        }
        self.check = Some(last.id);
        self.urgency = Urgency::BeforeCovering;
        self.sentence = "A check of this found a defect. Have it mended by the membrane maker's instructions and check it \
                         again, and probe the rest of it, before it is covered; the qualified person on site decides."
            .to_owned();
        Some(self)
    }
}

/// What made seams suspect.
#[derive(Debug, Clone, Copy)]
struct Trouble {
    reason: SuspectReason,
    evidence: Uuid,
    at: DateTime<Utc>,
    /// The last good trial lies before this.
    good_before: DateTime<Utc>,
}

impl Trouble {
    fn of(flag: &FlagFact) -> Option<Self> {
        let reason = match flag.kind {
            FlagKind::Withdrawn => SuspectReason::Withdrawn,
            FlagKind::FailedTrial => SuspectReason::FailedTrial,
            // A drift that later trials did not confirm was none.
            FlagKind::DriftUp | FlagKind::DriftDown
                if flag.costs_margin() && flag.state != FlagState::NotConfirmed =>
            {
                SuspectReason::DriftOnset
            }
            _ => return None,
        };
        let good_before = flag.onset.map_or(flag.opened_at, |(first, _)| first);
        Some(Self { reason, evidence: flag.first_evidence, at: flag.opened_at, good_before })
    }

    fn suspect(
        self,
        span: Uuid,
        from: DateTime<Utc>,
        to: DateTime<Utc>,
        last_good: Option<Uuid>,
    ) -> SuspectSpan {
        let (urgency, what) = match self.reason {
            SuspectReason::Withdrawn => {
                (Urgency::BeforeCovering, "Two trials in a row failed after this was welded.")
            }
            SuspectReason::FailedTrial => {
                (Urgency::BeforeCovering, "The next trial after this was welded failed.")
            }
            SuspectReason::DriftOnset => {
                (Urgency::NextVisit, "This was welded after the unit's band had probably begun to move.")
            }
        };
        let sentence = format!(
            "{what} Probe every seam of it along its whole length and cut test strips across the seam at its beginning, \
             middle and end, and wherever the probe enters, before it is covered; the qualified person on site decides."
        );
        SuspectSpan {
            span,
            from,
            to,
            reason: self.reason,
            urgency,
            evidence: self.evidence,
            last_good,
            check: None,
            sentence,
        }
    }
}

/// One entry per span: the weightiest reason, over the time from the earliest to the latest in question.
fn keep_weightiest(found: Vec<SuspectSpan>) -> Vec<SuspectSpan> {
    let mut kept: Vec<SuspectSpan> = Vec::new();
    for suspect in found {
        match kept.iter_mut().find(|kept| kept.span == suspect.span) {
            Some(kept) => {
                kept.from = kept.from.min(suspect.from);
                kept.to = kept.to.max(suspect.to);
            }
            None => kept.push(suspect),
        }
    }
    kept.sort_by_key(|suspect| (suspect.from, suspect.span));
    kept
}
