//! The recheck policy.

use chrono::{DateTime, NaiveTime, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::model::{self, Finding};
use crate::wire::Reader;

/// When trials are due.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Policy {
    /// From when this version holds; absent in a request: from now.
    pub effective_from: Option<DateTime<Utc>>,
    /// ISO week days (1 Monday … 7 Sunday) on which crews work when there is no day plan.
    #[schema(example = json!([1, 2, 3, 4, 5, 6]))]
    pub working_days: Vec<u8>,
    /// Local start of the shift.
    #[schema(value_type = String, example = "07:00:00")]
    pub shift_start: NaiveTime,
    /// Minutes after the start of the shift when the daily trial is due.
    #[schema(maximum = 720, example = 120)]
    pub trial_due_after_min: u16,
    /// Days after its last trial or weld that a unit counts as in use when there is no day plan.
    #[schema(minimum = 1, maximum = 60, example = 7)]
    pub in_use_days: u16,
    /// Longest time between edge-finding trials, in days.
    #[schema(minimum = 1, maximum = 365, example = 14)]
    pub edge_finding_interval_days: u16,
    /// Trials between false alarms of one healthy unit, on average over all its charts.
    #[schema(minimum = 20, maximum = 100000, example = 500)]
    pub promise_arl_trials: f64,
}

impl Policy {
    /// The policy it describes and from when it holds.
    ///
    /// # Errors
    /// Every broken rule with its pointer.
    pub fn read(self, now: DateTime<Utc>) -> Result<(DateTime<Utc>, model::Policy), Vec<Finding>> {
        let mut reader = Reader::default();
        let range = "out_of_range";
        for (index, day) in self.working_days.iter().enumerate() {
            let pointer = format!("/working_days/{index}");
            reader.require((1..=7).contains(day), &pointer, range, "Days run from 1, Monday, to 7, Sunday.");
        }
        reader.require(
            self.trial_due_after_min <= 720,
            "/trial_due_after_min",
            range,
            "At most 720 minutes.",
        );
        reader.require(
            (1..=60).contains(&self.in_use_days),
            "/in_use_days",
            range,
            "It lies between 1 and 60.",
        );
        let interval = self.edge_finding_interval_days;
        reader.require(
            (1..=365).contains(&interval),
            "/edge_finding_interval_days",
            range,
            "It lies between 1 and 365.",
        );
        let promise = self.promise_arl_trials;
        let fits = (20.0..=100_000.0).contains(&promise);
        reader.require(fits, "/promise_arl_trials", range, "It lies between 20 and 100000.");
        let mut working_days = self.working_days;
        working_days.sort_unstable();
        working_days.dedup();
        let value = model::Policy {
            working_days,
            shift_start: self.shift_start,
            trial_due_after_min: self.trial_due_after_min,
            in_use_days: self.in_use_days,
            edge_finding_interval_days: interval,
            promise_arl_trials: promise,
        };
        let effective_from = self.effective_from.unwrap_or(now);
        reader.time("/effective_from", effective_from);
        Ok((effective_from, reader.findings.into_result(Some(value))?))
    }

    /// The form of a policy in force since `effective_from`.
    pub fn show(effective_from: DateTime<Utc>, policy: &model::Policy) -> Self {
        Self {
            effective_from: Some(effective_from),
            working_days: policy.working_days.clone(),
            shift_start: policy.shift_start,
            trial_due_after_min: policy.trial_due_after_min,
            in_use_days: policy.in_use_days,
            edge_finding_interval_days: policy.edge_finding_interval_days,
            promise_arl_trials: policy.promise_arl_trials,
        }
    }
}
