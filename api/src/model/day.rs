//! What happens in the course of a crew's day, and what is found when seams are checked.

use chrono::{DateTime, Utc};
use lapwatch_domain::quantity::{Temperature, WindSpeed};
use lapwatch_domain::recheck::DayEventKind;
use lapwatch_domain::suspect::{SeamCheckMethod, SeamCheckResult};
use uuid::Uuid;

/// What a crew noted in the course of its day.
#[derive(Debug, Clone, PartialEq)]
pub struct DayEvent {
    /// Id.
    pub id: Uuid,
    /// The crew.
    pub crew_id: Uuid,
    /// The unit it concerns; none: every unit that the crew has.
    pub unit_id: Option<Uuid>,
    /// When.
    pub at: DateTime<Utc>,
    /// What happened.
    pub kind: DayEventKind,
    /// Temperature of the sheet, if it was read.
    pub sheet_temperature: Option<Temperature>,
    /// Wind, if it was read.
    pub wind_speed: Option<WindSpeed>,
    /// The product that is welded from then on.
    pub membrane_id: Option<Uuid>,
    /// Its production run.
    pub lot_id: Option<Uuid>,
    /// Who runs the welder from then on.
    pub operator: Option<String>,
    /// Remarks.
    pub remarks: Option<String>,
    /// The record whose place it takes.
    pub supersedes: Option<Uuid>,
    /// When it was written down, if the record says so.
    pub recorded_at: Option<DateTime<Utc>>,
}

/// What was found when a span's seams were checked.
#[derive(Debug, Clone, PartialEq)]
pub struct SeamCheck {
    /// Id.
    pub id: Uuid,
    /// The production span.
    pub span_id: Uuid,
    /// The unit that welded it.
    pub unit_id: Uuid,
    /// When.
    pub at: DateTime<Utc>,
    /// How.
    pub method: SeamCheckMethod,
    /// What became of it.
    pub result: SeamCheckResult,
    /// Where on the span.
    pub place: Option<String>,
    /// Who checked it.
    pub checked_by: Option<String>,
    /// Remarks.
    pub remarks: Option<String>,
    /// The record whose place it takes.
    pub supersedes: Option<Uuid>,
    /// When it was written down, if the record says so.
    pub recorded_at: Option<DateTime<Utc>>,
}
