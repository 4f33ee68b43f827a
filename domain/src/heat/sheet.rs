//! What sheet and nozzle say of the heat share, and where the calculation ends.

use super::surface::surface_share;
use super::{HeatError, HeatShare, REFERENCE_SPEED_M_PER_MIN, metres_per_minute, speed_of};
use crate::quantity::{Length, LengthUnit, Quantity, Speed};

/// Largest αt/L² for which the infinitely thick sheet is a fair picture (the surface is then 0.11 % off; 4 % at 0.5).
pub const GREATEST_FOURIER_NUMBER: f64 = 0.2;

/// The heat properties of a sheet and a nozzle, in SI units as tables print them; all above zero.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SheetHeat {
    /// Thermal conductivity k, W/(m·K); about .17 for plasticized PVC.
    pub conductivity_w_per_m_k: f64,
    /// Density ρ, kg/m³; about 1300.
    pub density_kg_per_m3: f64,
    /// Specific heat c, J/(kg·K); about 1300.
    pub heat_capacity_j_per_kg_k: f64,
    /// Heat transfer coefficient from the air to the surface h, W/(m²·K); about 250.
    pub transfer_w_per_m2_k: f64,
}

impl SheetHeat {
    /// β = h·√t/√(kρc) for a heated length passed at a speed.
    #[must_use]
    pub fn beta(self, heated: Length, speed: Speed) -> f64 {
        let effusivity_squared =
            self.conductivity_w_per_m_k * self.density_kg_per_m3 * self.heat_capacity_j_per_kg_k;
        self.transfer_w_per_m2_k * (dwell_s(heated, speed) / effusivity_squared).sqrt()
    }

    /// αt/L²: how far heat has got through a sheet of this thickness while the nozzle was over it.
    #[must_use]
    pub fn fourier_number(self, heated: Length, speed: Speed, thickness: Length) -> f64 {
        let diffusivity =
            self.conductivity_w_per_m_k / (self.density_kg_per_m3 * self.heat_capacity_j_per_kg_k);
        let metres = thickness.value_in(LengthUnit::Metre);
        diffusivity * dwell_s(heated, speed) / (metres * metres)
    }

    /// The heat share φ at the reference speed that these properties give.
    ///
    /// # Errors
    /// [`HeatError::NotPositive`] when a property, the length or the thickness is not above zero;
    /// [`HeatError::DwellTooLong`] when αt/L² at `slowest` exceeds [`GREATEST_FOURIER_NUMBER`];
    /// [`HeatError::ShareOutOfRange`] as [`HeatShare::new`].
    pub fn share(self, heated: Length, slowest: Speed, thickness: Length) -> Result<HeatShare, HeatError> {
        let numbers = [
            self.conductivity_w_per_m_k,
            self.density_kg_per_m3,
            self.heat_capacity_j_per_kg_k,
            self.transfer_w_per_m2_k,
            heated.value_in(LengthUnit::Metre),
            thickness.value_in(LengthUnit::Metre),
        ];
        if !numbers.iter().all(|&number| number > 0.0 && number.is_finite()) {
            return Err(HeatError::NotPositive);
        }
        if self.fourier_number(heated, slowest, thickness) > GREATEST_FOURIER_NUMBER {
            return Err(HeatError::DwellTooLong);
        }
        HeatShare::new(surface_share(self.beta(heated, speed_of(REFERENCE_SPEED_M_PER_MIN))))
    }
}

/// How fast heat spreads in these sheets, m²/s: k/ρc of plasticized PVC with the values that [`SheetHeat`] names; polyolefins differ by a fifth or
/// so, which the limit's distance from real trouble covers.
const DIFFUSIVITY_M2_PER_S: f64 = 0.17 / (1300.0 * 1300.0);

/// What decides whether the heat of one pass stays near the surface: the nozzle's heated length and the sheet's thickness.
///
/// ```
/// use lapwatch_domain::heat::{Dwell, HeatError};
/// use lapwatch_domain::quantity::parse;
/// let dwell = Dwell { heated: parse(25.0, "mm")?, thickness: parse(1.2, "mm")? };
/// assert_eq!(dwell.check(parse(3.0, "m/min")?), Ok(()));
/// assert_eq!(dwell.check(parse(0.3, "m/min")?), Err(HeatError::DwellTooLong)); // as by hand
/// # Ok::<(), lapwatch_domain::quantity::QuantityError>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Dwell {
    /// Length of the nozzle's hot part along the seam.
    pub heated: Length,
    /// Thickness of the thinner sheet.
    pub thickness: Length,
}

impl Dwell {
    /// Whether the surface heats as this module assumes at that speed: αt/L² is at most [`GREATEST_FOURIER_NUMBER`].
    ///
    /// # Errors
    /// [`HeatError::DwellTooLong`] when it is more; [`HeatError::NotPositive`] when the thickness is zero.
    pub fn check(self, speed: Speed) -> Result<(), HeatError> {
        let metres = self.thickness.value_in(LengthUnit::Metre);
        if metres <= 0.0 {
            return Err(HeatError::NotPositive);
        }
        let reached = DIFFUSIVITY_M2_PER_S * dwell_s(self.heated, speed) / (metres * metres);
        if reached > GREATEST_FOURIER_NUMBER { Err(HeatError::DwellTooLong) } else { Ok(()) }
    }
}

fn dwell_s(heated: Length, speed: Speed) -> f64 {
    heated.value_in(LengthUnit::Metre) / metres_per_minute(speed) * 60.0
}
