//! How far the sheet lies above the dew point.

use super::{DewPoint, Instruments, WeatherError, dew_point};
use crate::coded::coded_enum;
use crate::numerics::normal;
use crate::quantity::{Percent, Temperature, TemperatureDifference};

/// How far a sheet should at least lie above the dew point: 3 K (5.4 °F), a rule of coating work used by analogy
/// (common practice; see the [module](super)).
pub const LEAST_ABOVE_DEW_POINT: TemperatureDifference = TemperatureDifference::from_kelvin(3.0);

coded_enum! {
    /// What the sheet's distance to the dew point says, by the values as measured.
    pub enum Dryness {
        /// At least as far above the dew point as the rule asks for.
        Dry = "dry",
        /// Above the dew point, but closer than that.
        Near = "near",
        /// At the dew point or below: water settles on the sheet.
        Wet = "wet",
    }
}

/// A sheet and the dew point of the air over it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Condensation {
    /// The dew point.
    pub dew_point: DewPoint,
    /// How far the sheet lies above it; below zero when it lies below.
    pub margin: TemperatureDifference,
    /// Standard deviation of that margin, by the uncertainty of all three measurements.
    pub sd: TemperatureDifference,
    /// What the values as measured say.
    pub verdict: Dryness,
    /// Chance that the sheet is at the dew point or below, Φ(−margin/sd).
    pub chance_wet: f64,
    /// Chance that it is closer to the dew point than the rule asks for, or below; never less than `chance_wet`.
    pub chance_too_close: f64,
}

/// How a sheet at that temperature stands to the dew point of air of that temperature and relative humidity. `least`
/// is the distance the rule asks for, [`LEAST_ABOVE_DEW_POINT`] unless the organization has decided otherwise; at 0
/// only a wet sheet is too close.
///
/// # Errors
/// [`WeatherError::Negative`] when an uncertainty or `least` is below zero; otherwise as [`dew_point`].
pub fn condensation(
    sheet: Temperature,
    (air, humidity): (Temperature, Percent),
    instruments: &Instruments,
    least: TemperatureDifference,
) -> Result<Condensation, WeatherError> {
    if least < TemperatureDifference::ZERO || instruments.sheet < TemperatureDifference::ZERO {
        return Err(WeatherError::Negative);
    }
    let dew_point = dew_point(air, humidity)?;
    let margin = sheet - dew_point.temperature;
    let sd = dew_point.sd(instruments)?.kelvin().hypot(instruments.sheet.kelvin());
    let verdict = if margin <= TemperatureDifference::ZERO {
        Dryness::Wet
    } else if margin < least {
        Dryness::Near
    } else {
        Dryness::Dry
    };
    Ok(Condensation {
        dew_point,
        margin,
        sd: TemperatureDifference::from_kelvin(sd),
        verdict,
        chance_wet: chance_below(0.0, margin.kelvin(), sd),
        chance_too_close: chance_below(least.kelvin(), margin.kelvin(), sd),
    })
}

/// Chance that a margin known with that standard deviation is really at most `limit`.
fn chance_below(limit: f64, margin: f64, sd: f64) -> f64 {
    if sd > 0.0 {
        normal::cdf((limit - margin) / sd)
    } else if margin <= limit {
        1.0
    } else {
        0.0
    }
}
