//! The one call that does it all.

use super::next::{display, next_coupon};
use super::outcome::{Check, outcome};
use super::speeds::{bring, held_temperature, next_speed, sought_up_to};
use super::{Evaluation, Outcome, TrialInput, explain};
use crate::acceptance::{JudgedTrial, judge_placed};
use crate::band::{Limits, NoSetPoint, Shares, band, ceiling, recommend};
use crate::caution::cautions;
use crate::edges::{Observation, TrialEvidence, stand_alone};
use crate::heat::HeatShare;
use crate::membrane::{Compatibility, compatible};

/// Evaluates a trial: readings, edges, band, set point, next coupon, outcome, cautions, explanation.
///
/// Never fails: too little evidence is an answer too. The order of coupons and strips does not matter. Coupons of other
/// speeds are brought to the held one with the usual heat share; every temperature of the answer is one at the held
/// speed.
#[must_use]
pub fn evaluate(input: &TrialInput) -> Evaluation {
    evaluate_with(input, HeatShare::default())
}

/// The same for a unit with this heat share.
pub(super) fn evaluate_with(input: &TrialInput, share: HeatShare) -> Evaluation {
    let brought = bring(input, share);
    let judged = judge_placed(&input.coupons, &brought.placed, input.method, &input.criteria);
    let top = sought_up_to(input, &judged);
    let evidence = stand_alone(&observations(&judged), top, &input.policy.edge_prior);
    let shares = Shares::new(&evidence);
    let ceiling = ceiling(&input.ceilings, input.unit_maximum);
    let band = weldable(input).then(|| band(&judged, &shares, ceiling, &input.policy)).flatten();
    let check = Check::of(input, &judged);
    let limits = limits(input, &judged, &evidence);
    let computed =
        |limits: &Limits| recommend(limits, &shares, band.as_ref(), (display(input), &input.policy));
    let computed = limits.as_ref().map(computed).map_err(|why| *why);
    // Outside a band some step may have been sound by luck: that is no setting to weld with.
    let found = computed.clone().and_then(|point| band.map(|_| point).ok_or(NoSetPoint::NoBand));
    let outcome = outcome(input, &judged, check.as_ref(), &found);
    let set_point = match (check.is_some(), outcome, &limits, input.set_point_before) {
        // A check that stands keeps the set point in use.
        (true, Outcome::Stands, Ok(limits), Some(in_use)) => {
            computed.map(|point| point.confirming(in_use, limits, &shares, band.as_ref()))
        }
        (true, Outcome::Stands, ..) => computed,
        (false, Outcome::NoVerdict, ..) => found.and(Err(NoSetPoint::TooLittle)),
        _ => found,
    };
    let next_coupon = next_coupon(input, (&judged, &evidence), (check.as_ref(), outcome), &set_point);
    let next_speed = next_speed(input, &judged, next_coupon, share);
    let point = set_point.as_ref().ok();
    let mut evaluation = Evaluation {
        speeds: brought.how,
        held_temperature: held_temperature(input, (&judged, &evidence), &shares, point, share),
        is_edge_finding: evidence.is_edge_finding(),
        judged,
        evidence,
        band,
        set_point,
        next_coupon,
        next_speed,
        outcome,
        outcome_sentence: String::new(),
        next_sentence: String::new(),
        cautions: Vec::new(),
        explanation: Vec::new(),
    };
    evaluation.cautions = cautions(input, &evaluation);
    evaluation.outcome_sentence = explain::outcome(input, &evaluation, check.is_some());
    evaluation.next_sentence = explain::next_coupon(input, (evaluation.next_coupon, evaluation.next_speed));
    evaluation.explanation = explain::all(input, &evaluation);
    evaluation
}

/// Whether the sheets are not known to be of kinds that don't weld.
pub(crate) fn weldable(input: &TrialInput) -> bool {
    compatible(input.upper_sheet.class, input.lower_sheet.class) != Compatibility::NotWeldable
}

/// Between what a set point must lie, or why there is none.
pub(crate) fn limits(
    input: &TrialInput,
    judged: &JudgedTrial,
    evidence: &TrialEvidence,
) -> Result<Limits, NoSetPoint> {
    if !weldable(input) {
        return Err(NoSetPoint::IncompatibleSheets);
    }
    Limits::new(judged, evidence, (&input.ceilings, input.unit_maximum), &input.policy)
}

/// What each coupon says about the edges.
pub(super) fn observations(judged: &JudgedTrial) -> Vec<Observation> {
    let observation = |coupon: &crate::acceptance::JudgedCoupon| Observation {
        temperature: coupon.at_held_speed,
        cold: coupon.counts.cold,
        sound: coupon.counts.sound,
        hot: coupon.counts.hot,
    };
    judged.coupons.iter().map(observation).collect()
}
