//! What each strip showed.

use lapwatch_domain::acceptance::{JudgedCoupon, JudgedSpecimen};
use lapwatch_domain::quantity::TemperatureUnit;
use serde::Serialize;
use utoipa::ToSchema;

use super::Reason;
use crate::view::on;
use crate::wire::Measurement;

/// One coupon and what its strips showed.
#[derive(Debug, Serialize, ToSchema)]
#[schema(as = JudgedCoupon)]
pub struct Coupon {
    /// The setting.
    pub set_temperature: Measurement,
    /// The setting that heats the sheet alike at the trial's speed: the coupon's own, unless it was welded at another.
    pub at_held_speed: Measurement,
    /// Why it could not be brought to the trial's speed, so that its strips do not count: `speed_too_far` or
    /// `dwell_too_long`; null otherwise.
    pub set_aside: Option<&'static str>,
    /// Its strips, in the order they were sent.
    pub specimens: Vec<Specimen>,
    /// How many gave which reading.
    pub counts: Counts,
}

/// What one strip showed.
#[derive(Debug, Serialize, ToSchema)]
#[schema(as = JudgedSpecimen)]
pub struct Specimen {
    /// `cold`, `sound`, `hot`, `narrow`, `contaminated`, `unclear` or `not_counted`.
    #[schema(example = "sound")]
    pub reading: &'static str,
    /// Why, the deciding reason first.
    pub reasons: Vec<Reason>,
}

/// How many strips gave which reading.
#[derive(Debug, Serialize, ToSchema)]
pub struct Counts {
    /// The interface opened.
    pub cold: usize,
    /// The film tore over the required width.
    pub sound: usize,
    /// Scorched.
    pub hot: usize,
    /// Everything that says nothing of temperature.
    pub other: usize,
}

impl Coupon {
    pub(in crate::view) fn of(coupon: &JudgedCoupon, unit: TemperatureUnit) -> Self {
        let counts = coupon.counts;
        Self {
            set_temperature: on(unit, coupon.set_temperature),
            at_held_speed: on(unit, coupon.at_held_speed),
            set_aside: coupon.set_aside.map(|reason| reason.code()),
            specimens: coupon.specimens.iter().map(Specimen::from).collect(),
            counts: Counts { cold: counts.cold, sound: counts.sound, hot: counts.hot, other: counts.other() },
        }
    }
}

impl From<&JudgedSpecimen> for Specimen {
    fn from(specimen: &JudgedSpecimen) -> Self {
        Self {
            reading: specimen.reading.code(),
            reasons: specimen
                .reasons
                .iter()
                .map(|reason| Reason { code: reason.code(), sentence: reason.sentence() })
                .collect(),
        }
    }
}
