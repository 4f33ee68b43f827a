//! When a unit is out of use, and when it is back.

use chrono::{DateTime, Utc};
use uuid::Uuid;

use super::{Decision, DecisionKind, FlagKind, TrialFact, UnitRecord};
use crate::trial::Outcome;

/// Failed trials in a row that take a unit out of use. A failed trial is repeated; after a second the machine is out of
/// use until mended and two trials pass (as municipal geomembrane specifications have it).
const FAILURES: usize = 2;
/// Good trials in a row that it takes to be back.
const GOOD_TRIALS: usize = 2;

/// One time out of use.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Withdrawal {
    /// The trial that was one failure too many.
    pub(super) trial: Uuid,
    /// When that was performed.
    pub(super) at: DateTime<Utc>,
    /// First service event or stated cause since.
    pub(super) mended_at: Option<DateTime<Utc>>,
    /// When the last of the good trials in a row since mending was performed.
    pub(super) proven_at: Option<DateTime<Utc>>,
    /// When it was released after that.
    pub(super) released_at: Option<DateTime<Utc>>,
}

/// The unit's trials up to `as_of` that have a verdict, in the order in which they were performed.
pub(super) fn verdicts(record: &UnitRecord<'_>, as_of: DateTime<Utc>) -> Vec<TrialFact> {
    let mut trials: Vec<TrialFact> = record
        .trials
        .iter()
        .copied()
        .filter(|trial| trial.at <= as_of && trial.outcome != Outcome::NoVerdict)
        .collect();
    trials.sort_by_key(|trial| (trial.at, trial.trial));
    trials
}

/// Every time the unit was taken out of use up to `as_of`; only the last can still last.
pub(super) fn withdrawals(record: &UnitRecord<'_>, as_of: DateTime<Utc>) -> Vec<Withdrawal> {
    let trials = verdicts(record, as_of);
    let mut found = Vec::new();
    let mut failures = 0;
    let mut index = 0;
    while let Some(trial) = trials.get(index) {
        index += 1;
        failures = if trial.outcome == Outcome::Failed { failures + 1 } else { 0 };
        if failures == FAILURES {
            let withdrawal = withdrawal(record, *trial, &trials[index..], as_of);
            found.push(withdrawal);
            let Some(released_at) = withdrawal.released_at else { break };
            // What was tried before the release belongs to the withdrawal.
            index += trials[index..].iter().take_while(|trial| trial.at <= released_at).count();
            failures = 0;
        }
    }
    found
}

fn withdrawal(
    record: &UnitRecord<'_>,
    by: TrialFact,
    later: &[TrialFact],
    as_of: DateTime<Utc>,
) -> Withdrawal {
    let since = |at: DateTime<Utc>| at >= by.at && at <= as_of;
    let serviced = record.services.iter().map(|service| service.at);
    let stated =
        record.decisions.iter().filter(|decision| states_cause(decision)).map(|decision| decision.at);
    let mended_at = serviced.chain(stated).filter(|&at| since(at)).min();
    let proven_at = mended_at.and_then(|mended_at| {
        let mut good = 0;
        later.iter().filter(|trial| trial.at > mended_at).find_map(|trial| {
            good = if trial.outcome == Outcome::Stands { good + 1 } else { 0 };
            (good >= GOOD_TRIALS).then_some(trial.at)
        })
    });
    let released_at = proven_at.and_then(|proven_at| {
        let releases = record.decisions.iter().filter(|decision| decision.kind == DecisionKind::Release);
        releases.map(|decision| decision.at).filter(|&at| at >= proven_at && at <= as_of).min()
    });
    Withdrawal { trial: by.trial, at: by.at, mended_at, proven_at, released_at }
}

/// Closing a withdrawal states its cause; it does not bring the unit back.
fn states_cause(decision: &Decision) -> bool {
    decision.kind == DecisionKind::Close && decision.concern == Some(FlagKind::Withdrawn)
}
