//! Retractions.

use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use super::records::RecordForm;
use super::{Reader, Text};
use crate::model::{self, Finding, RecordKind};

/// Withdraws a record. It stays as it was sent and no longer counts; what followed from it is worked out anew. A retraction can be
/// withdrawn in turn: then the record counts again.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Retraction {
    /// Always `retraction/1` for this form; needed in envelopes only.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "retraction/1")]
    pub schema: Option<String>,
    /// Id, made by the client.
    pub id: Uuid,
    /// The record to withdraw, of any kind.
    pub record_id: Uuid,
    /// When it was withdrawn.
    pub at: DateTime<Utc>,
    /// Why: it must be understood years later.
    #[schema(value_type = Text, example = "Entered for the wrong welder.")]
    pub reason: Text,
}

impl RecordForm for Retraction {
    type Record = model::Retraction;

    fn read(self, _now: DateTime<Utc>) -> Result<model::Retraction, Vec<Finding>> {
        let mut reader = Reader::default();
        reader.schema(self.schema.as_deref(), RecordKind::Retraction);
        reader.time("/at", self.at);
        let other = self.id != self.record_id;
        reader.require(other, "/record_id", "names_itself", "A retraction withdraws another record.");
        reader.findings.into_result(Some(model::Retraction {
            id: self.id,
            record_id: self.record_id,
            at: self.at,
            reason: self.reason.0,
        }))
    }

    fn show(retraction: &model::Retraction) -> Self {
        Self {
            schema: None,
            id: retraction.id,
            record_id: retraction.record_id,
            at: retraction.at,
            reason: Text(retraction.reason.clone()),
        }
    }
}
