//! Day plans, production spans and decisions; what the forms of all records have in common.

use chrono::{DateTime, NaiveDate, Utc};
use lapwatch_domain::quantity::{LengthUnit, SpeedUnit, TemperatureUnit};
use lapwatch_domain::standing::{DecisionKind, FlagKind, SeriesKey};
use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use super::{JsonError, Measurement, Reader, Text, parse};
use crate::model::{self, Finding, RecordKind};

/// A JSON form of a kind of record.
pub trait RecordForm: Sized + DeserializeOwned {
    /// What it stands for.
    type Record;

    /// The form in these bytes.
    ///
    /// # Errors
    /// Where they are not of the form.
    fn parse(bytes: &[u8]) -> Result<Self, JsonError> {
        parse(bytes)
    }

    /// The record.
    ///
    /// # Errors
    /// Every broken rule with its pointer.
    fn read(self, now: DateTime<Utc>) -> Result<Self::Record, Vec<Finding>>;

    /// The form of a record.
    fn show(record: &Self::Record) -> Self;
}

/// What a crew means to do on a day. Of several plans for one day the one written last counts.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct DayPlan {
    /// Always `day_plan/1` for this form; needed in envelopes only.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "day_plan/1")]
    pub schema: Option<String>,
    /// Id, made by the client.
    pub id: Uuid,
    /// The crew.
    pub crew_id: Uuid,
    /// The local day.
    pub date: NaiveDate,
    /// Whether it means to weld. `false`, a rain day say, means that nothing is due.
    pub welding: bool,
    /// With which units.
    #[serde(default)]
    #[schema(max_items = 200)]
    pub unit_ids: Vec<Uuid>,
    /// Why not, say.
    #[schema(value_type = Option<Text>)]
    pub reason: Option<Text>,
    /// When it was written; absent in a request: now. Needed with `supersedes`.
    pub recorded_at: Option<DateTime<Utc>>,
    /// The plan whose place this one takes, say because that one was for the wrong day; nothing is edited in place. A plan for the
    /// same day needs no such thing.
    pub supersedes: Option<Uuid>,
}

impl RecordForm for DayPlan {
    type Record = model::DayPlan;

    fn read(self, now: DateTime<Utc>) -> Result<model::DayPlan, Vec<Finding>> {
        let mut reader = Reader::default();
        reader.schema(self.schema.as_deref(), RecordKind::DayPlan);
        reader.day("/date", self.date);
        reader.writing(self.id, self.supersedes, self.recorded_at);
        reader.require(self.unit_ids.len() <= 200, "/unit_ids", "wrong_count", "Name at most 200 units.");
        reader.findings.into_result(Some(model::DayPlan {
            id: self.id,
            crew_id: self.crew_id,
            date: self.date,
            welding: self.welding,
            unit_ids: self.unit_ids,
            reason: self.reason.map(|text| text.0),
            recorded_at: self.recorded_at.unwrap_or(now),
            supersedes: self.supersedes,
        }))
    }

    fn show(plan: &model::DayPlan) -> Self {
        Self {
            schema: None,
            id: plan.id,
            crew_id: plan.crew_id,
            date: plan.date,
            welding: plan.welding,
            unit_ids: plan.unit_ids.clone(),
            reason: plan.reason.clone().map(Text),
            recorded_at: Some(plan.recorded_at),
            supersedes: plan.supersedes,
        }
    }
}

/// What was welded with a unit, from–to, where: what a failed trial makes suspect.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ProductionSpan {
    /// Always `production_span/1` for this form; needed in envelopes only.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "production_span/1")]
    pub schema: Option<String>,
    /// Id, made by the client.
    pub id: Uuid,
    /// The unit.
    pub unit_id: Uuid,
    /// The crew.
    pub crew_id: Option<Uuid>,
    /// From when.
    pub from: DateTime<Utc>,
    /// To when.
    pub to: DateTime<Utc>,
    /// Where on the roof, so that somebody finds it.
    #[schema(value_type = Text, example = "Hall 3 east bay, rows 4 to 9")]
    pub place: Text,
    /// The product.
    pub membrane_id: Option<Uuid>,
    /// The production run.
    pub lot_id: Option<Uuid>,
    /// Set temperature.
    pub set_temperature: Option<Measurement>,
    /// Speed.
    pub speed: Option<Measurement>,
    /// Length of seam.
    pub length: Option<Measurement>,
    /// The span whose place this one takes; nothing is edited in place.
    pub supersedes: Option<Uuid>,
    /// When it was written down; needed with `supersedes`: of several corrections the one written last counts.
    pub recorded_at: Option<DateTime<Utc>>,
}

impl RecordForm for ProductionSpan {
    type Record = model::ProductionSpan;

    fn read(self, _now: DateTime<Utc>) -> Result<model::ProductionSpan, Vec<Finding>> {
        let mut reader = Reader::default();
        reader.schema(self.schema.as_deref(), RecordKind::ProductionSpan);
        reader.time("/from", self.from);
        reader.time("/to", self.to);
        reader.writing(self.id, self.supersedes, self.recorded_at);
        reader.require(
            self.from <= self.to,
            "/to",
            "out_of_order",
            "A span ends at or after its start; check the times.",
        );
        let set_temperature = reader.optional("/set_temperature", self.set_temperature.as_ref());
        let speed = reader.optional("/speed", self.speed.as_ref());
        let length = reader.optional("/length", self.length.as_ref());
        let span = (|| {
            Some(model::ProductionSpan {
                id: self.id,
                unit_id: self.unit_id,
                crew_id: self.crew_id,
                from: self.from,
                to: self.to,
                place: self.place.0,
                membrane_id: self.membrane_id,
                lot_id: self.lot_id,
                set_temperature: set_temperature?,
                speed: speed?,
                length: length?,
                supersedes: self.supersedes,
                recorded_at: self.recorded_at,
            })
        })();
        reader.findings.into_result(span)
    }

    fn show(span: &model::ProductionSpan) -> Self {
        Self {
            schema: None,
            id: span.id,
            unit_id: span.unit_id,
            crew_id: span.crew_id,
            from: span.from,
            to: span.to,
            place: Text(span.place.clone()),
            membrane_id: span.membrane_id,
            lot_id: span.lot_id,
            set_temperature: span.set_temperature.map(|t| Measurement::of(t, TemperatureUnit::Celsius)),
            speed: span.speed.map(|speed| Measurement::of(speed, SpeedUnit::MetrePerMinute)),
            length: span.length.map(|length| Measurement::of(length, LengthUnit::Metre)),
            supersedes: span.supersedes,
            recorded_at: span.recorded_at,
        }
    }
}

/// What a person did about a flag, a recheck or a unit. It applies to the flag or recheck of its unit, series and
/// concern whose span covers `at`, whatever its present id.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Decision {
    /// Always `decision/1` for this form; needed in envelopes only.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "decision/1")]
    pub schema: Option<String>,
    /// Id, made by the client.
    pub id: Uuid,
    /// `acknowledge`, `assign`, `remark`, `waive`, `close` or `release`.
    #[schema(example = "acknowledge")]
    pub kind: String,
    /// The unit it is about.
    pub unit_id: Uuid,
    /// The series it is about: `unit`, or sheet class and edge, such as `pvc.lower`; absent: any of the unit.
    #[schema(example = "pvc.lower")]
    pub series: Option<String>,
    /// The kind of flag it is about, such as `drift_up`; absent: any.
    #[schema(example = "drift_up")]
    pub concern: Option<String>,
    /// When it was decided.
    pub at: DateTime<Utc>,
    /// Id of the flag or recheck as the person saw it.
    pub seen_id: Option<Uuid>,
    /// Why; needed for `waive`, `close` and `release`.
    #[schema(value_type = Option<Text>)]
    pub remark: Option<Text>,
}

impl RecordForm for Decision {
    type Record = model::Decision;

    fn read(self, _now: DateTime<Utc>) -> Result<model::Decision, Vec<Finding>> {
        let mut reader = Reader::default();
        reader.schema(self.schema.as_deref(), RecordKind::Decision);
        let kind: Option<DecisionKind> = reader.coded("/kind", &self.kind);
        reader.time("/at", self.at);
        let series = self.series.as_deref();
        reader.require(
            series.is_none_or(|code| SeriesKey::from_code(code).is_some()),
            "/series",
            "unknown_code",
            "Send `unit`, sheet class and edge with a dot between them, such as `pvc.lower`, or such as \
             `channel.volts_under_load`.",
        );
        if let Some(concern) = self.concern.as_deref() {
            reader.coded::<FlagKind>("/concern", concern);
        }
        let settles = matches!(kind, Some(DecisionKind::Waive | DecisionKind::Close | DecisionKind::Release));
        let detail = "Say why: a decision that settles something must be understood years later.";
        reader.require(!settles || self.remark.is_some(), "/remark", "required", detail);
        let decision = kind.map(|kind| model::Decision {
            id: self.id,
            kind,
            unit_id: self.unit_id,
            series: self.series,
            concern: self.concern,
            decided_at: self.at,
            seen_id: self.seen_id,
            remark: self.remark.map(|text| text.0),
        });
        reader.findings.into_result(decision)
    }

    fn show(decision: &model::Decision) -> Self {
        Self {
            schema: None,
            id: decision.id,
            kind: decision.kind.code().to_owned(),
            unit_id: decision.unit_id,
            series: decision.series.clone(),
            concern: decision.concern.clone(),
            at: decision.decided_at,
            seen_id: decision.seen_id,
            remark: decision.remark.clone().map(Text),
        }
    }
}

impl Reader {
    /// What a record says of its own writing: a correction says when that was, and corrects another record.
    pub(super) fn writing(&mut self, id: Uuid, supersedes: Option<Uuid>, recorded_at: Option<DateTime<Utc>>) {
        let detail = "A correction says when it was written down.";
        self.require(supersedes.is_none() || recorded_at.is_some(), "/recorded_at", "required", detail);
        let detail = "A correction takes the place of another record.";
        self.require(supersedes != Some(id), "/supersedes", "names_itself", detail);
        if let Some(recorded_at) = recorded_at {
            self.time("/recorded_at", recorded_at);
        }
    }

    /// The schema that a record names, if it names one, is that of its kind.
    pub(super) fn schema(&mut self, given: Option<&str>, kind: RecordKind) {
        let known = given.is_none_or(|given| kind.schemas().any(|own| given == own));
        let own = kind.schemas().map(|own| format!("`{own}`")).collect::<Vec<_>>().join(" or ");
        self.require(known, "/schema", "schema_unknown", &format!("This operation takes the schema {own}."));
    }
}
