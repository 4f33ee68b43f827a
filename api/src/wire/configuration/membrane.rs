//! Membranes.

use chrono::{DateTime, Utc};
use lapwatch_domain::quantity::{LengthUnit, TemperatureUnit};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use super::{Form, Head};
use crate::model::{self, Finding, Version};
use crate::wire::{Measurement, Reader, Text};

/// A membrane: a sheet product.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Membrane {
    /// Id; absent in a request, the service makes one.
    pub id: Option<Uuid>,
    /// From when this version holds; absent in a request: from now.
    pub effective_from: Option<DateTime<Utc>>,
    /// Whether the membrane is retired from then on; absent in a request: not.
    pub retired: Option<bool>,
    /// Name that people use.
    #[schema(value_type = Text, example = "Saltguard 15")]
    pub name: Text,
    /// `pvc`, `kee`, `tpo` or `other`.
    #[schema(example = "pvc")]
    pub material_class: String,
    /// Nominal thickness.
    pub thickness: Measurement,
    /// Whether it carries a scrim.
    pub reinforced: bool,
    /// Highest set temperature that the maker allows, if it names one.
    pub maker_ceiling: Option<Measurement>,
}

impl Form for Membrane {
    type Subject = model::Membrane;

    fn read(self, id: Option<Uuid>, now: DateTime<Utc>) -> Result<Version<model::Membrane>, Vec<Finding>> {
        let mut reader = Reader::default();
        let material_class = reader.coded("/material_class", &self.material_class);
        let thickness = reader.positive("/thickness", &self.thickness);
        let ceiling = reader.optional("/maker_ceiling", self.maker_ceiling.as_ref());
        let value = (|| {
            Some(model::Membrane {
                name: self.name.0,
                material_class: material_class?,
                thickness: thickness?,
                reinforced: self.reinforced,
                maker_ceiling: ceiling?,
            })
        })();
        Head { id: self.id, effective_from: self.effective_from, retired: self.retired }
            .version(id, now, reader, value)
    }

    fn show(version: &Version<model::Membrane>) -> Self {
        let membrane = &version.value;
        Self {
            id: Some(version.id),
            effective_from: Some(version.effective_from),
            retired: Some(version.retired),
            name: Text(membrane.name.clone()),
            material_class: membrane.material_class.code().to_owned(),
            thickness: Measurement::of(membrane.thickness, LengthUnit::Millimetre),
            reinforced: membrane.reinforced,
            maker_ceiling: membrane.maker_ceiling.map(|t| Measurement::of(t, TemperatureUnit::Celsius)),
        }
    }
}
