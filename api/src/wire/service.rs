//! Service events, in the forms of two versions.

use chrono::{DateTime, Utc};
use serde::de::Error as _;
use serde::{Deserialize, Deserializer, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use super::records::RecordForm;
use super::{JsonError, Reader, Text, parse};
use crate::model::{self, Finding, RecordKind, ServiceKind};

/// Most parts that one visit replaces.
const MOST_PARTS: usize = 50;

/// Work done on a unit, as older clients send it (`service_event/1`) and as every answer shows it. Work that changes how the unit
/// heats starts its histories again.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ServiceEvent {
    /// `service_event/1` for this form; needed in envelopes only.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "service_event/1")]
    pub schema: Option<String>,
    /// Id, made by the client.
    pub id: Uuid,
    /// The unit.
    pub unit_id: Uuid,
    /// When.
    pub performed_at: DateTime<Utc>,
    /// `heater_replaced`, `nozzle_cleaned`, `nozzle_replaced`, `sensor_calibrated`, `blower_serviced`,
    /// `drive_serviced`, `roller_serviced`, `cord_replaced`, `inspection` or `other`. In answers the first of `work`.
    #[schema(example = "heater_replaced")]
    pub kind: String,
    /// Everything that was done, `kind` first; in answers always there. Absent: `kind` alone.
    #[serde(default)]
    #[schema(max_items = 10, example = json!(["heater_replaced", "nozzle_cleaned"]))]
    pub work: Vec<String>,
    /// Whether it changes how the unit heats.
    pub affects_heat: bool,
    /// Parts that were replaced.
    #[serde(default)]
    #[schema(value_type = Vec<Text>, max_items = 50)]
    pub parts: Vec<Text>,
    /// Who did it.
    #[schema(value_type = Option<Text>)]
    pub performed_by: Option<Text>,
    /// Remarks.
    #[schema(value_type = Option<Text>)]
    pub remarks: Option<Text>,
    /// The event whose place this one takes; nothing is edited in place.
    pub supersedes: Option<Uuid>,
    /// When it was written down; needed with `supersedes`: of several corrections the one written last counts.
    pub recorded_at: Option<DateTime<Utc>>,
}

/// Work done on a unit (`service_event/2`): everything that was done in one visit. The service knows what changes how a unit heats
/// and starts its histories again.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ServiceVisit {
    /// Always `service_event/2` for this form.
    #[schema(example = "service_event/2")]
    pub schema: String,
    /// Id, made by the client.
    pub id: Uuid,
    /// The unit.
    pub unit_id: Uuid,
    /// When.
    pub performed_at: DateTime<Utc>,
    /// What was done, the main thing first: `heater_replaced`, `nozzle_cleaned`, `nozzle_replaced`,
    /// `sensor_calibrated`, `blower_serviced`, `drive_serviced`, `roller_serviced`, `cord_replaced`, `inspection` or `other`.
    #[schema(min_items = 1, max_items = 10, example = json!(["heater_replaced", "nozzle_cleaned"]))]
    pub work: Vec<String>,
    /// Whether it changes how the unit heats; needed with `other`. Absent: it does after a new heater or nozzle, a calibrated
    /// sensor, and work on blower or drive.
    pub affects_heat: Option<bool>,
    /// Parts that were replaced.
    #[serde(default)]
    #[schema(value_type = Vec<Text>, max_items = 50)]
    pub parts: Vec<Text>,
    /// Who did it.
    #[schema(value_type = Option<Text>)]
    pub performed_by: Option<Text>,
    /// Remarks.
    #[schema(value_type = Option<Text>)]
    pub remarks: Option<Text>,
    /// The event whose place this one takes; nothing is edited in place.
    pub supersedes: Option<Uuid>,
    /// When it was written down; needed with `supersedes`: of several corrections the one written last counts.
    pub recorded_at: Option<DateTime<Utc>>,
}

/// A service event in whichever form its client knows.
#[derive(Debug, Clone, Serialize, ToSchema)]
#[serde(untagged)]
pub enum SentServiceEvent {
    /// `service_event/2`.
    Visit(ServiceVisit),
    /// `service_event/1`.
    Event(ServiceEvent),
}

impl<'de> Deserialize<'de> for SentServiceEvent {
    /// Which form it is stands inside: read it by [`RecordForm::parse`].
    fn deserialize<D: Deserializer<'de>>(_: D) -> Result<Self, D::Error> {
        Err(D::Error::custom("a service event is read from its bytes"))
    }
}

impl RecordForm for SentServiceEvent {
    type Record = model::ServiceEvent;

    fn parse(bytes: &[u8]) -> Result<Self, JsonError> {
        #[derive(Deserialize)]
        struct Named {
            schema: Option<String>,
        }
        let named = serde_json::from_slice::<Named>(bytes).ok().and_then(|named| named.schema);
        match named.as_deref() {
            Some("service_event/2") => parse(bytes).map(Self::Visit),
            // Whatever else it is, its first form says what is wrong with it.
            _ => parse(bytes).map(Self::Event),
        }
    }

    fn read(self, _now: DateTime<Utc>) -> Result<model::ServiceEvent, Vec<Finding>> {
        let mut reader = Reader::default();
        let event = match self {
            Self::Event(event) => event.convert(&mut reader),
            Self::Visit(visit) => visit.convert(&mut reader),
        };
        reader.findings.into_result(event)
    }

    fn show(event: &model::ServiceEvent) -> Self {
        Self::Event(ServiceEvent::show(event))
    }
}

impl ServiceEvent {
    /// What the present form says of it: one thing was done, and the client judged it.
    fn convert(self, reader: &mut Reader) -> Option<model::ServiceEvent> {
        reader.schema(self.schema.as_deref(), RecordKind::ServiceEvent);
        let kind = reader.coded("/kind", &self.kind);
        let mut work = reader.coded_list("/work", &self.work);
        let first = self.work.is_empty() || self.work.first() == Some(&self.kind);
        reader.require(first, "/work", "out_of_order", "Name first what `kind` names.");
        if self.work.is_empty() {
            work = kind.map(|kind| vec![kind]);
        }
        let visit = ServiceVisit {
            schema: String::new(),
            id: self.id,
            unit_id: self.unit_id,
            performed_at: self.performed_at,
            work: Vec::new(),
            affects_heat: Some(self.affects_heat),
            parts: self.parts,
            performed_by: self.performed_by,
            remarks: self.remarks,
            supersedes: self.supersedes,
            recorded_at: self.recorded_at,
        };
        visit.with_work(reader, work)
    }

    /// The form of a service event in answers.
    pub fn show(event: &model::ServiceEvent) -> Self {
        let work: Vec<String> = event.work.iter().map(|work| work.code().to_owned()).collect();
        Self {
            schema: None,
            id: event.id,
            unit_id: event.unit_id,
            performed_at: event.performed_at,
            kind: work.first().cloned().unwrap_or_default(),
            work,
            affects_heat: event.affects_heat,
            parts: event.parts.iter().cloned().map(Text).collect(),
            performed_by: event.performed_by.clone().map(Text),
            remarks: event.remarks.clone().map(Text),
            supersedes: event.supersedes,
            recorded_at: event.recorded_at,
        }
    }
}

impl ServiceVisit {
    fn convert(self, reader: &mut Reader) -> Option<model::ServiceEvent> {
        let work: Option<Vec<ServiceKind>> = reader.coded_list("/work", &self.work);
        reader.require(!self.work.is_empty(), "/work", "required", "Name at least one thing that was done.");
        let unclear = work.iter().flatten().any(|work| work.affects_heat().is_none());
        let detail = "Say whether it changed how the unit heats: with `other` nobody else knows.";
        reader.require(self.affects_heat.is_some() || !unclear, "/affects_heat", "required", detail);
        self.with_work(reader, work)
    }

    fn with_work(self, reader: &mut Reader, work: Option<Vec<ServiceKind>>) -> Option<model::ServiceEvent> {
        reader.time("/performed_at", self.performed_at);
        reader.writing(self.id, self.supersedes, self.recorded_at);
        let few = self.parts.len() <= MOST_PARTS;
        reader.require(few, "/parts", "wrong_count", "Name at most 50 parts.");
        let work = work?;
        let by_work = || work.iter().any(|work| work.affects_heat() == Some(true));
        Some(model::ServiceEvent {
            id: self.id,
            unit_id: self.unit_id,
            performed_at: self.performed_at,
            affects_heat: self.affects_heat.unwrap_or_else(by_work),
            work,
            parts: self.parts.into_iter().map(|part| part.0).collect(),
            performed_by: self.performed_by.map(|text| text.0),
            remarks: self.remarks.map(|text| text.0),
            supersedes: self.supersedes,
            recorded_at: self.recorded_at,
        })
    }
}
