//! Weather: is the sheet dry enough, as far as air and humidity tell.
//!
//! A sheet colder than the dew point of the air gets wet, and a wet seam does not weld. Sheets are often colder than
//! the air: they radiate to a clear sky at night and stay behind on a warm morning. So what counts is how far the
//! *sheet's* own temperature lies above the dew point, and how well both are known.
//!
//! The dew point is that of Alduchov and Eskridge (*Improved Magnus form approximation of saturation vapor pressure*,
//! J. Appl. Meteor. 35, 1996, 601–609):
//!
//! > γ = ln(RH/100) + 17.625·t/(243.04 + t), td = 243.04·γ/(17.625 − γ), t and td in °C
//!
//! over water, for −40 to 50 °C, the vapour pressure within 0.4 % (range and error from memory), which is less than
//! 0.1 K of dew point. Below freezing, hoar frost forms on a sheet that is still somewhat warmer than this dew point:
//! about 1 K at −10 °C (from memory).
//!
//! That a surface should be at least 3 °C above the dew point is a rule of coating work, quoted by many public
//! sources, and used here by analogy (common practice; none of them speaks of welding). Rain, dew from before and
//! water that creeps along the laps are not in the calculation.
//!
//! ```
//! use lapwatch_domain::quantity::{TemperatureDifference, parse};
//! use lapwatch_domain::weather::{Dryness, Instruments, LEAST_ABOVE_DEW_POINT, condensation};
//! let (sheet, air, humidity) = (parse(16.0, "Cel")?, parse(20.0, "Cel")?, parse(70.0, "%")?);
//! let found = condensation(sheet, (air, humidity), &Instruments::default(), LEAST_ABOVE_DEW_POINT)?;
//! assert_eq!(found.verdict, Dryness::Near); // the dew point is 14.4 °C
//! assert!(found.chance_wet > 0.1 && found.chance_wet < 0.3);
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

mod dew_point;
mod margin;
#[cfg(test)]
mod tests;

pub use dew_point::{COLDEST_AIR, DewPoint, HOTTEST_AIR, Instruments, dew_point};
pub use margin::{Condensation, Dryness, LEAST_ABOVE_DEW_POINT, condensation};

/// Why no dew point can be given. The message says what to do about it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum WeatherError {
    /// The humidity is zero: there is no such air, and no dew point of it.
    #[error("a relative humidity of 0 % has no dew point; check the hygrometer, or leave the humidity out")]
    NoHumidity,
    /// The air is colder or hotter than the formula is made for.
    #[error("the dew point is calculated for air from -40 to 50 °C (-40 to 122 °F); check number and unit")]
    AirOutOfRange,
    /// The dew point lies below the coldest temperature that the formula is made for.
    #[error(
        "the dew point lies below -40 °C, where the formula ends: such air wets no sheet, or the hygrometer is wrong"
    )]
    TooDry,
    /// An uncertainty or the margin that is asked for is below zero.
    #[error("uncertainties and the distance asked for above the dew point cannot be negative")]
    Negative,
}

impl WeatherError {
    /// Stable code.
    #[must_use]
    pub const fn code(self) -> &'static str {
        match self {
            Self::NoHumidity => "no_humidity",
            Self::AirOutOfRange => "air_out_of_range",
            Self::TooDry => "dew_point_out_of_range",
            Self::Negative => "negative_uncertainty",
        }
    }
}
