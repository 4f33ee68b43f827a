//! Quantities with units.
//!
//! A quantity can only be made from a number *and* a unit, and only be read in a unit, so that a bare number never
//! crosses a function boundary. Units are those of the Unified Code for Units of Measure (UCUM); the factors between
//! them are exact by definition (1 in = 25.4 mm, 1 ft = 0.3048 m, 1 lb = 0.45359237 kg, 1 lbf = 4.4482216152605 N).
//!
//! A temperature and a difference of temperatures are different types: 10 °C is 50 °F, but a difference of 10 K is a
//! difference of 18 °F.
//!
//! ```
//! use lapwatch_domain::quantity::{Length, LengthUnit, Quantity, parse};
//! let width: Length = parse(1.0, "[in_i]").unwrap();
//! assert_eq!(width.value_in(LengthUnit::Millimetre), 25.4);
//! let refused = parse::<Length>(1.0, "inch").unwrap_err();
//! assert_eq!(refused.code(), "unknown_unit");
//! ```

mod error;
mod linear;
mod temperature;

use std::fmt::Debug;

pub use error::QuantityError;
pub use linear::{
    Current, CurrentUnit, Force, ForcePerWidth, ForcePerWidthUnit, ForceUnit, Length, LengthUnit, Mass,
    MassUnit, Minutes, MinutesUnit, Percent, PercentUnit, Power, PowerUnit, Resistance, ResistancePerLength,
    ResistancePerLengthUnit, ResistanceUnit, Speed, SpeedUnit, Voltage, VoltageUnit, WindSpeed,
    WindSpeedUnit,
};
pub use temperature::{Temperature, TemperatureDifference, TemperatureDifferenceUnit, TemperatureUnit};

/// A unit of one kind of quantity.
pub trait Unit: Copy + Debug + PartialEq + 'static {
    /// Every unit in which the quantity may be given, the stored one first.
    const ALL: &'static [Self];

    /// The UCUM code, e.g. `[degF]` or `m/min`.
    fn code(self) -> &'static str;
}

/// A physical quantity: a finite number in a unit, within the range that the kind of quantity allows.
pub trait Quantity: Copy {
    /// The units it may be given in.
    type Unit: Unit;

    /// What it is called in messages, e.g. `"temperature"`.
    const NAME: &'static str;

    /// A quantity of `value` in `unit`.
    ///
    /// # Errors
    /// [`QuantityError`] when the number is not finite or outside what the kind of quantity allows.
    fn new(value: f64, unit: Self::Unit) -> Result<Self, QuantityError>;

    /// Its number in `unit`.
    fn value_in(self, unit: Self::Unit) -> f64;
}

/// A quantity from a number and a UCUM unit code.
///
/// # Errors
/// [`QuantityError::UnknownUnit`], naming the codes that would be accepted, when `code` is none of them; otherwise as
/// [`Quantity::new`].
pub fn parse<Q: Quantity>(value: f64, code: &str) -> Result<Q, QuantityError> {
    let unit = unit_from_code::<Q::Unit>(code).ok_or_else(|| QuantityError::UnknownUnit {
        quantity: Q::NAME,
        given: code.to_owned(),
        expected: Q::Unit::ALL.iter().map(|unit| unit.code()).collect(),
    })?;
    Q::new(value, unit)
}

/// The unit with this UCUM code, if the kind of quantity has one.
#[must_use]
pub fn unit_from_code<U: Unit>(code: &str) -> Option<U> {
    U::ALL.iter().copied().find(|unit| unit.code() == code)
}
