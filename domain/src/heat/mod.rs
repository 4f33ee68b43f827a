//! Heat: carrying a temperature from one speed and sheet temperature to another.
//!
//! Hot air heats the surface of the sheet while the nozzle passes over it. For the short time that takes, the sheet is
//! as good as infinitely thick, and its surface reaches (Carslaw and Jaeger, *Conduction of Heat in Solids*, 2.7;
//! Incropera, *Fundamentals of Heat and Mass Transfer*, ch. 5)
//!
//! > Ts = Ta + φ(β)·(T − Ta), φ(β) = 1 − erfcx(β), β = h·√t / √(k·ρ·c)
//!
//! with T the air's temperature at the nozzle, Ta the *sheet's* temperature (not the air's), h the heat transfer
//! coefficient, t the heated length over the speed, and k, ρ, c the sheet's conductivity, density and heat capacity. The
//! weld is made by the surface temperature; so two settings are equivalent if they give the same Ts.
//!
//! Only one number about a machine and its sheet is unknown: φ at the reference speed, the [`HeatShare`]. It is *one*
//! unknown per unit, shared by all its trials. Whoever adds its uncertainty to every trial as if independent averages it
//! away and finds drift in every spring. The speed's effect depends on it little; the sheet temperature's effect,
//! −(1 − φ)/φ, depends on it much (−4.6 to −1.5 K per K over the range that occurs).
//!
//! Wind is not in the model.

mod equivalent;
mod share;
mod sheet;
mod surface;
#[cfg(test)]
mod tests;
mod together;

pub(crate) use equivalent::line;
pub use equivalent::{Carried, equivalent, equivalent_speed};
pub use share::HeatShare;
pub use sheet::{Dwell, GREATEST_FOURIER_NUMBER, SheetHeat};
pub use surface::{surface_share, surface_share_inverse, surface_share_slope};
pub use together::{Known, Together, carry_together};

use crate::quantity::{Quantity, Speed, SpeedUnit, Temperature};

/// Reference sheet temperature, °C.
pub(crate) const REFERENCE_SHEET_C: f64 = 20.0;
/// Reference speed, m/min (10 ft/min is 3.048).
pub(crate) const REFERENCE_SPEED_M_PER_MIN: f64 = 3.05;
/// Why a temperature cannot be carried.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum HeatError {
    /// φ is outside 0.02 to 0.9.
    #[error("the heat share must be from 0.02 to 0.9")]
    ShareOutOfRange,
    /// The heat goes through the sheet while the nozzle is over it; the surface no longer heats as assumed.
    #[error(
        "the nozzle stays over the sheet too long for this calculation (as in hand welding): find the band anew"
    )]
    DwellTooLong,
    /// A property of the sheet is not a positive number.
    #[error("conductivity, density, heat capacity, heat transfer, length and thickness must be above zero")]
    NotPositive,
}

impl HeatError {
    /// Stable code.
    #[must_use]
    pub const fn code(self) -> &'static str {
        match self {
            Self::ShareOutOfRange => "heat_share_out_of_range",
            Self::DwellTooLong => "dwell_too_long",
            Self::NotPositive => "sheet_property_not_positive",
        }
    }
}

/// A sheet temperature and a speed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Conditions {
    /// Temperature of the sheet itself.
    pub sheet: Temperature,
    /// Speed over the sheet.
    pub speed: Speed,
}

impl Conditions {
    /// The conditions that histories are brought to: a sheet at 20 °C, 3.05 m/min.
    #[must_use]
    pub fn reference() -> Self {
        Self {
            sheet: Temperature::from_celsius(REFERENCE_SHEET_C),
            speed: speed_of(REFERENCE_SPEED_M_PER_MIN),
        }
    }
}

fn metres_per_minute(speed: Speed) -> f64 {
    speed.value_in(SpeedUnit::MetrePerMinute)
}

fn speed_of(metres_per_minute: f64) -> Speed {
    Speed::new(metres_per_minute, SpeedUnit::MetrePerMinute)
        .expect("the reference speed is a positive number")
}
