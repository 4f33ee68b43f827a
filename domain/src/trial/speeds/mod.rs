//! Coupons of other speeds, brought to the held one.
//!
//! Two settings are equivalent when they heat the sheet's surface alike ([`crate::heat`]). So a coupon that was welded
//! faster or slower than the held speed stands for another temperature at the held speed, and a crew that holds the
//! temperature and steps the speed has welded steps of temperature without touching the dial.
//!
//! The map needs the unit's heat share. A trial alone does not know it, so the usual one is taken. That is one unknown
//! for all coupons: a unit with another share has all of them moved in step, away from the held speed or towards it,
//! and averaging over coupons does not help. It is therefore no scatter of the coupons' own and is not added to them;
//! it is said beside the answer ([`BroughtSpeeds::largest_sd`]). It is small: 8 °C where the speed was halved at
//! 480 °C, nothing at the held speed. In a seeded simulation (`tests/simulation`: sweeps of seven speeds from 1.5 to
//! 5 m/min at 480 °C, 3.05 m/min held; run on 2026-11-25) 95 % intervals held 97 % of the edges of units as they occur,
//! as with the usual share; with the lowest share that occurs 97 %, with the highest 90 %. Speeds at the temperature
//! that was held ([`SpeedBand`]) hardly depend on it, because the map is used there and back.
//!
//! Histories take the evidence like that of any trial, as known at the held speed.

mod held;
mod sentences;
#[cfg(test)]
mod tests;

pub use held::SpeedBand;
pub(super) use held::held_temperature;
pub(crate) use held::next_speed;
pub(super) use sentences::{held_sentence, sentences};

use super::TrialInput;
use crate::acceptance::{Coupon, JudgedTrial, Placed, Reason};
use crate::heat::{Conditions, HeatError, HeatShare, equivalent};
use crate::quantity::{Quantity, Speed, SpeedUnit, Temperature, TemperatureDifference};

/// How many times as fast or as slow as the held speed a coupon may be welded to be compared. There the unknown heat
/// share makes the map uncertain by about 16 °C, as much as a whole search for an edge leaves.
pub const FURTHEST_SPEED_RATIO: f64 = 3.0;
/// Speeds whose ratio is closer to one than this are the same: the rounding of a conversion from ft/min.
const SAME_SPEED: f64 = 1e-6;

/// How the coupons of a trial that stepped the speed were brought to the held speed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BroughtSpeeds {
    /// How many coupons were brought from another speed.
    pub coupons: usize,
    /// How many could not be brought, because their speed is too far or the nozzle stays over the sheet too long.
    pub set_aside: usize,
    /// The temperature of the sheet that was reckoned with.
    pub sheet: Temperature,
    /// Whether that was measured; otherwise it is the usual 20 °C.
    pub sheet_measured: bool,
    /// Whether it is known that the nozzle does not stay over the sheet too long; otherwise heated length or thickness
    /// is missing.
    pub dwell_checked: bool,
    /// Standard deviation, from the heat share that is not known, of the setting that was moved furthest by it. All
    /// others are moved in step and by less; a coupon of the held speed is not moved at all.
    pub largest_sd: TemperatureDifference,
}

/// Where the coupons of a trial stand at its held speed.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Brought {
    /// One for each coupon, in their order.
    pub(super) placed: Vec<Placed>,
    /// How it was done; `None` when every coupon has the held speed.
    pub(super) how: Option<BroughtSpeeds>,
}

/// The conditions at which a trial's coupons are compared, and whether the sheet was measured.
fn conditions(input: &TrialInput) -> (Conditions, bool) {
    let sheet = input.surroundings.sheet;
    let held = Conditions { sheet: sheet.unwrap_or(Conditions::reference().sheet), speed: input.speed };
    (held, sheet.is_some())
}

/// Brings every coupon to the held speed. Those that have it stay exactly where they are.
pub(super) fn bring(input: &TrialInput, share: HeatShare) -> Brought {
    let (held, sheet_measured) = conditions(input);
    let checks = input.dwell.map(|dwell| dwell.check(held.speed));
    let mut how = BroughtSpeeds {
        coupons: 0,
        set_aside: 0,
        sheet: held.sheet,
        sheet_measured,
        dwell_checked: checks.is_some_and(|check| check != Err(HeatError::NotPositive)),
        largest_sd: TemperatureDifference::ZERO,
    };
    let mut place = |coupon: &Coupon| {
        let Some(speed) = coupon.speed.filter(|speed| !same_speed(*speed, held.speed)) else {
            return Placed::as_set(coupon);
        };
        // Beyond the furthest ratio the map is followed no further.
        let from = Conditions { speed: within_reach(speed, held.speed), ..held };
        let carried = equivalent(coupon.set_temperature, from, held, share);
        let set_aside = not_comparable(input, speed);
        if set_aside.is_some() {
            how.set_aside += 1;
        } else {
            let sd = carried.per_hundredth_of_share.abs() * (100.0 * HeatShare::USUAL_SD);
            how.coupons += 1;
            how.largest_sd = if sd > how.largest_sd { sd } else { how.largest_sd };
        }
        Placed { at_held_speed: carried.set_point, set_aside }
    };
    let placed = input.coupons.iter().map(&mut place).collect();
    Brought { placed, how: (how.coupons + how.set_aside > 0).then_some(how) }
}

/// Up to which temperature edges are sought: what the unit reaches at the held speed, or what its coupons of lower
/// speeds amount to there, if that is more.
pub(super) fn sought_up_to(input: &TrialInput, judged: &JudgedTrial) -> Temperature {
    let slower = judged
        .coupons
        .iter()
        .filter(|coupon| coupon.set_aside.is_none() && coupon.at_held_speed > coupon.set_temperature);
    slower.map(|coupon| coupon.at_held_speed).fold(input.unit_maximum, Temperature::max)
}

/// Why a coupon of this speed cannot be compared with the held one.
fn not_comparable(input: &TrialInput, speed: Speed) -> Option<Reason> {
    let ratio = ratio(speed, input.speed);
    let furthest = FURTHEST_SPEED_RATIO * (1.0 + SAME_SPEED);
    if !(furthest.recip()..=furthest).contains(&ratio) {
        return Some(Reason::SpeedTooFar);
    }
    let dwell = input.dwell?;
    let too_long = |speed| dwell.check(speed) == Err(HeatError::DwellTooLong);
    (too_long(speed) || too_long(input.speed)).then_some(Reason::DwellTooLong)
}

fn within_reach(speed: Speed, held: Speed) -> Speed {
    let nearest = ratio(speed, held).clamp(FURTHEST_SPEED_RATIO.recip(), FURTHEST_SPEED_RATIO);
    if nearest == ratio(speed, held) {
        return speed;
    }
    Speed::new(nearest * held.value_in(SpeedUnit::MetrePerMinute), SpeedUnit::MetrePerMinute).unwrap_or(held)
}

fn same_speed(speed: Speed, held: Speed) -> bool {
    (ratio(speed, held) - 1.0).abs() < SAME_SPEED
}

fn ratio(speed: Speed, held: Speed) -> f64 {
    speed.value_in(SpeedUnit::MetrePerMinute) / held.value_in(SpeedUnit::MetrePerMinute)
}
