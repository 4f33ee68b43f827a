//! Temperatures and their differences.

use std::cmp::Ordering;
use std::ops::{Add, Mul, Neg, Sub};

use super::{Quantity, QuantityError, Unit};

const ABSOLUTE_ZERO_CELSIUS: f64 = -273.15;
/// A difference of one degree Fahrenheit, in kelvin.
const KELVIN_PER_RANKINE: f64 = 5.0 / 9.0;

/// Scales on which a temperature may be given.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum TemperatureUnit {
    /// °C, UCUM `Cel`.
    Celsius,
    /// °F, UCUM `[degF]`.
    Fahrenheit,
}

impl Unit for TemperatureUnit {
    const ALL: &'static [Self] = &[Self::Celsius, Self::Fahrenheit];

    fn code(self) -> &'static str {
        match self {
            Self::Celsius => "Cel",
            Self::Fahrenheit => "[degF]",
        }
    }
}

impl TemperatureUnit {
    /// The unit of a difference read on this scale: kelvin with °C, degrees Rankine with °F.
    #[must_use]
    pub const fn difference_unit(self) -> TemperatureDifferenceUnit {
        match self {
            Self::Celsius => TemperatureDifferenceUnit::Kelvin,
            Self::Fahrenheit => TemperatureDifferenceUnit::Rankine,
        }
    }

    /// How people write it: `°C` or `°F`.
    #[must_use]
    pub const fn symbol(self) -> &'static str {
        match self {
            Self::Celsius => "°C",
            Self::Fahrenheit => "°F",
        }
    }
}

/// A temperature, at or above absolute zero. Ordered from cold to hot.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Temperature {
    celsius: f64,
}

impl Temperature {
    /// A temperature the crate has computed itself; held at absolute zero should rounding take it below.
    pub(crate) const fn from_celsius(celsius: f64) -> Self {
        Self { celsius: celsius.max(ABSOLUTE_ZERO_CELSIUS) }
    }

    /// Its number in °C, for arithmetic inside the crate.
    pub(crate) const fn celsius(self) -> f64 {
        self.celsius
    }

    /// The colder of two.
    #[must_use]
    pub fn min(self, other: Self) -> Self {
        if other < self { other } else { self }
    }

    /// The hotter of two.
    #[must_use]
    pub fn max(self, other: Self) -> Self {
        if other > self { other } else { self }
    }
}

impl Quantity for Temperature {
    type Unit = TemperatureUnit;
    const NAME: &'static str = "temperature";

    /// Conversion: °C = (°F − 32)·5/9, exact by definition of the scales.
    fn new(value: f64, unit: TemperatureUnit) -> Result<Self, QuantityError> {
        if !value.is_finite() {
            return Err(QuantityError::NotFinite { quantity: Self::NAME });
        }
        let (celsius, limit) = match unit {
            TemperatureUnit::Celsius => (value, ABSOLUTE_ZERO_CELSIUS),
            TemperatureUnit::Fahrenheit => ((value - 32.0) * 5.0 / 9.0, -459.67),
        };
        if value < limit {
            return Err(QuantityError::BelowAbsoluteZero { given: value, unit: unit.code(), limit });
        }
        Ok(Self::from_celsius(celsius))
    }

    fn value_in(self, unit: TemperatureUnit) -> f64 {
        match unit {
            TemperatureUnit::Celsius => self.celsius,
            TemperatureUnit::Fahrenheit => self.celsius * 9.0 / 5.0 + 32.0,
        }
    }
}

impl Eq for Temperature {}

impl PartialOrd for Temperature {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for Temperature {
    fn cmp(&self, other: &Self) -> Ordering {
        // Never NaN, because `new` refuses it; adding zero makes −0 and 0 one value.
        (self.celsius + 0.0).total_cmp(&(other.celsius + 0.0))
    }
}

/// Units in which a difference of temperatures may be given.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum TemperatureDifferenceUnit {
    /// Kelvin, UCUM `K`: the difference of one degree on the Celsius scale.
    Kelvin,
    /// Degrees Rankine, UCUM `[degR]`: the difference of one degree on the Fahrenheit scale.
    Rankine,
}

impl Unit for TemperatureDifferenceUnit {
    const ALL: &'static [Self] = &[Self::Kelvin, Self::Rankine];

    fn code(self) -> &'static str {
        match self {
            Self::Kelvin => "K",
            Self::Rankine => "[degR]",
        }
    }
}

/// A difference of two temperatures; of either sign.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct TemperatureDifference {
    kelvin: f64,
}

impl TemperatureDifference {
    /// No difference.
    pub const ZERO: Self = Self { kelvin: 0.0 };

    /// A difference the crate has computed itself.
    pub(crate) const fn from_kelvin(kelvin: f64) -> Self {
        Self { kelvin }
    }

    /// Its number in kelvin, for arithmetic inside the crate.
    pub(crate) const fn kelvin(self) -> f64 {
        self.kelvin
    }

    /// The difference without its sign.
    #[must_use]
    pub const fn abs(self) -> Self {
        Self { kelvin: self.kelvin.abs() }
    }
}

impl Quantity for TemperatureDifference {
    type Unit = TemperatureDifferenceUnit;
    const NAME: &'static str = "temperature difference";

    fn new(value: f64, unit: TemperatureDifferenceUnit) -> Result<Self, QuantityError> {
        if !value.is_finite() {
            return Err(QuantityError::NotFinite { quantity: Self::NAME });
        }
        let kelvin = match unit {
            TemperatureDifferenceUnit::Kelvin => value,
            TemperatureDifferenceUnit::Rankine => value * KELVIN_PER_RANKINE,
        };
        Ok(Self { kelvin })
    }

    fn value_in(self, unit: TemperatureDifferenceUnit) -> f64 {
        match unit {
            TemperatureDifferenceUnit::Kelvin => self.kelvin,
            TemperatureDifferenceUnit::Rankine => self.kelvin / KELVIN_PER_RANKINE,
        }
    }
}

impl Sub for Temperature {
    type Output = TemperatureDifference;

    fn sub(self, other: Self) -> TemperatureDifference {
        TemperatureDifference { kelvin: self.celsius - other.celsius }
    }
}

impl Add<TemperatureDifference> for Temperature {
    type Output = Self;

    fn add(self, difference: TemperatureDifference) -> Self {
        Self::from_celsius(self.celsius + difference.kelvin)
    }
}

impl Sub<TemperatureDifference> for Temperature {
    type Output = Self;

    fn sub(self, difference: TemperatureDifference) -> Self {
        Self::from_celsius(self.celsius - difference.kelvin)
    }
}

impl Add for TemperatureDifference {
    type Output = Self;

    fn add(self, other: Self) -> Self {
        Self { kelvin: self.kelvin + other.kelvin }
    }
}

impl Neg for TemperatureDifference {
    type Output = Self;

    fn neg(self) -> Self {
        Self { kelvin: -self.kelvin }
    }
}

impl Mul<f64> for TemperatureDifference {
    type Output = Self;

    fn mul(self, ratio: f64) -> Self {
        Self { kelvin: self.kelvin * ratio }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::parse;

    #[test]
    fn fixed_points_of_the_scales() {
        // Ice point, steam point (by the definition of the Fahrenheit scale) and the crossing of the scales.
        for (celsius, fahrenheit) in [(0.0, 32.0), (100.0, 212.0), (-40.0, -40.0)] {
            let entered: Temperature = parse(fahrenheit, "[degF]").unwrap();
            assert!((entered.value_in(TemperatureUnit::Celsius) - celsius).abs() < 1e-12);
            assert!((entered.value_in(TemperatureUnit::Fahrenheit) - fahrenheit).abs() < 1e-12);
        }
    }

    #[test]
    fn absolute_zero_is_accepted_and_nothing_below() {
        for (zero, below, unit) in [(-273.15, -273.16, "Cel"), (-459.67, -459.68, "[degF]")] {
            assert!(parse::<Temperature>(zero, unit).is_ok());
            let refused = parse::<Temperature>(below, unit).unwrap_err();
            assert_eq!(refused.code(), "below_absolute_zero");
            assert!(refused.to_string().contains(&zero.to_string()), "{refused}");
        }
    }

    #[test]
    fn a_difference_is_not_a_temperature() {
        let difference: TemperatureDifference = parse(18.0, "[degR]").unwrap();
        assert!((difference.value_in(TemperatureDifferenceUnit::Kelvin) - 10.0).abs() < 1e-12);
        assert_eq!(parse::<TemperatureDifference>(18.0, "[degF]").unwrap_err().code(), "unknown_unit");
        let warm: Temperature = parse(50.0, "Cel").unwrap();
        let warmer = warm + difference;
        assert!((warmer.value_in(TemperatureUnit::Fahrenheit) - 140.0).abs() < 1e-12);
        assert!(((warmer - warm).kelvin() - 10.0).abs() < 1e-12);
    }

    #[test]
    fn order_is_total() {
        let zero: Temperature = parse(0.0, "Cel").unwrap();
        let minus_zero: Temperature = parse(-0.0, "Cel").unwrap();
        assert_eq!(zero.cmp(&minus_zero), Ordering::Equal);
        assert_eq!(zero, minus_zero);
        assert!(parse::<Temperature>(f64::NAN, "Cel").is_err());
    }
}
