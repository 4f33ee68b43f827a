//! How long a unit may go without an edge-finding trial.

use chrono::{DateTime, Utc};

use super::{RecheckPolicy, finds_edges};
use crate::standing::{FlagFact, FlagKind, TrialFact};
use crate::trial::Outcome;

/// A good edge-finding trial lengthens the interval by this factor; trouble halves it.
const LENGTHENED: f64 = 1.25;
const SHORTENED: f64 = 0.5;

/// The longest time to the next edge-finding trial, in days, by what the unit's trials before `at` have shown.
///
/// A staircase, one of the methods that guides to calibration intervals list (ILAC-G24/OIML D 10, *Guidelines for the
/// determination of recalibration intervals of measuring equipment*): the interval starts as the policy has it, grows by a
/// quarter with each edge-finding trial that stands, and halves with each failed one, each lost margin and each drift, inside the
/// policy's shortest and longest interval. (The factors are ours.) Where shortest and longest are the same, it is that.
pub(super) fn edge_finding_days(
    policy: &RecheckPolicy,
    trials: &[&TrialFact],
    flags: &[FlagFact],
    at: DateTime<Utc>,
) -> u32 {
    let (least, most) = (f64::from(policy.least_edge_finding_days), f64::from(policy.most_edge_finding_days));
    let first = f64::from(policy.edge_finding_days);
    if least >= most {
        return policy.edge_finding_days;
    }
    let tried = trials.iter().filter(|trial| trial.at < at).filter_map(|trial| {
        let factor = match trial.outcome {
            Outcome::Failed | Outcome::MarginLost => SHORTENED,
            Outcome::Stands if finds_edges(trial) => LENGTHENED,
            Outcome::Stands | Outcome::NoVerdict => return None,
        };
        Some((trial.at, factor))
    });
    let drifted = flags
        .iter()
        .filter(|flag| matches!(flag.kind, FlagKind::DriftUp | FlagKind::DriftDown) && flag.opened_at < at)
        .map(|flag| (flag.opened_at, SHORTENED));
    let mut steps: Vec<(DateTime<Utc>, f64)> = tried.chain(drifted).collect();
    // Of what happened at one time, trouble counts first: the order of arrival does not.
    steps.sort_by(|a, b| a.0.cmp(&b.0).then(a.1.total_cmp(&b.1)));
    let days = steps.into_iter().fold(first, |days, (_, factor)| (days * factor).clamp(least, most));
    days.floor() as u32
}
