//! What came of a trial.

use super::{Outcome, Purpose, TrialInput};
use crate::acceptance::{Counts, JudgedTrial, Reason, Step, same_step};
use crate::band::{NoSetPoint, SetPoint};
use crate::quantity::Temperature;

/// A step this close to the set point in use is the check of it, in kelvin: displays and habits round by 5 °C or 10 °F.
const SET_POINT_REACH_KELVIN: f64 = 5.6;

/// The steps of a check: one at the set point in use and its neighbours.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Check {
    /// The step at the set point.
    pub(super) at: Option<Step>,
    /// The next step below.
    pub(super) below: Option<Step>,
    /// The next step above.
    pub(super) above: Option<Step>,
}

impl Check {
    /// The check that a trial makes of the set point in use, or of its middle step when no set point was recorded; `None`
    /// when the trial is a search for edges instead.
    pub(super) fn of(input: &TrialInput, judged: &JudgedTrial) -> Option<Self> {
        let near = input.set_point_before.and_then(|in_use| nearest_step(judged, in_use));
        match (input.purpose, near) {
            (Purpose::Confirmation, None) if input.set_point_before.is_none() => {
                Some(Self::around(judged, judged.steps.get(judged.steps.len().saturating_sub(1) / 2)?))
            }
            (Purpose::Confirmation, None) => Some(Self { at: None, below: None, above: None }),
            (Purpose::Confirmation | Purpose::Recheck, Some(step)) => Some(Self::around(judged, step)),
            (Purpose::Recheck, None) | (Purpose::Commissioning | Purpose::Sweep, _) => None,
        }
    }

    fn around(judged: &JudgedTrial, step: &Step) -> Self {
        let place = judged.steps.iter().position(|other| other == step);
        let neighbour = |place: Option<usize>| place.and_then(|place| judged.steps.get(place)).copied();
        Self {
            at: Some(*step),
            below: neighbour(place.and_then(|place| place.checked_sub(1))),
            above: neighbour(place.map(|place| place + 1)),
        }
    }

    /// The outcome of the check.
    fn outcome(&self, minimum_strips: usize) -> Outcome {
        let Some(at) = self.at else { return Outcome::NoVerdict };
        match verdict(at.counts, minimum_strips) {
            Verdict::Fails => return Outcome::Failed,
            Verdict::Unsaid => return Outcome::NoVerdict,
            Verdict::Sound => {}
        }
        let neighbours = [self.below, self.above].map(|step| {
            // A neighbour with fewer strips still shows a margin; only an unreadable or missing one does not.
            step.map_or(Verdict::Unsaid, |step| verdict(step.counts, 1))
        });
        if neighbours.contains(&Verdict::Fails) {
            Outcome::MarginLost
        } else if neighbours.contains(&Verdict::Unsaid) {
            Outcome::NoVerdict
        } else {
            Outcome::Stands
        }
    }
}

/// What a step says for itself.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Verdict {
    Sound,
    Fails,
    Unsaid,
}

fn verdict(counts: Counts, minimum_strips: usize) -> Verdict {
    if counts.cold + counts.hot + counts.narrow + counts.contaminated > 0 {
        Verdict::Fails
    } else if counts.all_sound() && counts.counted() >= minimum_strips.max(1) {
        Verdict::Sound
    } else {
        Verdict::Unsaid
    }
}

fn nearest_step(judged: &JudgedTrial, in_use: Temperature) -> Option<&Step> {
    let distance = |step: &&Step| (step.temperature - in_use).abs().kelvin();
    let nearest = judged.steps.iter().min_by(|a, b| distance(a).total_cmp(&distance(b)))?;
    (same_step(nearest.temperature, in_use) || distance(&nearest) < SET_POINT_REACH_KELVIN).then_some(nearest)
}

/// The outcome of a trial.
///
/// A check fails when the step at the set point is not all sound; a failure only at a neighbouring step means that the
/// margin is lost. A search for edges fails when it leaves no set point. Where strips are still asked back that could
/// turn out sound, where too little was welded, or where strips disagree so much that no band is left, there is no
/// verdict.
pub(super) fn outcome(
    input: &TrialInput,
    judged: &JudgedTrial,
    check: Option<&Check>,
    set_point: &Result<SetPoint, NoSetPoint>,
) -> Outcome {
    if judged.totals().counted() == 0 && failed_otherwise(judged) == 0 {
        return Outcome::NoVerdict;
    }
    if set_point == &Err(NoSetPoint::IncompatibleSheets) {
        return Outcome::Failed;
    }
    match (check, set_point) {
        (Some(check), _) => check.outcome(input.criteria.minimum_strips),
        (None, Ok(_)) if says_enough(judged, input.criteria.minimum_strips) => Outcome::Stands,
        (None, Ok(_)) => Outcome::NoVerdict,
        (None, Err(NoSetPoint::NoBand)) if judged.strips_disagree => Outcome::NoVerdict,
        (None, Err(NoSetPoint::NothingSound)) if could_turn_out_sound(judged) => Outcome::NoVerdict,
        (None, Err(_)) => Outcome::Failed,
    }
}

/// Whether a search for edges has looked at two coupons at least, and at as many strips as one coupon needs.
fn says_enough(judged: &JudgedTrial, minimum_strips: usize) -> bool {
    let looked_at = judged.coupons.iter().filter(|coupon| coupon.counts.counted() > 0).count();
    looked_at >= 2 && judged.totals().counted() >= minimum_strips
}

fn failed_otherwise(judged: &JudgedTrial) -> usize {
    let totals = judged.totals();
    let failed = |reason: Reason| {
        judged
            .coupons
            .iter()
            .flat_map(|coupon| &coupon.specimens)
            .filter(|s| s.reasons.contains(&reason))
            .count()
    };
    totals.narrow + totals.contaminated + failed(Reason::FailedWithoutMode)
}

/// Whether completing the strips that are asked back could make a step all sound.
fn could_turn_out_sound(judged: &JudgedTrial) -> bool {
    judged.coupons.iter().any(|coupon| {
        let counts = coupon.counts;
        let fails = counts.cold + counts.hot + counts.narrow + counts.contaminated > 0;
        let failed = coupon.specimens.iter().any(|s| s.reasons.contains(&Reason::FailedWithoutMode));
        counts.unclear > 0 && !fails && !failed
    })
}
