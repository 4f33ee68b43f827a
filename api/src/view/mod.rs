//! JSON going out: what the service computed, in the units that the reader works in.

pub mod answer;
pub mod calculations;
pub mod carried;
pub mod custody;
pub mod device;
pub mod envelope;
pub mod evaluation;
pub mod export;
pub mod feed;
pub mod fits;
pub mod fleet;
pub mod history;
pub mod imports;
pub mod kept;
pub mod open_trials;
pub mod photos;
pub mod readings;
pub mod scheduling;
pub mod shared;
pub mod starting;

use lapwatch_domain::quantity::{Temperature, TemperatureDifference, TemperatureUnit};

use crate::wire::Measurement;

/// A temperature on a scale.
fn on(unit: TemperatureUnit, temperature: Temperature) -> Measurement {
    Measurement::of(temperature, unit)
}

/// A temperature difference as read on a scale.
fn apart(unit: TemperatureUnit, difference: TemperatureDifference) -> Measurement {
    Measurement::of(difference, unit.difference_unit())
}

/// A ratio rounded to a millionth, as measurements are.
fn ratio(value: f64) -> f64 {
    (value * 1e6).round() / 1e6
}

/// A number of degrees or volts in a sentence: whole.
fn whole(value: f64) -> String {
    format!("{:.0}", value.round() + 0.0)
}
