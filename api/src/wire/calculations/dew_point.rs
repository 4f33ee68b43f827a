//! How far a sheet lies above the dew point.

use lapwatch_domain::quantity::{TemperatureDifference, unit_from_code};
use lapwatch_domain::weather;
use serde::Deserialize;
use utoipa::ToSchema;

use crate::model::Finding;
use crate::model::calculations::DewPoint;
use crate::wire::{Measurement, Reader};

/// Air, its humidity, and the sheet under it.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({
    "air_temperature": { "unit": "Cel", "value": 20 },
    "humidity": { "unit": "%", "value": 70 },
    "sheet_temperature": { "unit": "Cel", "value": 16 },
}))]
pub struct DewPointQuestion {
    /// Temperature of the air, −40 to 50 °C; the answer comes on its scale.
    pub air_temperature: Measurement,
    /// Relative humidity, `%`: above 1, up to 100.
    pub humidity: Measurement,
    /// Temperature of the sheet; without it the dew point alone is answered.
    pub sheet_temperature: Option<Measurement>,
    /// How far the sheet should lie above the dew point; default 3 K, a rule of coating work used by analogy.
    pub least_above: Option<Measurement>,
    /// How well the instruments measure.
    pub instruments: Option<Instruments>,
}

/// Standard deviations of the instruments.
#[derive(Debug, Default, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Instruments {
    /// Of the humidity, in percentage points, `%`; default 3.
    pub humidity: Option<Measurement>,
    /// Of the air's temperature; default 0.5 K.
    pub air_temperature: Option<Measurement>,
    /// Of the sheet's temperature; default 1.5 K.
    pub sheet_temperature: Option<Measurement>,
}

impl DewPointQuestion {
    /// The question in domain values.
    ///
    /// # Errors
    /// Every broken rule with its pointer.
    pub fn read(&self) -> Result<DewPoint, Vec<Finding>> {
        let mut reader = Reader::default();
        let r = &mut reader;
        let none = Instruments::default();
        let given = self.instruments.as_ref().unwrap_or(&none);
        let usual = weather::Instruments::default();
        // What is wrong with it is found where the temperature is read.
        let unit = unit_from_code(&self.air_temperature.unit);
        let air = r.climate("/air_temperature", Some(&self.air_temperature));
        let humidity = r.humidity("/humidity", &self.humidity);
        let sheet = r.climate("/sheet_temperature", self.sheet_temperature.as_ref());
        let least = r.optional("/least_above", self.least_above.as_ref());
        let plausible = least.flatten().is_none_or(|least| least >= TemperatureDifference::ZERO);
        r.require(plausible, "/least_above/value", "negative", "It cannot be negative.");
        let of_humidity = r.optional("/instruments/humidity", given.humidity.as_ref());
        let of_air = r.optional("/instruments/air_temperature", given.air_temperature.as_ref());
        let of_sheet = r.optional("/instruments/sheet_temperature", given.sheet_temperature.as_ref());
        let question = || {
            Some(DewPoint {
                unit: unit?,
                air: air??,
                humidity: humidity?,
                sheet: sheet?,
                least: least?.unwrap_or(weather::LEAST_ABOVE_DEW_POINT),
                instruments: weather::Instruments {
                    humidity: of_humidity?.unwrap_or(usual.humidity),
                    air: of_air?.unwrap_or(usual.air),
                    sheet: of_sheet?.unwrap_or(usual.sheet),
                },
            })
        };
        let question = question();
        reader.findings.into_result(question)
    }
}
