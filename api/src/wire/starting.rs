//! The conditions of a day's first trial, as they are asked about.

use lapwatch_domain::quantity::unit_from_code;
use serde::Deserialize;
use utoipa::ToSchema;
use uuid::Uuid;

use super::{Measurement, Reader};
use crate::model::{self, Finding};

/// What is to be welded today: two sheets, at one held speed, at a sheet temperature that was measured.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
// Members in alphabetical order: so they are written whether or not the JSON library keeps the order.
#[schema(example = json!({
    "lower_membrane_id": "0198f1c2-7a60-7c31-9d3a-3f1f5a9d2c10",
    "purpose": "confirmation",
    "sheet_temperature": { "unit": "Cel", "value": 14 },
    "speed_set": { "unit": "m/min", "value": 3.0 },
    "upper_membrane_id": "0198f1c2-7a60-7c31-9d3a-3f1f5a9d2c10",
}))]
pub struct StartConditions {
    /// The upper sheet's membrane.
    pub upper_membrane_id: Uuid,
    /// The lower sheet's membrane.
    pub lower_membrane_id: Uuid,
    /// The speed that is to be held.
    pub speed_set: Measurement,
    /// Temperature of the sheet itself, not of the air: it moves the band most.
    pub sheet_temperature: Measurement,
    /// `confirmation` or `recheck` (below, at, above the set point), `sweep` or `commissioning` (find both edges).
    #[schema(example = "confirmation")]
    pub purpose: String,
}

impl StartConditions {
    /// The conditions.
    ///
    /// # Errors
    /// Every broken rule with its pointer.
    pub fn read(&self) -> Result<model::StartConditions, Vec<Finding>> {
        let mut reader = Reader::default();
        let purpose = reader.coded("/purpose", &self.purpose);
        let speed = reader.quantity("/speed_set", &self.speed_set);
        let sheet = reader.climate("/sheet_temperature", Some(&self.sheet_temperature));
        let conditions = purpose.zip(speed).zip(sheet.flatten()).and_then(|((purpose, speed), sheet)| {
            Some(model::StartConditions {
                upper_membrane_id: self.upper_membrane_id,
                lower_membrane_id: self.lower_membrane_id,
                speed,
                speed_unit: unit_from_code(&self.speed_set.unit)?,
                sheet_temperature: sheet,
                purpose,
            })
        });
        reader.findings.into_result(conditions)
    }
}
