//! Day events and seam checks.

use chrono::{DateTime, Utc};
use lapwatch_domain::quantity::{TemperatureUnit, WindSpeedUnit};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use super::records::RecordForm;
use super::{Measurement, Reader, Text};
use crate::model::{self, Finding, RecordKind};

/// What a crew noted in the course of its day. What touches a welder or its margin asks for a new trial.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct DayEvent {
    /// Always `day_event/1` for this form; needed in envelopes only.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "day_event/1")]
    pub schema: Option<String>,
    /// Id, made by the client.
    pub id: Uuid,
    /// The crew.
    pub crew_id: Uuid,
    /// The unit it concerns; absent: every unit that the crew has.
    pub unit_id: Option<Uuid>,
    /// When.
    pub at: DateTime<Utc>,
    /// `start`, `break`, `restart`, `power_loss`, `supply_changed`, `cord_changed`, `nozzle_changed`, `airflow_changed`,
    /// `operator_changed`, `sheet_changed` or `reading` (of sheet temperature or wind).
    #[schema(example = "power_loss")]
    pub kind: String,
    /// Temperature of the sheet; goes with any event.
    pub sheet_temperature: Option<Measurement>,
    /// Wind speed; goes with any event.
    pub wind_speed: Option<Measurement>,
    /// For `sheet_changed`: the product that is welded from then on.
    pub membrane_id: Option<Uuid>,
    /// For `sheet_changed`: its production run.
    pub lot_id: Option<Uuid>,
    /// For `operator_changed`: who runs the welder from then on.
    #[schema(value_type = Option<Text>)]
    pub operator: Option<Text>,
    /// Remarks.
    #[schema(value_type = Option<Text>)]
    pub remarks: Option<Text>,
    /// The event whose place this one takes; nothing is edited in place.
    pub supersedes: Option<Uuid>,
    /// When it was written down; needed with `supersedes`: of several corrections the one written last counts.
    pub recorded_at: Option<DateTime<Utc>>,
}

impl RecordForm for DayEvent {
    type Record = model::DayEvent;

    fn read(self, _now: DateTime<Utc>) -> Result<model::DayEvent, Vec<Finding>> {
        let mut reader = Reader::default();
        reader.schema(self.schema.as_deref(), RecordKind::DayEvent);
        reader.time("/at", self.at);
        reader.writing(self.id, self.supersedes, self.recorded_at);
        let kind = reader.coded("/kind", &self.kind);
        let sheet_temperature = reader.climate("/sheet_temperature", self.sheet_temperature.as_ref());
        let wind_speed = reader.optional("/wind_speed", self.wind_speed.as_ref());
        let read = self.sheet_temperature.is_some() || self.wind_speed.is_some();
        let detail = "A reading says the temperature of the sheet, the wind, or both.";
        reader.require(self.kind != "reading" || read, "/sheet_temperature", "required", detail);
        let event = (|| {
            Some(model::DayEvent {
                id: self.id,
                crew_id: self.crew_id,
                unit_id: self.unit_id,
                at: self.at,
                kind: kind?,
                sheet_temperature: sheet_temperature?,
                wind_speed: wind_speed?,
                membrane_id: self.membrane_id,
                lot_id: self.lot_id,
                operator: self.operator.map(|text| text.0),
                remarks: self.remarks.map(|text| text.0),
                supersedes: self.supersedes,
                recorded_at: self.recorded_at,
            })
        })();
        reader.findings.into_result(event)
    }

    fn show(event: &model::DayEvent) -> Self {
        Self {
            schema: None,
            id: event.id,
            crew_id: event.crew_id,
            unit_id: event.unit_id,
            at: event.at,
            kind: event.kind.code().to_owned(),
            sheet_temperature: event.sheet_temperature.map(|t| Measurement::of(t, TemperatureUnit::Celsius)),
            wind_speed: event.wind_speed.map(|wind| Measurement::of(wind, WindSpeedUnit::MetrePerSecond)),
            membrane_id: event.membrane_id,
            lot_id: event.lot_id,
            operator: event.operator.clone().map(Text),
            remarks: event.remarks.clone().map(Text),
            supersedes: event.supersedes,
            recorded_at: event.recorded_at,
        }
    }
}

/// What was found when the seams of a production span were checked. A sound or patched one settles what made the span suspect;
/// a defect makes it urgent.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct SeamCheck {
    /// Always `seam_check/1` for this form; needed in envelopes only.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "seam_check/1")]
    pub schema: Option<String>,
    /// Id, made by the client.
    pub id: Uuid,
    /// The production span.
    pub span_id: Uuid,
    /// The unit that welded it, as the span says.
    pub unit_id: Uuid,
    /// When it was checked.
    pub at: DateTime<Utc>,
    /// `probe` or `test_cut`.
    #[schema(example = "probe")]
    pub method: String,
    /// `sound`, `defect` (not mended yet), or `patched`: patched or welded again, and checked after that.
    #[schema(example = "sound")]
    pub result: String,
    /// Where on the span.
    #[schema(value_type = Option<Text>)]
    pub place: Option<Text>,
    /// Who checked it.
    #[schema(value_type = Option<Text>)]
    pub checked_by: Option<Text>,
    /// Remarks.
    #[schema(value_type = Option<Text>)]
    pub remarks: Option<Text>,
    /// The check whose place this one takes; nothing is edited in place.
    pub supersedes: Option<Uuid>,
    /// When it was written down; needed with `supersedes`: of several corrections the one written last counts.
    pub recorded_at: Option<DateTime<Utc>>,
}

impl RecordForm for SeamCheck {
    type Record = model::SeamCheck;

    fn read(self, _now: DateTime<Utc>) -> Result<model::SeamCheck, Vec<Finding>> {
        let mut reader = Reader::default();
        reader.schema(self.schema.as_deref(), RecordKind::SeamCheck);
        reader.time("/at", self.at);
        reader.writing(self.id, self.supersedes, self.recorded_at);
        let method = reader.coded("/method", &self.method);
        let result = reader.coded("/result", &self.result);
        let check = method.zip(result).map(|(method, result)| model::SeamCheck {
            id: self.id,
            span_id: self.span_id,
            unit_id: self.unit_id,
            at: self.at,
            method,
            result,
            place: self.place.map(|text| text.0),
            checked_by: self.checked_by.map(|text| text.0),
            remarks: self.remarks.map(|text| text.0),
            supersedes: self.supersedes,
            recorded_at: self.recorded_at,
        });
        reader.findings.into_result(check)
    }

    fn show(check: &model::SeamCheck) -> Self {
        Self {
            schema: None,
            id: check.id,
            span_id: check.span_id,
            unit_id: check.unit_id,
            at: check.at,
            method: check.method.code().to_owned(),
            result: check.result.code().to_owned(),
            place: check.place.clone().map(Text),
            checked_by: check.checked_by.clone().map(Text),
            remarks: check.remarks.clone().map(Text),
            supersedes: check.supersedes,
            recorded_at: check.recorded_at,
        }
    }
}
