//! What to set and what to weld next.

use lapwatch_domain::plan;
use lapwatch_domain::quantity::{Speed, SpeedUnit, TemperatureUnit};
use lapwatch_domain::{band, trial};
use serde::Serialize;
use utoipa::ToSchema;

use crate::view::{apart, on, ratio};
use crate::wire::Measurement;

/// The temperatures at which the predicted shares of cold and of hot strips are each within the limit.
#[derive(Debug, Serialize, ToSchema)]
pub struct Band {
    /// Its cool end.
    pub low: Measurement,
    /// Its hot end.
    pub high: Measurement,
    /// The largest share of cold, and of hot, strips inside it.
    #[schema(example = 0.1)]
    pub share_limit: f64,
    /// What ends it below.
    #[schema(example = "cold_share")]
    pub low_limited_by: &'static str,
    /// What ends it above.
    #[schema(example = "hot_share")]
    pub high_limited_by: &'static str,
}

/// The recommended temperature at the held speed.
#[derive(Debug, Serialize, ToSchema)]
pub struct SetPoint {
    /// As computed.
    pub computed: Measurement,
    /// What to set: a step of the unit's display, inside every limit.
    pub to_set: Measurement,
    /// `computed` from this trial, or the one in use, `confirmed` by it.
    pub basis: &'static str,
    /// From the cool end of the band up to it; negative outside, null without a band.
    pub margin_below: Option<Measurement>,
    /// From it up to the hot end of the band.
    pub margin_above: Option<Measurement>,
    /// Predicted share of cold strips at it, 0 to 1.
    pub cold_share: f64,
    /// Predicted share of hot strips at it, 0 to 1.
    pub hot_share: f64,
    /// What holds it where it is; empty when nothing does.
    pub limited_by: Vec<&'static str>,
}

/// What to weld next, or why to stop.
#[derive(Debug, Serialize, ToSchema)]
pub struct NextCoupon {
    /// `weld` or `stop`.
    #[schema(example = "weld")]
    pub action: &'static str,
    /// The setting to weld at, at the trial's speed.
    pub temperature: Option<Measurement>,
    /// For a trial that holds the temperature and steps the speed: the speed to weld at there instead.
    pub speed: Option<Measurement>,
    /// Code of the reason.
    pub reason: &'static str,
    /// The same in a sentence.
    pub sentence: String,
}

/// How coupons of other speeds were brought to the trial's speed.
#[derive(Debug, Serialize, ToSchema)]
pub struct BroughtSpeeds {
    /// Coupons that were.
    pub coupons: usize,
    /// Coupons that could not be.
    pub set_aside: usize,
    /// The temperature of the sheet that was reckoned with.
    pub sheet_temperature: Measurement,
    /// Whether that was measured; otherwise it is the usual one.
    pub sheet_measured: bool,
    /// Standard deviation of the setting that was moved furthest, from what is not known of the unit's heat.
    pub largest_standard_deviation: Measurement,
}

/// The band as speeds at the temperature that was held.
#[derive(Debug, Serialize, ToSchema)]
pub struct SpeedBand {
    /// The temperature.
    pub temperature: Measurement,
    /// Its slow, hot end.
    pub slow: Measurement,
    /// Its fast, cool end.
    pub fast: Measurement,
    /// What ends it on the slow side: `hot_share`, or `hottest_step` for the slowest speed tried.
    pub slow_limited_by: &'static str,
    /// What ends it on the fast side: `cold_share`, or `coolest_step` for the fastest speed tried.
    pub fast_limited_by: &'static str,
    /// The speed to set at this temperature.
    pub to_set: Measurement,
}

impl NextCoupon {
    pub(in crate::view) fn of(
        (next, speed): (plan::NextCoupon, Option<Speed>),
        sentence: &str,
        (unit, speed_unit): (TemperatureUnit, SpeedUnit),
    ) -> Self {
        Self {
            action: next.action_code(),
            temperature: next.temperature().map(|temperature| on(unit, temperature)),
            speed: speed.map(|speed| Measurement::of(speed, speed_unit)),
            reason: next.reason_code(),
            sentence: sentence.to_owned(),
        }
    }
}

impl Band {
    pub(in crate::view) fn of(band: &band::Band, unit: TemperatureUnit) -> Self {
        Self {
            low: on(unit, band.low),
            high: on(unit, band.high),
            share_limit: ratio(band.share_limit.ratio()),
            low_limited_by: band.low_limited_by.code(),
            high_limited_by: band.high_limited_by.code(),
        }
    }
}

impl SetPoint {
    pub(in crate::view) fn of(set_point: &band::SetPoint, unit: TemperatureUnit) -> Self {
        Self {
            computed: on(unit, set_point.computed),
            to_set: on(unit, set_point.to_set),
            basis: set_point.basis.code(),
            margin_below: set_point.margin_below.map(|margin| apart(unit, margin)),
            margin_above: set_point.margin_above.map(|margin| apart(unit, margin)),
            cold_share: ratio(set_point.cold_share),
            hot_share: ratio(set_point.hot_share),
            limited_by: set_point.limited_by.iter().map(|limit| limit.code()).collect(),
        }
    }
}

impl BroughtSpeeds {
    pub(in crate::view) fn of(speeds: &trial::BroughtSpeeds, unit: TemperatureUnit) -> Self {
        Self {
            coupons: speeds.coupons,
            set_aside: speeds.set_aside,
            sheet_temperature: on(unit, speeds.sheet),
            sheet_measured: speeds.sheet_measured,
            largest_standard_deviation: apart(unit, speeds.largest_sd),
        }
    }
}

impl SpeedBand {
    pub(in crate::view) fn of(band: &trial::SpeedBand, unit: TemperatureUnit, speed_unit: SpeedUnit) -> Self {
        Self {
            temperature: on(unit, band.temperature),
            slow: Measurement::of(band.slow, speed_unit),
            fast: Measurement::of(band.fast, speed_unit),
            slow_limited_by: band.slow_limited_by.code(),
            fast_limited_by: band.fast_limited_by.code(),
            to_set: Measurement::of(band.to_set, speed_unit),
        }
    }
}
