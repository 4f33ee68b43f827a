//! What another person read of a trial's strips.

use chrono::{DateTime, Utc};
use lapwatch_domain::acceptance::Reading;
use uuid::Uuid;

/// What another person read of a trial's strips, without knowing how they had been read.
#[derive(Debug, Clone, PartialEq)]
pub struct SecondReading {
    /// Id.
    pub id: Uuid,
    /// The trial.
    pub trial_id: Uuid,
    /// Who read.
    pub read_by: String,
    /// When.
    pub read_at: DateTime<Utc>,
    /// The readings, by coupon and strip in the trial's order; `None` for a strip that this person did not read.
    pub coupons: Vec<Vec<Option<Reading>>>,
    /// Remarks.
    pub remarks: Option<String>,
    /// The record whose place it takes.
    pub supersedes: Option<Uuid>,
    /// When it was written down, if the record says so.
    pub recorded_at: Option<DateTime<Utc>>,
}
