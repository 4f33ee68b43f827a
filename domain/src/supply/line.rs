//! The voltage that arrives at the machine.

use super::{Cord, SupplyError};
use crate::coded::coded_enum;
use crate::quantity::{
    Current, Power, PowerUnit, Quantity, Resistance, ResistanceUnit, Voltage, VoltageUnit,
};

/// What stands on a unit's plate.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rating {
    voltage: Voltage,
    power: Power,
}

impl Rating {
    /// A unit of that rated voltage, 1 to 1000 V, and power, 1 W to 100 kW. The power is taken as the heater's; the
    /// blower's and the drive's share is small (common practice, no source).
    ///
    /// # Errors
    /// [`SupplyError::RatedVoltage`], [`SupplyError::RatedPower`] outside those ranges, zero included.
    ///
    /// ```
    /// use lapwatch_domain::quantity::parse;
    /// use lapwatch_domain::supply::{Rating, SupplyError};
    /// assert_eq!(Rating::new(parse(0.0, "V")?, parse(4.6, "kW")?), Err(SupplyError::RatedVoltage));
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn new(voltage: Voltage, power: Power) -> Result<Self, SupplyError> {
        volts(voltage).ok_or(SupplyError::RatedVoltage)?;
        if !(1.0..=100_000.0).contains(&power.value_in(PowerUnit::Watt)) {
            return Err(SupplyError::RatedPower);
        }
        Ok(Self { voltage, power })
    }

    /// The rated voltage Vn.
    #[must_use]
    pub const fn voltage(self) -> Voltage {
        self.voltage
    }

    /// The rated power Pn.
    #[must_use]
    pub const fn power(self) -> Power {
        self.power
    }

    /// The machine's resistance Rh = Vn²/Pn, taken as constant: heater wire changes by a few per cent between cold
    /// and hot (from memory).
    #[must_use]
    pub fn resistance(self) -> Resistance {
        Resistance::ohms(self.rated_volts().powi(2) / self.power.value_in(PowerUnit::Watt))
    }

    fn rated_volts(self) -> f64 {
        self.voltage.value_in(VoltageUnit::Volt)
    }
}

/// What is known of the supply of one machine. All of it is optional.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Supply {
    /// Nominal voltage of the source; without it, and without a measurement, the rated voltage is assumed there.
    pub source: Option<Voltage>,
    /// Voltage measured without load. No current flows then, so that it is the source's own; it is taken before
    /// `source`.
    pub idle: Option<Voltage>,
    /// Voltage measured under load at the machine; it is taken before any computed one.
    pub loaded: Option<Voltage>,
    /// The cord.
    pub cord: Option<Cord>,
}

coded_enum! {
    /// Where the voltage at the machine is from, the best first.
    pub enum VoltageBasis {
        /// Measured under load at the machine.
        Measured = "measured_under_load",
        /// Computed from the cord and the voltage measured without load.
        FromIdle = "computed_from_idle",
        /// Computed from the cord and the nominal voltage of the source.
        FromSource = "computed_from_source",
        /// Computed from the cord, the source being assumed to give the rated voltage.
        FromRated = "computed_from_rated",
    }
}

/// What arrives at the machine under load.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AtMachine {
    /// The voltage.
    pub voltage: Voltage,
    /// Where it is from.
    pub basis: VoltageBasis,
    /// Share of the source's voltage that is lost on the way, 0 to 1; `None` when the voltage was measured under load
    /// and nothing is known of the source. Below zero when the source rose between the two measurements.
    pub drop_share: Option<f64>,
    /// Power over rated power, (V/Vn)²; above 1 on a voltage above the rated one.
    pub power_share: f64,
    /// The current that the machine draws, V/Rh.
    pub current: Current,
}

/// A voltage above this many times the rated one is the wrong one for the unit: mains stay within 10 % of their nominal
/// voltage (common practice of supply networks, no source).
pub const MOST_OVER_RATED: f64 = 1.10;

/// A share of the voltage that is lost beyond what the cord explains, from which on plugs, joints and the feed are to be
/// looked at: 3 %. (The choice is ours; no source. Voltmeters of the trade read to about 1 %.)
pub const LARGE_UNEXPLAINED_DROP: f64 = 0.03;

impl AtMachine {
    /// Whether the voltage lies more than a tenth above the rated one: [`MOST_OVER_RATED`].
    ///
    /// ```
    /// use lapwatch_domain::quantity::parse;
    /// use lapwatch_domain::supply::{Rating, Supply, at_machine};
    /// let rating = Rating::new(parse(230.0, "V")?, parse(4.6, "kW")?)?;
    /// let at = |volts: f64| {
    ///     let supply = Supply { loaded: parse(volts, "V").ok(), ..Supply::default() };
    ///     at_machine(rating, &supply).unwrap().expect("measured")
    /// };
    /// assert!(at(400.0).is_overvoltage() && !at(240.0).is_overvoltage());
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    #[must_use]
    pub fn is_overvoltage(&self) -> bool {
        self.power_share > MOST_OVER_RATED * MOST_OVER_RATED
    }
}

impl Supply {
    /// The share of the source's voltage that is lost beyond what the cord explains: bad plugs and joints, a long feed, a
    /// weak generator. `None` unless the voltage was measured both without load and under load and the cord is known.
    ///
    /// ```
    /// use lapwatch_domain::quantity::parse;
    /// use lapwatch_domain::supply::{Cord, CordSize, Rating, Supply};
    /// let rating = Rating::new(parse(230.0, "V")?, parse(4.6, "kW")?)?;
    /// let cord = Cord::new(CordSize::SquareMm2_5, parse(50.0, "m")?)?;
    /// let supply = |loaded: f64| Supply {
    ///     cord: Some(cord), idle: parse(235.0, "V").ok(), loaded: parse(loaded, "V").ok(), source: None,
    /// };
    /// // The cord takes 7.8 %: 217 V are to be expected, 200 V are not.
    /// assert!(supply(217.0).unexplained_drop(rating).unwrap().abs() < 0.01);
    /// assert!(supply(200.0).unexplained_drop(rating).unwrap() > 0.06);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    #[must_use]
    pub fn unexplained_drop(&self, rating: Rating) -> Option<f64> {
        self.idle.and(self.loaded)?;
        let measured = at_machine(rating, self).ok()??.drop_share?;
        let by_cord = at_machine(rating, &Self { loaded: None, ..*self }).ok()??.drop_share?;
        Some(measured - by_cord).filter(|_| self.cord.is_some())
    }
}

/// The voltage under load at the machine: as measured, else V = Vs·Rh/(Rh + 2·L·r). `None` when it was not measured
/// and no cord is known.
///
/// # Errors
/// [`SupplyError::Voltage`] when one of the given voltages is outside 1 to 1000 V.
pub fn at_machine(rating: Rating, supply: &Supply) -> Result<Option<AtMachine>, SupplyError> {
    let checked =
        |given: Option<Voltage>| given.map(|voltage| volts(voltage).ok_or(SupplyError::Voltage)).transpose();
    let (source, idle, loaded) = (checked(supply.source)?, checked(supply.idle)?, checked(supply.loaded)?);
    let machine_ohms = rating.resistance().value_in(ResistanceUnit::Ohm);
    let (at_source, computed_basis) = match (idle, source) {
        (Some(idle), _) => (Some(idle), VoltageBasis::FromIdle),
        (None, Some(source)) => (Some(source), VoltageBasis::FromSource),
        (None, None) => (None, VoltageBasis::FromRated),
    };
    let (arrives, basis, drop_share) = if let Some(loaded) = loaded {
        (loaded, VoltageBasis::Measured, at_source.map(|source| (source - loaded) / source))
    } else if let Some(cord) = supply.cord {
        let line_ohms = cord.resistance()?.value_in(ResistanceUnit::Ohm);
        let whole_ohms = machine_ohms + line_ohms;
        let arrives = at_source.unwrap_or_else(|| rating.rated_volts()) * (machine_ohms / whole_ohms);
        (arrives, computed_basis, Some(line_ohms / whole_ohms))
    } else {
        return Ok(None);
    };
    Ok(Some(AtMachine {
        voltage: Voltage::volts(arrives),
        basis,
        drop_share,
        power_share: (arrives / rating.rated_volts()).powi(2),
        current: Current::amperes(arrives / machine_ohms),
    }))
}

/// The volts, if they are those of some supply.
fn volts(voltage: Voltage) -> Option<f64> {
    Some(voltage.value_in(VoltageUnit::Volt)).filter(|volts| (1.0..=1000.0).contains(volts))
}
