//! The dew point, and how well it is known.

use super::WeatherError;
use crate::quantity::{Percent, PercentUnit, Quantity, Temperature, TemperatureDifference};

/// The coldest air, and the lowest dew point, that the formula is made for: −40 °C.
pub const COLDEST_AIR: Temperature = Temperature::from_celsius(-40.0);
/// The hottest air that the formula is made for: 50 °C.
pub const HOTTEST_AIR: Temperature = Temperature::from_celsius(50.0);

/// Coefficients of Alduchov and Eskridge (1996) over water: a ratio, and degrees Celsius.
const MAGNUS_RATIO: f64 = 17.625;
const MAGNUS_C: f64 = 243.04;

/// How well the instruments of a roof measure, as standard deviations; zero or above.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Instruments {
    /// Of the humidity, in percentage points. Default 3 %.
    pub humidity: Percent,
    /// Of the air's temperature. Default 0.5 K.
    pub air: TemperatureDifference,
    /// Of the sheet's temperature. Default 1.5 K, as of an infrared thermometer on a sheet of about known emissivity.
    pub sheet: TemperatureDifference,
}

impl Default for Instruments {
    /// What is printed as accuracy on simple instruments, taken as one standard deviation (common practice, no source).
    fn default() -> Self {
        Self {
            humidity: Percent::constant(3.0),
            air: TemperatureDifference::from_kelvin(0.5),
            sheet: TemperatureDifference::from_kelvin(1.5),
        }
    }
}

/// A dew point, and how it moves with what it was computed from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DewPoint {
    /// The dew point.
    pub temperature: Temperature,
    /// What one percentage point more of humidity adds to it.
    pub per_percent: TemperatureDifference,
    /// What warmer air at the same relative humidity adds to it, kelvins per kelvin.
    pub per_air: f64,
}

impl DewPoint {
    /// Its standard deviation, to first order: the root of the summed squares of what humidity and air temperature
    /// leave open. Around 20 °C and 50 %, ±3 % of humidity are ±0.9 K.
    ///
    /// # Errors
    /// [`WeatherError::Negative`] when the air's uncertainty is below zero.
    pub fn sd(&self, instruments: &Instruments) -> Result<TemperatureDifference, WeatherError> {
        if instruments.air < TemperatureDifference::ZERO {
            return Err(WeatherError::Negative);
        }
        let by_humidity = self.per_percent.kelvin() * instruments.humidity.value_in(PercentUnit::Percent);
        let by_air = self.per_air * instruments.air.kelvin();
        Ok(TemperatureDifference::from_kelvin(by_humidity.hypot(by_air)))
    }
}

/// The dew point of air of that temperature, −40 to 50 °C, and relative humidity, above 0 to 100 %: see the
/// [module](super) for formula and source.
///
/// # Errors
/// [`WeatherError::NoHumidity`] at 0 %; [`WeatherError::AirOutOfRange`]; [`WeatherError::TooDry`] when the dew point
/// lies below −40 °C.
///
/// ```
/// use lapwatch_domain::quantity::{Quantity, TemperatureUnit, parse};
/// use lapwatch_domain::weather::{WeatherError, dew_point};
/// let found = dew_point(parse(20.0, "Cel")?, parse(50.0, "%")?)?;
/// assert!((found.temperature.value_in(TemperatureUnit::Celsius) - 9.261).abs() < 5e-4);
/// assert_eq!(dew_point(parse(20.0, "Cel")?, parse(0.0, "%")?), Err(WeatherError::NoHumidity));
/// assert_eq!(dew_point(parse(68.0, "Cel")?, parse(50.0, "%")?), Err(WeatherError::AirOutOfRange)); // °F meant?
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn dew_point(air: Temperature, humidity: Percent) -> Result<DewPoint, WeatherError> {
    if air < COLDEST_AIR || air > HOTTEST_AIR {
        return Err(WeatherError::AirOutOfRange);
    }
    if humidity.ratio() <= 0.0 {
        return Err(WeatherError::NoHumidity);
    }
    let celsius = air.celsius();
    let gamma = libm::log(humidity.ratio()) + MAGNUS_RATIO * celsius / (MAGNUS_C + celsius);
    // Rounding must not put the dew point above the air at 100 %, nor below the range in air of −40 °C.
    let temperature = Temperature::from_celsius(MAGNUS_C * gamma / (MAGNUS_RATIO - gamma)).min(air);
    if temperature < COLDEST_AIR && humidity.ratio() < 1.0 {
        return Err(WeatherError::TooDry);
    }
    // ∂td/∂γ = ab/(a − γ)², ∂γ/∂RH = 1/RH, ∂γ/∂t = ab/(b + t)².
    let per_gamma = MAGNUS_RATIO * MAGNUS_C / (MAGNUS_RATIO - gamma).powi(2);
    Ok(DewPoint {
        temperature,
        per_percent: TemperatureDifference::from_kelvin(per_gamma / humidity.value_in(PercentUnit::Percent)),
        per_air: per_gamma * MAGNUS_RATIO * MAGNUS_C / (MAGNUS_C + celsius).powi(2),
    })
}
