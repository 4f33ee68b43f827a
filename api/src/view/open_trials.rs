//! Trials that are sent piece by piece.

use chrono::{DateTime, Utc};
use serde::Serialize;
use serde_json::value::RawValue;
use utoipa::ToSchema;
use uuid::Uuid;

use super::evaluation::TrialEvaluation;
use crate::service::open_trials::{Advice, Progress};
use crate::storage::records::OpenTrialRow;
use crate::wire::trial;

/// An open trial in a list.
#[derive(Debug, Serialize, ToSchema)]
pub struct OpenTrialSummary {
    /// Its id.
    pub id: Uuid,
    /// The unit.
    pub unit_id: Uuid,
    /// The crew that welds.
    pub crew_id: Option<Uuid>,
    /// When it began, by the client's clock.
    pub performed_at: DateTime<Utc>,
    /// `open`: more coupons or a close are awaited. `closed`: it became the trial `closed_as`. `retracted`.
    #[schema(example = "open")]
    pub state: &'static str,
    /// The trial that it became; null while it is open.
    pub closed_as: Option<Uuid>,
    /// How many coupons were sent, those withdrawn not among them.
    #[schema(example = 3)]
    pub coupon_count: i64,
}

/// An open trial as it is now.
#[derive(Debug, Serialize, ToSchema)]
pub struct OpenTrialProgress {
    /// What became of it.
    pub open_trial: OpenTrialSummary,
    /// The beginning as it was sent, every literal.
    #[schema(value_type = trial::OpenTrial)]
    pub record: Box<RawValue>,
    /// The coupons as they were sent, in the order in which they were written down; those withdrawn are not among them.
    #[schema(value_type = Vec<trial::SentCoupon>)]
    pub coupons: Vec<Box<RawValue>>,
    /// What the coupons say so far, above all what to weld next; null before the first. It counts for nothing until the close.
    pub evaluation: Option<TrialEvaluation>,
}

impl From<&OpenTrialRow> for OpenTrialSummary {
    fn from(row: &OpenTrialRow) -> Self {
        Self {
            id: row.id,
            unit_id: row.unit_id,
            crew_id: row.crew_id,
            performed_at: row.performed_at,
            state: row.state.code(),
            closed_as: row.closed_as,
            coupon_count: row.coupons,
        }
    }
}

impl OpenTrialProgress {
    /// The open trial as it is sent, with what was sent of it.
    pub fn of(progress: &Progress, record: Box<RawValue>, coupons: Vec<Box<RawValue>>) -> Self {
        Self {
            open_trial: OpenTrialSummary::from(&progress.row),
            record,
            coupons,
            evaluation: progress.advice.as_ref().map(evaluation),
        }
    }
}

fn evaluation(advice: &Advice) -> TrialEvaluation {
    let units = (advice.trial.temperature_unit, advice.trial.speed_unit);
    TrialEvaluation::of(&advice.evaluation, advice.context.prior.as_ref(), units)
}
