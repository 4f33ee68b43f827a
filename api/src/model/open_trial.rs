//! Trials that are sent piece by piece.

use chrono::{DateTime, Utc};
use lapwatch_domain::coded_enum;
use uuid::Uuid;

use super::Trial;

/// The beginning of a trial: everything but its coupons.
#[derive(Debug, Clone, PartialEq)]
pub struct OpenTrial {
    /// Its id.
    pub id: Uuid,
    /// The trial so far, without coupons, under the same id.
    pub trial: Trial,
}

/// A coupon of an open trial.
#[derive(Debug, Clone, PartialEq)]
pub struct SentCoupon {
    /// Its id.
    pub id: Uuid,
    /// The open trial.
    pub open_trial_id: Uuid,
    /// When it was written down.
    pub recorded_at: DateTime<Utc>,
    /// What was welded and peeled.
    pub coupon: super::Coupon,
}

/// The end of an open trial: it becomes a trial of the coupons named.
#[derive(Debug, Clone, PartialEq)]
pub struct TrialClose {
    /// Its id.
    pub id: Uuid,
    /// The open trial.
    pub open_trial_id: Uuid,
    /// Id of the trial that it becomes.
    pub trial_id: Uuid,
    /// When it was written down.
    pub recorded_at: DateTime<Utc>,
    /// The coupons, in the order they were welded.
    pub coupon_ids: Vec<Uuid>,
    /// The trial whose place the new one takes, if it had been closed before.
    pub supersedes: Option<Uuid>,
}

coded_enum! {
    /// What became of an open trial.
    pub enum OpenState {
        /// Unfinished.
        Open = "open",
        /// It became a trial.
        Closed = "closed",
        /// It was withdrawn.
        Retracted = "retracted",
    }
}
