//! Why a number and a unit do not make a quantity.

use thiserror::Error;

/// Why a number and a unit do not make a quantity. The message says what to do about it.
#[derive(Debug, Clone, PartialEq, Error)]
#[non_exhaustive]
pub enum QuantityError {
    /// The unit code is none of those the quantity may be given in.
    #[error("\"{given}\" is not a unit of {quantity}; give the number in {} (UCUM codes)", one_of(.expected))]
    UnknownUnit {
        /// The quantity asked for.
        quantity: &'static str,
        /// The code that was given.
        given: String,
        /// The codes that are accepted.
        expected: Vec<&'static str>,
    },
    /// The number is infinite or not a number.
    #[error("the {quantity} is not a finite number; give a plain decimal number")]
    NotFinite {
        /// The quantity asked for.
        quantity: &'static str,
    },
    /// The temperature lies below absolute zero.
    #[error("{given} {unit} lies below absolute zero ({limit} {unit}); check sign and unit")]
    BelowAbsoluteZero {
        /// The number that was given.
        given: f64,
        /// Its unit.
        unit: &'static str,
        /// Absolute zero in that unit.
        limit: f64,
    },
    /// A quantity that cannot be negative is.
    #[error(
        "a {quantity} cannot be negative, but {given} {unit} was given; leave it out if it was not measured"
    )]
    Negative {
        /// The quantity asked for.
        quantity: &'static str,
        /// The number that was given.
        given: f64,
        /// Its unit.
        unit: &'static str,
    },
    /// A quantity that must be above zero is not.
    #[error(
        "a {quantity} must be above zero, but {given} {unit} was given; leave it out if it was not measured"
    )]
    NotPositive {
        /// The quantity asked for.
        quantity: &'static str,
        /// The number that was given.
        given: f64,
        /// Its unit.
        unit: &'static str,
    },
    /// The number is outside what the quantity can be.
    #[error(
        "{given} {unit} is outside the range of a {quantity}, {low} to {high} {unit}; check number and unit"
    )]
    OutOfRange {
        /// The quantity asked for.
        quantity: &'static str,
        /// The number that was given.
        given: f64,
        /// Its unit.
        unit: &'static str,
        /// The least accepted number in that unit.
        low: f64,
        /// The greatest accepted number in that unit.
        high: f64,
    },
}

impl QuantityError {
    /// A stable code for the kind of error.
    #[must_use]
    pub const fn code(&self) -> &'static str {
        match self {
            Self::UnknownUnit { .. } => "unknown_unit",
            Self::NotFinite { .. } => "not_finite",
            Self::BelowAbsoluteZero { .. } => "below_absolute_zero",
            Self::Negative { .. } => "negative",
            Self::NotPositive { .. } => "not_positive",
            Self::OutOfRange { .. } => "out_of_range",
        }
    }
}

/// "a", "a or b", "a, b or c".
fn one_of(codes: &[&str]) -> String {
    match codes {
        [] => String::new(),
        [only] => (*only).to_owned(),
        [first @ .., last] => format!("{} or {last}", first.join(", ")),
    }
}
