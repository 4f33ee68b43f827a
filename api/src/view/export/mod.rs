//! Tables for spreadsheets and for other programs, a piece at a time.

mod histories;
mod rechecks;
mod table;
mod trials;

pub use histories::{history_columns, history_rows};
pub use rechecks::{recheck_columns, recheck_row};
pub use table::{Cell, Form, Table};
pub use trials::{trial_columns, trial_rows};

use lapwatch_domain::quantity::{
    ForceUnit, LengthUnit, Quantity, SpeedUnit, TemperatureUnit, Unit, WindSpeedUnit, parse,
};

use crate::wire::Measurement;

/// The units of measure of a table.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Scales {
    /// Of temperatures.
    pub temperature: TemperatureUnit,
    /// Of welding speeds.
    pub speed: SpeedUnit,
    /// Of lengths.
    pub length: LengthUnit,
    /// Of forces.
    pub force: ForceUnit,
    /// Of wind.
    pub wind: WindSpeedUnit,
}

impl Scales {
    /// °C, m/min, mm, N, m/s.
    pub const METRIC: Self = Self {
        temperature: TemperatureUnit::Celsius,
        speed: SpeedUnit::MetrePerMinute,
        length: LengthUnit::Millimetre,
        force: ForceUnit::Newton,
        wind: WindSpeedUnit::MetrePerSecond,
    };
    /// °F, ft/min, in, lbf, mi/h.
    pub const US: Self = Self {
        temperature: TemperatureUnit::Fahrenheit,
        speed: SpeedUnit::FootPerMinute,
        length: LengthUnit::Inch,
        force: ForceUnit::PoundForce,
        wind: WindSpeedUnit::MilePerHour,
    };
}

/// The name of a column of measurements: its unit stands behind it.
fn column<U: Unit>(name: &str, unit: U) -> String {
    format!("{name} ({})", unit.code())
}

/// A quantity in the unit of its column.
fn number<Q: Quantity>(quantity: Q, unit: Q::Unit) -> Cell {
    Cell::Number(Measurement::of(quantity, unit).value)
}

/// A measurement as it was sent, in the unit of its column.
fn measured<Q: Quantity>(sent: Option<&Measurement>, unit: Q::Unit) -> Cell {
    sent.and_then(|sent| parse::<Q>(sent.value, &sent.unit).ok())
        .map_or(Cell::Empty, |quantity| number(quantity, unit))
}
