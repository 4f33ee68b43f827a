//! The one call that combines an evaluated trial with its unit's history.

use super::agreement::Agreement;
use super::{
    Advice, Before, COOLEST_CELSIUS, Carried, CarriedBand, Forecast, LEAST_AGREEMENT, NotCarried, Today,
    sentences,
};
use crate::band::{Limit, NoSetPoint, Shares, between, ceiling, recommend};
use crate::edges::{BothEdges, CarriedEvidence};
use crate::heat::HeatShare;
use crate::plan::{self, NextCoupon, StopReason, WeldReason};
use crate::quantity::Temperature;
use crate::trial::{self, Evaluation, TrialInput};

/// With a history to lean on a trial may stop after so many coupons, as many as a check has, if a step was all sound.
const LEAST_COUPONS: usize = 3;

/// What a trial and its unit's history say together. `evaluation` is what [`trial::evaluate`] said of `input`; `before` is what
/// the history knew from the trials performed before it. Neither is changed.
///
/// # Errors
/// Why nothing is carried. A trial that contradicts its history is no error: the answer says so, without advice.
pub fn carry(
    input: &TrialInput,
    evaluation: &Evaluation,
    before: Before<'_>,
    today: &Today,
) -> Result<Carried, NotCarried> {
    if !trial::weldable(input) {
        return Err(NotCarried::IncompatibleSheets);
    }
    let forecast = Forecast::new(before?, today)?;
    let agreement = Agreement::of(&forecast, &evaluation.evidence);
    let agrees = agreement.probability >= LEAST_AGREEMENT;
    let [lower, upper] = &agreement.priors;
    let edges = if agrees { CarriedEvidence::new(&evaluation.evidence, [lower, upper]) } else { None };
    let advice = edges.map(|edges| advise(input, evaluation, edges));
    let mut carried = Carried {
        trials: forecast.trials,
        latest: forecast.latest,
        expected: forecast.edges(),
        agreement: agreement.probability,
        advice,
        explanation: Vec::new(),
    };
    carried.explanation = sentences::carried(input, &carried, today);
    Ok(carried)
}

fn advise(input: &TrialInput, evaluation: &Evaluation, edges: CarriedEvidence) -> Advice {
    let shares = Shares::carried(&edges);
    let band = band(input, evaluation, &shares);
    let limits = trial::limits(input, &evaluation.judged, &evaluation.evidence);
    let with = (trial::display(input), &input.policy);
    // A good past gives no set point where today's strips leave none.
    let set_point = evaluation.set_point.as_ref().map_err(|why| *why).and(limits).and_then(|limits| {
        let band = &band.as_ref().ok_or(NoSetPoint::NoBand)?.band;
        Ok(recommend(&limits, &shares, Some(band), with))
    });
    let next_coupon = next_coupon(input, evaluation, &edges, &shares);
    let next_speed = trial::next_speed(input, &evaluation.judged, next_coupon, HeatShare::default());
    let next_sentence = trial::next_sentence(input, (next_coupon, next_speed));
    Advice { edges, band, set_point, next_coupon, next_speed, next_sentence }
}

/// The band under every ceiling, wherever the steps of today were.
fn band(input: &TrialInput, evaluation: &Evaluation, shares: &Shares) -> Option<CarriedBand> {
    let top = ceiling(&input.ceilings, input.unit_maximum);
    let bottom = (Temperature::from_celsius(COOLEST_CELSIUS), Limit::CoolestStep);
    let band = between(bottom, top, shares, &input.policy)?;
    let mut tried = evaluation.judged.steps.iter().map(|step| step.temperature);
    let coolest = tried.next();
    let hottest = tried.next_back().or(coolest);
    Some(CarriedBand {
        band,
        below_tried: coolest.is_none_or(|coolest| band.low < coolest),
        above_tried: hottest.is_none_or(|hottest| band.high > hottest),
    })
}

/// What to weld next. A check is completed as ever, and what ends a trial alone ends it here; only a search for edges is
/// led by what the history knows.
fn next_coupon(
    input: &TrialInput,
    evaluation: &Evaluation,
    edges: &impl BothEdges,
    shares: &Shares,
) -> NextCoupon {
    match evaluation.next_coupon {
        NextCoupon::Weld { reason: WeldReason::FirstCoupon | WeldReason::MostInformative, .. }
        | NextCoupon::Stop { reason: StopReason::LittleToGain | StopReason::EdgesKnown } => {}
        other => return other,
    }
    let mut welded = trial::welded(input, &evaluation.judged);
    let all_sound = evaluation.judged.all_sound_range().is_some();
    welded.suffice = welded.coupons >= LEAST_COUPONS && all_sound;
    if let (0, None) = (welded.coupons, input.set_point_before) {
        let everywhere = super::start::everywhere(welded.ceiling);
        welded.begin = recommend(&everywhere, shares, None, (trial::display(input), &input.policy)).to_set;
    }
    plan::next_coupon(&welded, edges, input.criteria.minimum_strips, (trial::display(input), &input.policy))
}
