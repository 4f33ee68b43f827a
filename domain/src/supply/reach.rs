//! How hot the unit can still get.

use super::{AtMachine, SupplyError};
use crate::quantity::{Temperature, TemperatureDifference};

/// Reserve between the set point and what the heater can reach below which is warned: 20 K (36 °F). It covers about 2
/// % of voltage, what mains move within a day, at a set point of 500 °C. (The choice is ours; no source.)
pub const LEAST_RESERVE: TemperatureDifference = TemperatureDifference::from_kelvin(20.0);

/// The temperature of the air that the unit takes in when it was not measured: 20 °C (68 °F). It matters little: at
/// 10 % sag an error of 10 K shifts the reachable temperature by 2 K.
pub const USUAL_INLET_TEMPERATURE: Temperature = Temperature::from_celsius(20.0);

/// What a unit reaches at its rated voltage.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reach {
    inlet: Temperature,
    at_rated: Temperature,
}

impl Reach {
    /// A unit that takes in air at `inlet` and reaches `at_rated` on its rated voltage with the airflow in use. Where
    /// that was never measured, the unit's highest setting stands for it, since it is built to reach that; it may
    /// reach more.
    ///
    /// # Errors
    /// [`SupplyError::Reach`] unless `at_rated` lies above `inlet`.
    pub fn new(inlet: Temperature, at_rated: Temperature) -> Result<Self, SupplyError> {
        if at_rated > inlet { Ok(Self { inlet, at_rated }) } else { Err(SupplyError::Reach) }
    }

    /// What it reaches with that voltage: Tmax = Tin + (Tmax,n − Tin)·(V/Vn)².
    ///
    /// An estimate, see the [module](super). It is not held at the highest setting, which limits the unit on a
    /// voltage above the rated one.
    ///
    /// ```
    /// use lapwatch_domain::quantity::{Quantity, TemperatureUnit, parse};
    /// use lapwatch_domain::supply::{Rating, Reach, Supply, at_machine};
    /// let rating = Rating::new(parse(230.0, "V")?, parse(4.6, "kW")?)?;
    /// let sagging = Supply { loaded: Some(parse(207.0, "V")?), ..Supply::default() };
    /// let at = at_machine(rating, &sagging)?.expect("measured");
    /// let reachable = Reach::new(parse(20.0, "Cel")?, parse(620.0, "Cel")?)?.reachable(&at);
    /// assert!((reachable.value_in(TemperatureUnit::Celsius) - 506.0).abs() < 1e-9); // 20 + 600·0.9²
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    #[must_use]
    pub fn reachable(self, at: &AtMachine) -> Temperature {
        self.inlet + (self.at_rated - self.inlet) * at.power_share
    }

    /// How far a set point lies below what the unit reaches with that voltage, or on more than its rated voltage below
    /// what it reaches on that one, since its setting ends there; and whether that is less than `least`
    /// ([`LEAST_RESERVE`] unless the organization has decided otherwise).
    #[must_use]
    pub fn headroom(self, at: &AtMachine, set_point: Temperature, least: TemperatureDifference) -> Headroom {
        let reachable = self.reachable(at).min(self.at_rated);
        let reserve = reachable - set_point;
        Headroom { reachable, reserve, is_short: reserve < least }
    }
}

/// What is left between a set point and what the heater can reach.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Headroom {
    /// What the unit can reach: an estimate.
    pub reachable: Temperature,
    /// How far the set point lies below it; below zero when it lies above.
    pub reserve: TemperatureDifference,
    /// Whether the reserve is smaller than wanted.
    pub is_short: bool,
}
