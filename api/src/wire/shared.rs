//! Decisions about shifts that units share.

use chrono::{DateTime, NaiveDate, Utc};
use lapwatch_domain::fleet::SharedBy;
use lapwatch_domain::standing::DecisionKind;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use super::records::RecordForm;
use super::{Reader, Text};
use crate::model::{self, Finding, RecordKind};

/// What a person did about a shift that several units share: of a production run (`lot_id`), a product (`membrane_id`), or a day on a
/// site (`site_id` and `date`). It holds until the shift has moved by more than 5 K since.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct SharedDecision {
    /// Always `shared_decision/1` for this form; needed in envelopes only.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "shared_decision/1")]
    pub schema: Option<String>,
    /// Id, made by the client.
    pub id: Uuid,
    /// `acknowledge`, `assign`, `remark` or `close`. What is closed is told to nobody any more.
    #[schema(example = "acknowledge")]
    pub kind: String,
    /// The production run.
    pub lot_id: Option<Uuid>,
    /// The product.
    pub membrane_id: Option<Uuid>,
    /// The site of the day.
    pub site_id: Option<Uuid>,
    /// The day there.
    pub date: Option<NaiveDate>,
    /// On sheets of this class; absent: of any.
    #[schema(example = "pvc")]
    pub material_class: Option<String>,
    /// When it was decided.
    pub at: DateTime<Utc>,
    /// Why, or to whom; needed for all but `acknowledge`.
    #[schema(value_type = Option<Text>, example = "The maker takes the rest of the run back.")]
    pub remark: Option<Text>,
}

impl RecordForm for SharedDecision {
    type Record = model::SharedDecision;

    fn read(self, _now: DateTime<Utc>) -> Result<model::SharedDecision, Vec<Finding>> {
        let mut reader = Reader::default();
        reader.schema(self.schema.as_deref(), RecordKind::SharedDecision);
        let kind: Option<DecisionKind> = reader.coded("/kind", &self.kind);
        let possible = !matches!(kind, Some(DecisionKind::Waive | DecisionKind::Release));
        let detail = "Of a shift one of these can be decided: `acknowledge`, `assign`, `remark`, `close`.";
        reader.require(possible, "/kind", "unknown_code", detail);
        let by = match (self.lot_id, self.membrane_id, self.site_id, self.date) {
            (Some(lot), None, None, None) => Some(SharedBy::Lot(lot)),
            (None, Some(membrane), None, None) => Some(SharedBy::Membrane(membrane)),
            (None, None, Some(site), Some(date)) => {
                reader.day("/date", date);
                Some(SharedBy::Day(site, date))
            }
            _ => None,
        };
        let detail = "Name one thing: `lot_id`, or `membrane_id`, or `site_id` with `date`.";
        reader.require(by.is_some(), "", "wrong_subject", detail);
        let class = self.material_class.as_deref().map(|class| reader.coded("/material_class", class));
        reader.time("/at", self.at);
        let said = kind == Some(DecisionKind::Acknowledge) || self.remark.is_some();
        let detail = "Say what or why: a decision must be understood years later.";
        reader.require(said, "/remark", "required", detail);
        let decision = kind.zip(by).map(|(kind, by)| model::SharedDecision {
            id: self.id,
            kind,
            by,
            class: class.flatten(),
            at: self.at,
            remark: self.remark.map(|text| text.0),
        });
        reader.findings.into_result(decision)
    }

    fn show(decision: &model::SharedDecision) -> Self {
        let (membrane_id, lot_id, day) = match decision.by {
            SharedBy::Membrane(id) => (Some(id), None, None),
            SharedBy::Lot(id) => (None, Some(id), None),
            SharedBy::Day(site, date) => (None, None, Some((site, date))),
        };
        let (site_id, date) = day.unzip();
        Self {
            schema: None,
            id: decision.id,
            kind: decision.kind.code().to_owned(),
            lot_id,
            membrane_id,
            site_id,
            date,
            material_class: decision.class.map(|class| class.code().to_owned()),
            at: decision.at,
            remark: decision.remark.clone().map(Text),
        }
    }
}
