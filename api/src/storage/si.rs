//! How quantities are kept: one unit for each kind, named by the column's last word.

use lapwatch_domain::quantity::{
    Force, ForceUnit, Length, LengthUnit, Percent, PercentUnit, Power, PowerUnit, Quantity, Speed, SpeedUnit,
    Temperature, TemperatureDifference, TemperatureDifferenceUnit, TemperatureUnit, Voltage, VoltageUnit,
    WindSpeed, WindSpeedUnit,
};
use tokio_postgres::Row;

use super::{Error, Result};

/// A quantity with the unit of its columns.
pub trait Stored: Quantity {
    /// The unit.
    const UNIT: Self::Unit;

    /// Its number in a column.
    fn si(self) -> f64 {
        self.value_in(Self::UNIT)
    }
}

macro_rules! stored {
    ($($quantity:ident in $unit:ident :: $variant:ident),* $(,)?) => {
        $(impl Stored for $quantity { const UNIT: $unit = $unit::$variant; })*
    };
}

stored! {
    Temperature in TemperatureUnit::Celsius,
    TemperatureDifference in TemperatureDifferenceUnit::Kelvin,
    Length in LengthUnit::Millimetre,
    Speed in SpeedUnit::MetrePerMinute,
    Force in ForceUnit::Newton,
    Voltage in VoltageUnit::Volt,
    Power in PowerUnit::Watt,
    Percent in PercentUnit::Percent,
    WindSpeed in WindSpeedUnit::MetrePerSecond,
}

/// The quantity in a column.
pub(super) fn quantity<Q: Stored>(row: &Row, column: &str) -> Result<Q> {
    from_si(row.get(column))
}

/// The quantity in a column that may be NULL.
pub(super) fn optional<Q: Stored>(row: &Row, column: &str) -> Result<Option<Q>> {
    row.get::<_, Option<f64>>(column).map(from_si).transpose()
}

pub(super) fn from_si<Q: Stored>(value: f64) -> Result<Q> {
    Q::new(value, Q::UNIT).map_err(|error| Error::Corrupt(error.to_string()))
}
