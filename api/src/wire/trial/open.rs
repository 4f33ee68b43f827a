//! Trials that are sent piece by piece: the header, the coupons, the close; and the trial that they become.

use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use utoipa::openapi::RefOr;
use utoipa::openapi::schema::Schema;
use utoipa::{PartialSchema, ToSchema};
use uuid::Uuid;

use super::{Coupon, MOST_COUPONS, Specimen, TRIAL_SCHEMA, Trial};
use crate::model::{self, Finding, RecordKind};
use crate::wire::json::explain;
use crate::wire::members::Members;
use crate::wire::records::RecordForm;
use crate::wire::{JsonError, Measurement, Reader, parse};

/// Stands for the coupons while a header is read by the rules of a trial.
const ANY_COUPON: &str = r#"[{"set_temperature":{"value":450,"unit":"Cel"},"specimens":[]}]"#;
/// What a header does not have.
const LATER: [&str; 2] = ["coupons", "supersedes"];

/// The beginning of a trial: everything but its coupons.
#[derive(Debug)]
pub struct OpenTrial {
    trial: Trial,
}

impl OpenTrial {
    /// The header in these bytes.
    ///
    /// # Errors
    /// What is wrong with its form, with the pointer.
    pub fn parse(bytes: &[u8]) -> Result<Self, JsonError> {
        // Whatever is wrong with the bytes as JSON is said as everywhere.
        parse::<serde_json::Value>(bytes)?;
        let mut members = Members::of(bytes).map_err(|error| explain(error, String::new()))?;
        for name in LATER {
            if members.take(name).is_some() {
                let detail = format!(
                    "`{name}` comes later: coupons are sent one by one, and the close says what the trial supersedes."
                );
                return Err(JsonError::Shape(Finding::new(format!("/{name}"), "unknown_field", detail)));
            }
        }
        members.set("coupons", ANY_COUPON.to_owned());
        Ok(Self { trial: parse(members.to_string().as_bytes())? })
    }

    /// The header in domain units.
    ///
    /// # Errors
    /// Every broken rule with its pointer.
    pub fn read(mut self) -> Result<model::OpenTrial, Vec<Finding>> {
        if RecordKind::of_schema(&self.trial.schema) != Ok(RecordKind::OpenTrial) {
            let detail = "This operation takes the beginnings of trials, of the schema `open_trial/1`.";
            return Err(vec![Finding::new("/schema", "schema_unknown", detail)]);
        }
        TRIAL_SCHEMA.clone_into(&mut self.trial.schema);
        let mut trial = self.trial.read()?;
        trial.coupons.clear();
        Ok(model::OpenTrial { id: trial.id, trial })
    }
}

impl PartialSchema for OpenTrial {
    /// A trial's, without what comes later.
    fn schema() -> RefOr<Schema> {
        let mut schema = Trial::schema();
        if let RefOr::T(Schema::Object(object)) = &mut schema {
            object.description = Some(
                "The beginning of a trial that is sent piece by piece: everything but its coupons."
                    .to_owned(),
            );
            for name in LATER {
                object.properties.shift_remove(name);
            }
            object.required.retain(|name| !LATER.contains(&name.as_str()));
        }
        schema
    }
}

impl ToSchema for OpenTrial {
    fn name() -> std::borrow::Cow<'static, str> {
        "OpenTrial".into()
    }

    fn schemas(schemas: &mut Vec<(String, RefOr<Schema>)>) {
        Trial::schemas(schemas);
    }
}

/// A coupon of a trial that is sent piece by piece, sent when its strips are peeled.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct SentCoupon {
    /// Always `coupon/1` for this form.
    #[schema(example = "coupon/1")]
    pub schema: String,
    /// Id, made by the client.
    pub id: Uuid,
    /// The open trial.
    pub open_trial_id: Uuid,
    /// When it was written down.
    pub recorded_at: DateTime<Utc>,
    /// The setting.
    pub set_temperature: Measurement,
    /// Its speed, where a trial steps the speed instead of the temperature; default: the trial's `speed_set`.
    pub speed_set: Option<Measurement>,
    /// Air temperature measured at the nozzle.
    pub measured_temperature: Option<Measurement>,
    /// The strips cut from it.
    #[schema(max_items = 20)]
    pub specimens: Vec<Specimen>,
    /// Data of the client's own: kept, never interpreted.
    #[schema(value_type = Option<Object>)]
    pub extra: Option<serde_json::Value>,
}

impl SentCoupon {
    /// The coupon in domain units.
    ///
    /// # Errors
    /// Every broken rule with its pointer.
    pub fn read(self) -> Result<model::SentCoupon, Vec<Finding>> {
        let mut reader = Reader::default();
        reader.schema(Some(&self.schema), RecordKind::SentCoupon);
        reader.time("/recorded_at", self.recorded_at);
        let (id, open_trial_id, recorded_at) = (self.id, self.open_trial_id, self.recorded_at);
        let coupon = Coupon {
            id: Some(id),
            set_temperature: self.set_temperature,
            speed_set: self.speed_set,
            measured_temperature: self.measured_temperature,
            specimens: self.specimens,
        };
        let coupon = coupon.convert(&mut reader, "");
        let sent = coupon.map(|coupon| model::SentCoupon { id, open_trial_id, recorded_at, coupon });
        reader.findings.into_result(sent)
    }
}

/// The end of a trial that was sent piece by piece. What it makes of the header and the coupons it names is a trial like any
/// other, under the id that the client gives it here.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct TrialClose {
    /// Always `trial_close/1` for this form; needed in envelopes only.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "trial_close/1")]
    pub schema: Option<String>,
    /// Id, made by the client.
    pub id: Uuid,
    /// The open trial.
    pub open_trial_id: Uuid,
    /// Id of the trial that it becomes, made by the client: to read, correct or withdraw it.
    pub trial_id: Uuid,
    /// When it was written down.
    pub recorded_at: DateTime<Utc>,
    /// The coupons that the trial has, in the order they were welded.
    #[schema(min_items = 1, max_items = 60)]
    pub coupon_ids: Vec<Uuid>,
    /// The trial whose place the new one takes; needed when the open trial was closed before.
    pub supersedes: Option<Uuid>,
    /// Data of the client's own: kept, never interpreted.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<Object>)]
    pub extra: Option<serde_json::Value>,
}

impl RecordForm for TrialClose {
    type Record = model::TrialClose;

    fn read(self, _now: DateTime<Utc>) -> Result<model::TrialClose, Vec<Finding>> {
        let mut reader = Reader::default();
        reader.schema(self.schema.as_deref(), RecordKind::TrialClose);
        reader.time("/recorded_at", self.recorded_at);
        let detail = "A trial has 1 to 60 coupons.";
        let fits = (1..=MOST_COUPONS).contains(&self.coupon_ids.len());
        reader.require(fits, "/coupon_ids", "wrong_count", detail);
        for (index, id) in self.coupon_ids.iter().enumerate().take(MOST_COUPONS) {
            let once = !self.coupon_ids[..index].contains(id);
            reader.require(once, &format!("/coupon_ids/{index}"), "named_twice", "A coupon is named once.");
        }
        let own = ![self.id, self.open_trial_id].contains(&self.trial_id);
        let detail = "The trial has an id of its own: neither that of the close nor that of the open trial.";
        reader.require(own, "/trial_id", "names_itself", detail);
        reader.findings.into_result(Some(model::TrialClose {
            id: self.id,
            open_trial_id: self.open_trial_id,
            trial_id: self.trial_id,
            recorded_at: self.recorded_at,
            coupon_ids: self.coupon_ids,
            supersedes: self.supersedes,
        }))
    }

    fn show(close: &model::TrialClose) -> Self {
        Self {
            schema: None,
            id: close.id,
            open_trial_id: close.open_trial_id,
            trial_id: close.trial_id,
            recorded_at: close.recorded_at,
            coupon_ids: close.coupon_ids.clone(),
            supersedes: close.supersedes,
            extra: None,
        }
    }
}

/// The open trial that a coupon or a close belongs to.
///
/// # Errors
/// When the bytes are not those of an accepted one.
pub fn open_trial_of(bytes: &[u8]) -> serde_json::Result<Uuid> {
    #[derive(Deserialize)]
    struct Belongs {
        open_trial_id: Uuid,
    }
    Ok(serde_json::from_slice::<Belongs>(bytes)?.open_trial_id)
}

/// The record of the trial that a header and coupons become, every literal as it was sent; without a close, of the trial so far.
///
/// # Errors
/// When the bytes are not those of accepted records.
pub fn put_together(
    header: &[u8],
    coupons: &[Vec<u8>],
    close: Option<&model::TrialClose>,
) -> serde_json::Result<Vec<u8>> {
    let mut trial = Members::of(header)?;
    let json = |value: serde_json::Value| value.to_string();
    trial.set("schema", json(TRIAL_SCHEMA.into()));
    if let Some(close) = close {
        trial.set("id", json(close.trial_id.to_string().into()));
        trial.set("recorded_at", json(serde_json::to_value(close.recorded_at)?));
        if let Some(supersedes) = close.supersedes {
            trial.set("supersedes", json(supersedes.to_string().into()));
        }
    }
    let coupons: Vec<String> = coupons
        .iter()
        .map(|bytes| {
            let mut coupon = Members::of(bytes)?;
            for name in ["schema", "open_trial_id", "recorded_at", "extra"] {
                coupon.take(name);
            }
            Ok(coupon.to_string())
        })
        .collect::<serde_json::Result<_>>()?;
    trial.set("coupons", format!("[{}]", coupons.join(",")));
    Ok(trial.to_string().into_bytes())
}
