//! The items of an envelope: records of every kind, each under its schema.

mod split;

use chrono::{DateTime, Utc};
use serde::Deserialize;
use serde::de::DeserializeOwned;
use serde_json::Value;
use uuid::Uuid;

pub use split::{Broken, Framing, Piece, Splitter};

use super::day::{DayEvent, SeamCheck};
use super::photo::Photo;
use super::readings::SecondReading;
use super::records::{DayPlan, Decision, ProductionSpan, RecordForm};
use super::retraction::Retraction;
use super::service::SentServiceEvent;
use super::shared::SharedDecision;
use super::{JsonError, parse, trial};
use crate::model::{self, Finding, NotRead, RecordKind};

/// A record of any kind.
#[derive(Debug)]
pub enum Item {
    /// A trial.
    Trial(Box<model::Trial>),
    /// A service event.
    ServiceEvent(model::ServiceEvent),
    /// A day plan.
    DayPlan(model::DayPlan),
    /// A production span.
    ProductionSpan(model::ProductionSpan),
    /// A decision.
    Decision(model::Decision),
    /// What another person read of a trial's strips.
    SecondReading(model::SecondReading),
    /// What a crew noted in the course of its day.
    DayEvent(model::DayEvent),
    /// A check of a production span's seams.
    SeamCheck(model::SeamCheck),
    /// A record that withdraws another.
    Retraction(model::Retraction),
    /// The beginning of a trial that is sent piece by piece.
    OpenTrial(Box<model::OpenTrial>),
    /// A coupon of such a trial.
    Coupon(Box<model::SentCoupon>),
    /// The end of such a trial.
    TrialClose(model::TrialClose),
    /// That a photo belongs to a record.
    Photo(model::Photo),
    /// A decision about a shift that units share.
    SharedDecision(model::SharedDecision),
}

/// What an item claims to be, as far as that can be read.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Claim {
    /// Its schema.
    pub schema: Option<String>,
    /// Its id.
    pub id: Option<Uuid>,
}

impl Claim {
    /// The claim of these bytes, whatever else is wrong with them.
    pub fn of(bytes: &[u8]) -> Self {
        #[derive(Default, Deserialize)]
        struct Members {
            schema: Option<Value>,
            id: Option<Value>,
        }
        let members: Members = serde_json::from_slice(bytes).unwrap_or_default();
        // PostgreSQL cannot hold NUL in a text, and nobody's schema is longer.
        let plain = |text: &&str| text.len() <= 100 && !text.chars().any(char::is_control);
        let text =
            |value: &Option<Value>| value.as_ref().and_then(Value::as_str).filter(plain).map(str::to_owned);
        Self { schema: text(&members.schema), id: text(&members.id).and_then(|id| id.parse().ok()) }
    }
}

impl Item {
    /// The record in these bytes.
    ///
    /// # Errors
    /// What is wrong with it, with pointers.
    pub fn read(bytes: &[u8], now: DateTime<Utc>) -> Result<Self, Vec<Finding>> {
        let schema = Claim::of(bytes).schema;
        match schema.as_deref().map(RecordKind::of_schema) {
            Some(Ok(kind)) => Self::of_kind(kind, bytes, now),
            Some(Err(why)) => Err(vec![no_kind(bytes, schema.as_deref(), why)]),
            None => Err(vec![no_kind(bytes, None, NotRead::Unknown)]),
        }
    }

    /// The record of this kind in these bytes.
    ///
    /// # Errors
    /// What is wrong with it, with pointers.
    pub fn of_kind(kind: RecordKind, bytes: &[u8], now: DateTime<Utc>) -> Result<Self, Vec<Finding>> {
        Ok(match kind {
            RecordKind::Trial => Self::Trial(Box::new(form::<trial::Trial>(bytes)?.read()?)),
            RecordKind::ServiceEvent => {
                let form = SentServiceEvent::parse(bytes).map_err(|error| vec![finding(error)])?;
                Self::ServiceEvent(form.read(now)?)
            }
            RecordKind::DayPlan => Self::DayPlan(form::<DayPlan>(bytes)?.read(now)?),
            RecordKind::ProductionSpan => Self::ProductionSpan(form::<ProductionSpan>(bytes)?.read(now)?),
            RecordKind::Decision => Self::Decision(form::<Decision>(bytes)?.read(now)?),
            RecordKind::SecondReading => Self::SecondReading(form::<SecondReading>(bytes)?.read(now)?),
            RecordKind::DayEvent => Self::DayEvent(form::<DayEvent>(bytes)?.read(now)?),
            RecordKind::SeamCheck => Self::SeamCheck(form::<SeamCheck>(bytes)?.read(now)?),
            RecordKind::Retraction => Self::Retraction(form::<Retraction>(bytes)?.read(now)?),
            RecordKind::OpenTrial => {
                let form = trial::OpenTrial::parse(bytes).map_err(|error| vec![finding(error)])?;
                Self::OpenTrial(Box::new(form.read()?))
            }
            RecordKind::SentCoupon => Self::Coupon(Box::new(form::<trial::SentCoupon>(bytes)?.read()?)),
            RecordKind::TrialClose => Self::TrialClose(form::<trial::TrialClose>(bytes)?.read(now)?),
            RecordKind::Photo => Self::Photo(form::<Photo>(bytes)?.read(now)?),
            RecordKind::SharedDecision => Self::SharedDecision(form::<SharedDecision>(bytes)?.read(now)?),
        })
    }
}

fn form<T: DeserializeOwned>(bytes: &[u8]) -> Result<T, Vec<Finding>> {
    parse(bytes).map_err(|error| vec![finding(error)])
}

fn finding(error: JsonError) -> Finding {
    match error {
        JsonError::Malformed(detail) => Finding::new("", "malformed_json", detail),
        JsonError::Shape(finding) => finding,
    }
}

/// What is wrong with an item that is none of the kinds.
fn no_kind(bytes: &[u8], schema: Option<&str>, why: NotRead) -> Finding {
    if let Err(findings) = form::<Value>(bytes)
        && let Some(finding) = findings.into_iter().next()
    {
        return finding;
    }
    let listed = |schemas: &mut dyn Iterator<Item = String>| {
        schemas.map(|schema| format!("`{schema}`")).collect::<Vec<_>>().join(", ")
    };
    let known = listed(&mut RecordKind::ALL.iter().flat_map(|kind| kind.schemas()));
    let schema = schema.map(|schema| format!("`{schema}`"));
    let (code, detail) = match (schema, why) {
        (Some(schema), NotRead::Newer(kind)) => {
            let known = listed(&mut kind.schemas());
            let detail = format!(
                "{schema} is newer than this service, which reads {known}. It is taken once that is."
            );
            ("schema_unknown", detail)
        }
        (Some(schema), NotRead::Retired(kind)) => {
            let known = listed(&mut kind.schemas());
            let detail =
                format!("{schema} is not read any more; bring the client up to date: it sends {known} then.");
            ("schema_retired", detail)
        }
        (Some(schema), NotRead::Unknown) => {
            ("schema_unknown", format!("{schema} is not known here; send one of {known}."))
        }
        (None, _) => {
            ("schema_unknown", format!("An item says what it is by its member `schema`: one of {known}."))
        }
    };
    Finding::new("/schema", code, detail)
}
