//! The band as speeds, for a trial that held one temperature and stepped the speed.

use super::{conditions, not_comparable};
use crate::acceptance::{JudgedCoupon, JudgedTrial, same_step};
use crate::band::{Band, Limit, Limits, SetPoint, SetPointBasis, Shares, band, ceiling, recommend};
use crate::edges::TrialEvidence;
use crate::heat::{HeatShare, equivalent_speed};
use crate::plan::NextCoupon;
use crate::policy::Ceilings;
use crate::quantity::{Quantity, Speed, Temperature};
use crate::trial::{TrialInput, display, weldable};

/// The speeds at the temperature that a trial held at which the predicted share of cold strips and that of hot strips
/// are each at most the limit, never beyond the speeds tried, and the one to set.
///
/// The band and the set point of the same trial, seen the other way round: v such that the held temperature at v heats
/// the sheet as T at the held speed does ([`equivalent_speed`]). The unit's highest setting and the ceilings end a band
/// of temperatures; they do not end this one, because the temperature stays what it was.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SpeedBand {
    /// The temperature that was held.
    pub temperature: Temperature,
    /// Its slow, hot end.
    pub slow: Speed,
    /// Its fast, cool end.
    pub fast: Speed,
    /// What ends it on the slow side: [`Limit::HotShare`], or [`Limit::HottestStep`] for the slowest speed tried.
    pub slow_limited_by: Limit,
    /// What ends it on the fast side: [`Limit::ColdShare`], or [`Limit::CoolestStep`] for the fastest speed tried.
    pub fast_limited_by: Limit,
    /// The speed with the least weighted sum of shares inside the limits, before rounding.
    pub computed: Speed,
    /// The speed to set: in whole steps of 0.1 m/min or 0.5 ft/min, still between the slowest and the fastest speed at
    /// which every strip was sound; the computed one where no such step lies between.
    pub to_set: Speed,
}

/// The band as speeds; `None` unless the trial held one temperature at different speeds, and found a band and a set
/// point.
pub(in crate::trial) fn held_temperature(
    input: &TrialInput,
    (judged, evidence): (&JudgedTrial, &TrialEvidence),
    shares: &Shares,
    set_point: Option<&SetPoint>,
    share: HeatShare,
) -> Option<SpeedBand> {
    let temperature = the_temperature_held(judged)?;
    if !weldable(input) || temperature > ceiling(&input.ceilings, input.unit_maximum).0 {
        return None;
    }
    let hottest = judged.steps.last()?.temperature;
    let limits = Limits::new(judged, evidence, (&Ceilings::default(), hottest), &input.policy).ok()?;
    let band = band(judged, shares, (hottest, Limit::HottestStep), &input.policy)?;
    let wanted = match set_point {
        // A check that stands keeps what is in use.
        Some(point) if point.basis == SetPointBasis::Confirmed => point.to_set,
        _ => recommend(&limits, shares, None, (display(input), &input.policy)).computed,
    };
    let at = |wanted: Temperature| equivalent_speed(wanted, conditions(input).0, temperature, share);
    let computed = at(wanted)?;
    let Band { low, high, low_limited_by, high_limited_by, .. } = band;
    Some(SpeedBand {
        temperature,
        slow: at(high)?,
        fast: at(low)?,
        slow_limited_by: high_limited_by,
        fast_limited_by: low_limited_by,
        computed,
        to_set: rounded(input, computed, [at(limits.high)?, at(limits.low)?]),
    })
}

/// The speed at which to weld the next coupon at the temperature that a trial holds, where it steps the speed: in whole
/// steps of 0.1 m/min or 0.5 ft/min, and never slower than what heats the sheet as the next temperature would, so that
/// no limit on that is passed. `None` where no coupon is to be welded, or the speed would be too far off to compare.
pub(crate) fn next_speed(
    input: &TrialInput,
    judged: &JudgedTrial,
    next: NextCoupon,
    share: HeatShare,
) -> Option<Speed> {
    let held = the_temperature_held(judged)?;
    let wanted = equivalent_speed(next.temperature()?, conditions(input).0, held, share)?;
    let unit = input.speed_unit;
    // A speed that is a whole step itself comes out of the map with a rounding.
    let steps = (wanted.value_in(unit) * unit.notches() - 1e-6).ceil();
    let speed = Speed::new(steps / unit.notches(), unit).ok()?;
    not_comparable(input, speed).is_none().then_some(speed)
}

/// The one setting of all coupons that could be compared, if their speeds make different steps of it.
fn the_temperature_held(judged: &JudgedTrial) -> Option<Temperature> {
    let compared = || judged.coupons.iter().filter(|coupon| coupon.set_aside.is_none());
    let setting = |coupon: &JudgedCoupon| coupon.set_temperature;
    let (coolest, hottest) = (compared().map(setting).min()?, compared().map(setting).max()?);
    let places = || compared().map(|coupon| coupon.at_held_speed);
    let stepped = !same_step(places().min()?, places().max()?);
    (same_step(coolest, hottest) && stepped).then_some(coolest)
}

/// The whole step of speed nearest to the computed one, between the slowest and the fastest allowed.
fn rounded(input: &TrialInput, computed: Speed, [slowest, fastest]: [Speed; 2]) -> Speed {
    let unit = input.speed_unit;
    let notches = unit.notches();
    let number = |speed: Speed| speed.value_in(unit) * notches;
    // Speeds that are whole steps themselves come out of the map with a rounding.
    let (least, most) = (number(slowest) - 1e-6, number(fastest) + 1e-6);
    let steps = number(computed);
    let candidates = [steps.round(), steps.floor(), steps.ceil()];
    let inside = candidates.into_iter().find(|steps| (least..=most).contains(steps));
    inside.and_then(|steps| Speed::new(steps / notches, unit).ok()).unwrap_or(computed)
}
