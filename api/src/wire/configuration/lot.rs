//! Lots.

use chrono::{DateTime, NaiveDate, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use super::{Form, Head};
use crate::model::{self, Finding, Version};
use crate::wire::{Reader, Text};

/// A lot: one production run of a membrane.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Lot {
    /// Id; absent in a request, the service makes one.
    pub id: Option<Uuid>,
    /// From when this version holds; absent in a request: from now.
    pub effective_from: Option<DateTime<Utc>>,
    /// Whether the lot is retired from then on; absent in a request: not.
    pub retired: Option<bool>,
    /// The membrane.
    pub membrane_id: Uuid,
    /// What is printed on the roll.
    #[schema(value_type = Text, example = "SG15-2604")]
    pub code: Text,
    /// Day of production, if known.
    pub produced_on: Option<NaiveDate>,
}

impl Form for Lot {
    type Subject = model::Lot;

    fn read(self, id: Option<Uuid>, now: DateTime<Utc>) -> Result<Version<model::Lot>, Vec<Finding>> {
        let mut reader = Reader::default();
        if let Some(day) = self.produced_on {
            reader.day("/produced_on", day);
        }
        let value = Some(model::Lot {
            membrane_id: self.membrane_id,
            code: self.code.0,
            produced_on: self.produced_on,
        });
        Head { id: self.id, effective_from: self.effective_from, retired: self.retired }
            .version(id, now, reader, value)
    }

    fn show(version: &Version<model::Lot>) -> Self {
        let lot = &version.value;
        Self {
            id: Some(version.id),
            effective_from: Some(version.effective_from),
            retired: Some(version.retired),
            membrane_id: lot.membrane_id,
            code: Text(lot.code.clone()),
            produced_on: lot.produced_on,
        }
    }
}
