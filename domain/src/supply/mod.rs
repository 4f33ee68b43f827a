//! Supply: what a cord and a weak source take from a welder, and how hot it can still get.
//!
//! The heater is a resistance Rh = Vn²/Pn, with the voltage and power on the unit's plate. The cord is another in
//! series with it, out and back:
//!
//! > V = Vs·Rh/(Rh + 2·L·r), P/Pn = (V/Vn)²
//!
//! with Vs the voltage of the source, L the cord's length and r its conductor's resistance per length (Ohm's law).
//! What the unit can still reach follows from the heat it adds to the air, at unchanged airflow:
//!
//! > Tmax = Tin + (Tmax,n − Tin)·(V/Vn)²
//!
//! That is an **estimate**: too low if the blower slows with the same sag, for then less air shares the heat. A
//! welder that regulates its temperature shows nothing of a sag as long as the set point lies below Tmax; only near
//! the top does the air stay colder than the display says. The source's own resistance (a long feed, a small
//! generator) is not in the calculation. For all of these reasons a voltage **measured under load at the machine** is
//! worth more than any computed one and is taken wherever there is one.
//!
//! Only the voltage is looked at here. Whether a cord may carry the current is for local codes and the cord's maker.
//!
//! ```
//! use lapwatch_domain::quantity::{Quantity, VoltageUnit, parse};
//! use lapwatch_domain::supply::{Cord, CordSize, Rating, Supply, VoltageBasis, at_machine};
//! let rating = Rating::new(parse(240.0, "V")?, parse(4.6, "kW")?)?;
//! let cord = Cord::new(CordSize::Awg14, parse(100.0, "[ft_i]")?)?;
//! let computed = at_machine(rating, &Supply { cord: Some(cord), ..Supply::default() })?.expect("a cord is known");
//! assert_eq!(computed.basis, VoltageBasis::FromRated);
//! assert!((computed.voltage.value_in(VoltageUnit::Volt) - 228.5).abs() < 0.05);
//! // A measurement counts more than the cord.
//! let measured = Supply { cord: Some(cord), loaded: Some(parse(221.0, "V")?), ..Supply::default() };
//! let measured = at_machine(rating, &measured)?.expect("measured");
//! assert_eq!(measured.voltage.value_in(VoltageUnit::Volt), 221.0);
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

mod advice;
mod cord;
mod line;
mod marking;
mod reach;
#[cfg(test)]
mod tests;

pub use advice::{CordAdvice, CordGoal, CordQuestion, USUAL_DROP_LIMIT, thinnest};
pub use cord::{
    COPPER_COEFFICIENT_PER_K, Cord, CordSize, LONGEST_CORD, SizeSystem, USUAL_CONDUCTOR_TEMPERATURE,
};
pub use line::{
    AtMachine, LARGE_UNEXPLAINED_DROP, MOST_OVER_RATED, Rating, Supply, VoltageBasis, at_machine,
};
pub use reach::{Headroom, LEAST_RESERVE, Reach, USUAL_INLET_TEMPERATURE};

/// Why nothing can be said about a supply. The message says what to do about it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum SupplyError {
    /// The rated voltage is zero or beyond what a welder is built for.
    #[error("the rated voltage must be from 1 to 1000 V; read it from the unit's plate")]
    RatedVoltage,
    /// The rated power is zero or beyond what a welder is built for.
    #[error("the rated power must be from 1 W to 100 kW; read it from the unit's plate, and mind the unit")]
    RatedPower,
    /// A voltage of the source, without load or under load, is zero or beyond any site's.
    #[error(
        "a supply voltage must be from 1 to 1000 V; check the number, or leave it out if it was not measured"
    )]
    Voltage,
    /// The cord is longer than any.
    #[error("a cord is at most 10 km long; check number and unit")]
    CordLength,
    /// The conductor is colder or hotter than any cord withstands.
    #[error("the temperature of the cord's conductor must be from -60 to 250 °C (-76 to 482 °F)")]
    ConductorTemperature,
    /// What the unit reaches at its rated voltage does not lie above the air it takes in.
    #[error(
        "what the unit reaches at its rated voltage must lie above the temperature of the air that it takes in"
    )]
    Reach,
    /// The limit on the drop leaves nothing to decide.
    #[error("the limit on the voltage drop must be above 0 and below 100 %")]
    DropLimit,
    /// The reserve is below zero.
    #[error("the reserve between set point and reachable temperature cannot be negative")]
    NegativeReserve,
}

impl SupplyError {
    /// Stable code.
    #[must_use]
    pub const fn code(self) -> &'static str {
        match self {
            Self::RatedVoltage => "rated_voltage_out_of_range",
            Self::RatedPower => "rated_power_out_of_range",
            Self::Voltage => "supply_voltage_out_of_range",
            Self::CordLength => "cord_too_long",
            Self::ConductorTemperature => "conductor_temperature_out_of_range",
            Self::Reach => "reach_below_inlet",
            Self::DropLimit => "drop_limit_out_of_range",
            Self::NegativeReserve => "negative_reserve",
        }
    }
}
