//! Questions to the calculators, in domain values.

use lapwatch_domain::heat::{Conditions, Dwell, HeatShare, Known};
use lapwatch_domain::peel::{Region, Strip, Zero};
use lapwatch_domain::quantity::{
    ForceUnit, LengthUnit, Percent, Temperature, TemperatureDifference, TemperatureUnit, VoltageUnit,
};
use lapwatch_domain::series::{Measured, SeriesSettings};
use lapwatch_domain::supply::{CordSize, Rating, Reach};
use lapwatch_domain::{supply, weather};

/// How far a sheet lies above the dew point.
#[derive(Debug, Clone, Copy)]
pub struct DewPoint {
    /// The scale of the answer.
    pub unit: TemperatureUnit,
    /// Temperature of the air.
    pub air: Temperature,
    /// Its relative humidity.
    pub humidity: Percent,
    /// Temperature of the sheet, if it is asked about.
    pub sheet: Option<Temperature>,
    /// How far it should lie above the dew point.
    pub least: TemperatureDifference,
    /// How well all of it is measured.
    pub instruments: weather::Instruments,
}

/// Temperatures to carry to other conditions.
#[derive(Debug, Clone)]
pub struct Carry {
    /// The temperatures, each with the scale of its answer.
    pub temperatures: Vec<(Known, TemperatureUnit)>,
    /// Under what they were found.
    pub from: Conditions,
    /// For what they are wanted.
    pub to: Conditions,
    /// What the calculation's validity depends on.
    pub dwell: Dwell,
    /// The unit's heat share with its standard deviation, if it is known.
    pub share: Option<(HeatShare, f64)>,
}

/// What arrives at a machine, and what would.
#[derive(Debug, Clone, Copy)]
pub struct Supply {
    /// The unit of the answer's voltages.
    pub unit: VoltageUnit,
    /// The unit's plate.
    pub rating: Rating,
    /// What is known of its supply.
    pub supply: supply::Supply,
    /// The heater, if its reach is asked about.
    pub heater: Option<Heater>,
    /// The thinnest size allowed and the limit on the drop, if a cord is asked about.
    pub which_cord: Option<(CordSize, Option<Percent>)>,
}

/// A heater and what it has to hold.
#[derive(Debug, Clone, Copy)]
pub struct Heater {
    /// The scale of the answer.
    pub unit: TemperatureUnit,
    /// What it reaches.
    pub reach: Reach,
    /// What it has to hold.
    pub set_point: Temperature,
    /// With what reserve.
    pub reserve: TemperatureDifference,
}

/// A series of measured edges.
#[derive(Debug, Clone)]
pub struct Series {
    /// The scale of the answer.
    pub unit: TemperatureUnit,
    /// The readings, in the order they were sent.
    pub readings: Vec<Measured>,
    /// How to look at them.
    pub settings: SeriesSettings,
}

/// A peel trace.
#[derive(Debug, Clone)]
pub struct PeelTrace {
    /// Displacement and force.
    pub readings: Vec<(f64, f64)>,
    /// Unit of the displacements.
    pub displacement: LengthUnit,
    /// Unit of the forces.
    pub force: ForceUnit,
    /// Where the zero of the force is.
    pub zero: Zero,
    /// Which stretch is asked about.
    pub region: Region,
    /// The strip.
    pub strip: Strip,
}
