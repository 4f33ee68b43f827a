//! Crews.

use chrono::{DateTime, Utc};
use lapwatch_domain::quantity::{SpeedUnit, TemperatureUnit, Unit as _};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use super::{Form, Head};
use crate::model::{self, Finding, Version};
use crate::wire::{Reader, Text};

/// A crew: who welds.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Crew {
    /// Id; absent in a request, the service makes one.
    pub id: Option<Uuid>,
    /// From when this version holds; absent in a request: from now.
    pub effective_from: Option<DateTime<Utc>>,
    /// Whether the crew is retired from then on; absent in a request: not.
    pub retired: Option<bool>,
    /// Name that people use.
    #[schema(value_type = Text, example = "Heron crew")]
    pub name: Text,
    /// Its site.
    pub site_id: Uuid,
    /// Unit in which it logs temperatures: `Cel` or `[degF]`.
    #[schema(example = "Cel")]
    pub temperature_unit: String,
    /// Unit in which it logs speeds: `m/min` or `[ft_i]/min`.
    #[schema(example = "m/min")]
    pub speed_unit: String,
}

impl Form for Crew {
    type Subject = model::Crew;

    fn read(self, id: Option<Uuid>, now: DateTime<Utc>) -> Result<Version<model::Crew>, Vec<Finding>> {
        let mut reader = Reader::default();
        let temperature_unit = reader.unit::<TemperatureUnit>("/temperature_unit", &self.temperature_unit);
        let speed_unit = reader.unit::<SpeedUnit>("/speed_unit", &self.speed_unit);
        let value = temperature_unit.zip(speed_unit).map(|(temperature_unit, speed_unit)| model::Crew {
            name: self.name.0,
            site_id: self.site_id,
            temperature_unit,
            speed_unit,
        });
        Head { id: self.id, effective_from: self.effective_from, retired: self.retired }
            .version(id, now, reader, value)
    }

    fn show(version: &Version<model::Crew>) -> Self {
        let crew = &version.value;
        Self {
            id: Some(version.id),
            effective_from: Some(version.effective_from),
            retired: Some(version.retired),
            name: Text(crew.name.clone()),
            site_id: crew.site_id,
            temperature_unit: crew.temperature_unit.code().to_owned(),
            speed_unit: crew.speed_unit.code().to_owned(),
        }
    }
}
