//! Measurements with UCUM units.

use std::ops::RangeInclusive;

use chrono::{DateTime, Datelike, NaiveDate, Utc};
use lapwatch_domain::quantity::{
    Percent, Quantity, QuantityError, Temperature, TemperatureDifference, TemperatureDifferenceUnit,
    TemperatureUnit, Unit, parse, unit_from_code,
};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::model::Findings;

/// A number with its unit, a UCUM code (The Unified Code for Units of Measure, case sensitive): `Cel`, `[degF]`, `K`,
/// `[degR]`, `m/min`, `[ft_i]/min`, `mm`, `[in_i]`, `V`, `%`, …
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Measurement {
    /// The number, as shown or measured.
    #[schema(example = 455)]
    pub value: f64,
    /// UCUM code of its unit.
    #[schema(example = "Cel")]
    pub unit: String,
}

impl Measurement {
    /// `quantity` in `unit`, rounded to a millionth of it: below anything that can be measured, and free of the last
    /// bits of a conversion.
    pub fn of<Q: Quantity>(quantity: Q, unit: Q::Unit) -> Self {
        let value = (quantity.value_in(unit) * 1e6).round() / 1e6;
        Self { value, unit: unit.code().to_owned() }
    }
}

/// What a hot-air welder can be set to, with room to spare.
pub const SETTABLE_CELSIUS: RangeInclusive<f64> = 0.0..=1000.0;

/// Above any number that is measured here in any unit, and far below what doubles and answers can hold.
const LARGEST: f64 = 1e9;

/// Reads the members of a record into domain values, collecting what is wrong under their pointers.
#[derive(Debug, Default)]
pub struct Reader {
    /// What was wrong so far.
    pub findings: Findings,
}

impl Reader {
    /// The quantity of a required measurement; `None` when it was found wrong.
    pub fn quantity<Q: Quantity>(&mut self, pointer: &str, given: &Measurement) -> Option<Q> {
        if given.value.abs() > LARGEST {
            let detail = "No measurement is larger than a billion; check value and unit.";
            self.findings.add(format!("{pointer}/value"), "out_of_range", detail);
            return None;
        }
        match parse::<Q>(given.value, &given.unit) {
            Ok(quantity) => Some(quantity),
            Err(error) => {
                let member =
                    if matches!(error, QuantityError::UnknownUnit { .. }) { "unit" } else { "value" };
                self.findings.add(format!("{pointer}/{member}"), error.code(), error.to_string());
                None
            }
        }
    }

    /// The quantity of an optional measurement. The outer `None` says that it was found wrong.
    pub fn optional<Q: Quantity>(&mut self, pointer: &str, given: Option<&Measurement>) -> Option<Option<Q>> {
        match given {
            None => Some(None),
            Some(given) => self.quantity(pointer, given).map(Some),
        }
    }

    /// What `read` makes of an optional member. The outer `None` says that it was found wrong.
    pub fn present<T, V>(
        &mut self,
        given: Option<&T>,
        read: impl FnOnce(&mut Self, &T) -> Option<V>,
    ) -> Option<Option<V>> {
        match given {
            None => Some(None),
            Some(given) => read(self, given).map(Some),
        }
    }

    /// The value of a domain constructor, or its error as a finding at the pointer and with the code that `place` gives.
    pub fn domain<T, E: std::fmt::Display>(
        &mut self,
        result: Result<T, E>,
        place: impl FnOnce(&E) -> (&'static str, &'static str),
    ) -> Option<T> {
        match result {
            Ok(value) => Some(value),
            Err(error) => {
                let (pointer, code) = place(&error);
                self.findings.add(pointer, code, super::sentence(&error));
                None
            }
        }
    }

    /// The value behind a code.
    pub fn coded<T: lapwatch_domain::Coded>(&mut self, pointer: &str, given: &str) -> Option<T> {
        let value = T::from_code(given);
        if value.is_none() {
            let known = super::codes::<T>();
            self.findings.add(
                pointer,
                "unknown_code",
                format!("`{given}` is not known here; send one of {known}."),
            );
        }
        value
    }

    /// The values behind a list of codes, each once.
    pub fn coded_list<T: lapwatch_domain::Coded + PartialEq>(
        &mut self,
        pointer: &str,
        given: &[String],
    ) -> Option<Vec<T>> {
        let values: Vec<Option<T>> = given
            .iter()
            .enumerate()
            .map(|(index, code)| self.coded(&format!("{pointer}/{index}"), code))
            .collect();
        let mut once = Vec::new();
        for value in values.into_iter().collect::<Option<Vec<T>>>()? {
            if !once.contains(&value) {
                once.push(value);
            }
        }
        Some(once)
    }

    /// Notes a broken rule unless `holds`.
    pub fn require(&mut self, holds: bool, pointer: &str, code: &'static str, detail: &str) {
        if !holds {
            self.findings.add(pointer, code, detail);
        }
    }
}

/// Rules of single members that several records share.
impl Reader {
    /// A unit of measurement by its UCUM code.
    pub fn unit<U: Unit>(&mut self, pointer: &str, given: &str) -> Option<U> {
        let unit: Option<U> = unit_from_code(given);
        if unit.is_none() {
            let known = U::ALL.iter().map(|unit| format!("`{}`", unit.code())).collect::<Vec<_>>().join(", ");
            self.findings.add(
                pointer,
                "unknown_unit",
                format!("`{given}` is not known here; send one of {known}."),
            );
        }
        unit
    }

    /// A quantity above zero.
    pub fn positive<Q: Quantity>(&mut self, pointer: &str, given: &Measurement) -> Option<Q> {
        let quantity: Q = self.quantity(pointer, given)?;
        let positive = given.value > 0.0;
        self.require(positive, &format!("{pointer}/value"), "not_positive", "It must be greater than zero.");
        positive.then_some(quantity)
    }

    /// A time of this trade: between the years 1970 and 2200.
    pub fn time(&mut self, pointer: &str, given: DateTime<Utc>) {
        self.year(pointer, given.year());
    }

    /// A day between the years 1970 and 2200.
    pub fn day(&mut self, pointer: &str, given: NaiveDate) {
        self.year(pointer, given.year());
    }

    fn year(&mut self, pointer: &str, year: i32) {
        let detail = "Send a time between the years 1970 and 2200; check the clock.";
        self.require((1970..=2200).contains(&year), pointer, "out_of_range", detail);
    }

    /// A temperature that a hot-air welder can be set to: [`SETTABLE_CELSIUS`].
    pub fn set_temperature(&mut self, pointer: &str, given: &Measurement) -> Option<Temperature> {
        let temperature: Temperature = self.quantity(pointer, given)?;
        let plausible = SETTABLE_CELSIUS.contains(&temperature.value_in(TemperatureUnit::Celsius));
        let detail =
            "A hot-air welder is set between 0 and 1000 Cel (32 and 1832 [degF]); check value and unit.";
        self.require(plausible, &format!("{pointer}/value"), "out_of_range", detail);
        plausible.then_some(temperature)
    }

    /// A relative humidity above 1 %: a share of one is easily sent in place of per cent, and no roof is that dry (common
    /// practice, no source).
    pub fn humidity(&mut self, pointer: &str, given: &Measurement) -> Option<Percent> {
        let humidity: Percent = self.quantity(pointer, given)?;
        let plausible = humidity.ratio() > 0.01;
        let detail = "Relative humidity lies above 1 %, up to 100 %; eighty per cent are 80 %, not 0.8 %.";
        self.require(plausible, &format!("{pointer}/value"), "out_of_range", detail);
        plausible.then_some(humidity)
    }

    /// The step of a unit's display: above 0, at most 50 K.
    pub fn display_step(&mut self, pointer: &str, given: &Measurement) -> Option<TemperatureDifference> {
        let step: TemperatureDifference = self.quantity(pointer, given)?;
        let kelvin = step.value_in(TemperatureDifferenceUnit::Kelvin);
        let plausible = kelvin > 0.0 && kelvin <= 50.0;
        let detail =
            "The step of a display lies above 0 and is at most 50 K; it is a difference: `K` or `[degR]`.";
        self.require(plausible, &format!("{pointer}/value"), "out_of_range", detail);
        plausible.then_some(step)
    }
}
