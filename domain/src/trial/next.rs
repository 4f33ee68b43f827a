//! What to weld after this trial's coupons.

use super::outcome::Check;
use super::{Outcome, TrialInput};
use crate::acceptance::JudgedTrial;
use crate::band::{Display, NoSetPoint, SetPoint, ceiling};
use crate::edges::TrialEvidence;
use crate::plan::{self, NextCoupon, StopReason, WeldReason, Welded};
use crate::quantity::{Temperature, TemperatureDifference, TemperatureUnit};

/// How far the neighbouring steps of a check lie from the set point: 20 °C, or 40 °F.
pub(crate) fn check_step(unit: TemperatureUnit) -> TemperatureDifference {
    match unit {
        TemperatureUnit::Celsius => TemperatureDifference::from_kelvin(20.0),
        TemperatureUnit::Fahrenheit => TemperatureDifference::from_kelvin(40.0 * 5.0 / 9.0),
    }
}

/// What to weld next, or why to stop.
pub(super) fn next_coupon(
    input: &TrialInput,
    (judged, evidence): (&JudgedTrial, &TrialEvidence),
    (check, outcome): (Option<&Check>, Outcome),
    set_point: &Result<SetPoint, NoSetPoint>,
) -> NextCoupon {
    if set_point == &Err(NoSetPoint::IncompatibleSheets) {
        return NextCoupon::Stop { reason: StopReason::IncompatibleSheets };
    }
    let welded = welded(input, judged);
    match (check, outcome) {
        (Some(_), Outcome::Stands) => return NextCoupon::Stop { reason: StopReason::Confirmed },
        (Some(check), Outcome::NoVerdict) if welded.coupons < input.policy.maximum_coupons => {
            // A step that was welded at another speed need not be one that the unit can display.
            let settable = |step| if judged.is_of_one_speed() { step } else { display(input).nearest(step) };
            let missing = missing_step(input, check).map(settable);
            let missing = missing.filter(|setting| welded.allows(*setting, &input.policy));
            if let Some(temperature) = missing {
                return NextCoupon::Weld { temperature, reason: WeldReason::CompletesCheck };
            }
        }
        _ => {}
    }
    plan::next_coupon(&welded, evidence, input.criteria.minimum_strips, (display(input), &input.policy))
}

/// The step that a check still lacks: the set point itself first, then the one below, then the one above.
fn missing_step(input: &TrialInput, check: &Check) -> Option<Temperature> {
    let step = check_step(input.temperature_unit);
    let at = check.at.map(|step| step.temperature).or(input.set_point_before)?;
    let enough = |counts: crate::acceptance::Counts| {
        counts.all_sound() && counts.counted() >= input.criteria.minimum_strips
    };
    if !check.at.is_some_and(|step| enough(step.counts)) {
        return Some(at);
    }
    match (check.below, check.above) {
        (None, _) => Some(at - step),
        (Some(below), _) if !below.counts.all_sound() => Some(below.temperature),
        (_, None) => Some(at + step),
        (_, Some(above)) => Some(above.temperature),
    }
}

/// What the unit can display.
pub(crate) fn display(input: &TrialInput) -> Display {
    Display { step: input.display_step, unit: input.temperature_unit }
}

/// What was welded and what must not be exceeded.
pub(crate) fn welded(input: &TrialInput, judged: &JudgedTrial) -> Welded {
    // What cannot be compared does not count as welded so far.
    let compared = judged.coupons.iter().filter(|coupon| coupon.set_aside.is_none());
    // Scorching counts for safety even on a strip that is no valid test.
    let scorched = input.coupons.iter().zip(&judged.coupons).filter(|(coupon, judged)| {
        judged.counts.hot > 0 || coupon.specimens.iter().any(|specimen| !specimen.scorching.is_empty())
    });
    Welded {
        coupons: input.coupons.len(),
        hottest: compared.map(|coupon| coupon.at_held_speed).max(),
        coolest_scorched: scorched.map(|(_, judged)| judged.at_held_speed).min(),
        ceiling: ceiling(&input.ceilings, input.unit_maximum).0,
        begin: input.set_point_before.unwrap_or(input.policy.first_temperature),
        suffice: true,
    }
}
