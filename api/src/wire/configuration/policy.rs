//! The recheck policy.

use chrono::{DateTime, NaiveDate, NaiveTime, Utc};
use lapwatch_domain::quantity::{PercentUnit, WindSpeedUnit};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::model::{self, Finding};
use crate::wire::{Measurement, Reader};

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
    /// What that interval shortens to at most, with failed trials, lost margins and drift; absent in a request: it stays.
    #[schema(minimum = 1, maximum = 365, example = 7)]
    pub least_edge_finding_interval_days: Option<u16>,
    /// What it lengthens to at most, with edge-finding trials that stand; absent in a request: it stays.
    #[schema(minimum = 1, maximum = 365, example = 28)]
    pub most_edge_finding_interval_days: Option<u16>,
    /// So many days before a drift may have used up the margin a trial is due; absent in a request: 3.
    #[schema(maximum = 60, example = 3)]
    pub limit_lead_days: Option<u16>,
    /// How much of its margin, `%`, a band may lose to another sheet temperature before a new trial is due; absent in a request:
    /// 100.
    pub carry_share: Option<Measurement>,
    /// A trial made in less wind than this does not cover more; absent in a request: 5.5 m/s.
    pub wind_from: Option<Measurement>,
    /// Whether each operator makes a check of their own; absent in a request: no.
    pub operator_checks: Option<bool>,
    /// Days on which nobody works, unless a day plan says otherwise; at most 400.
    #[serde(default)]
    #[schema(max_items = 400)]
    pub closed_days: Vec<NaiveDate>,
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
        let more = self.more(&mut reader);
        let promise = self.promise_arl_trials;
        let fits = (20.0..=100_000.0).contains(&promise);
        reader.require(fits, "/promise_arl_trials", range, "It lies between 20 and 100000.");
        let mut working_days = self.working_days;
        working_days.sort_unstable();
        working_days.dedup();
        let value = more.map(|more| model::Policy {
            working_days,
            shift_start: self.shift_start,
            trial_due_after_min: self.trial_due_after_min,
            in_use_days: self.in_use_days,
            edge_finding_interval_days: interval,
            promise_arl_trials: promise,
            ..more
        });
        let effective_from = self.effective_from.unwrap_or(now);
        reader.time("/effective_from", effective_from);
        Ok((effective_from, reader.findings.into_result(value)?))
    }

    /// What may be left out of a request; the other members of the answer are not meant.
    fn more(&self, r: &mut Reader) -> Option<model::Policy> {
        let usual = model::Policy::default();
        let interval = self.edge_finding_interval_days;
        let least = self.least_edge_finding_interval_days.unwrap_or(interval);
        let most = self.most_edge_finding_interval_days.unwrap_or(interval);
        let detail = "It lies between 1 and `edge_finding_interval_days`.";
        let fits = (1..=interval).contains(&least);
        r.require(fits, "/least_edge_finding_interval_days", "out_of_range", detail);
        let detail = "It lies between `edge_finding_interval_days` and 365.";
        let fits = (interval..=365).contains(&most) || interval > 365;
        r.require(fits, "/most_edge_finding_interval_days", "out_of_range", detail);
        let lead = self.limit_lead_days.unwrap_or(usual.limit_lead_days);
        r.require(lead <= 60, "/limit_lead_days", "out_of_range", "At most 60 days.");
        let fits = self.closed_days.len() <= 400;
        r.require(fits, "/closed_days", "wrong_count", "Name at most 400 days.");
        for (index, day) in self.closed_days.iter().enumerate() {
            r.day(&format!("/closed_days/{index}"), *day);
        }
        let carry_share = r.optional("/carry_share", self.carry_share.as_ref());
        let wind_from = r.optional("/wind_from", self.wind_from.as_ref());
        let mut closed_days = self.closed_days.clone();
        closed_days.sort_unstable();
        closed_days.dedup();
        Some(model::Policy {
            least_edge_finding_interval_days: least,
            most_edge_finding_interval_days: most,
            limit_lead_days: lead,
            carry_share: carry_share?.unwrap_or(usual.carry_share),
            wind_from: wind_from?.unwrap_or(usual.wind_from),
            operator_checks: self.operator_checks.unwrap_or(false),
            closed_days,
            ..usual
        })
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
            least_edge_finding_interval_days: Some(policy.least_edge_finding_interval_days),
            most_edge_finding_interval_days: Some(policy.most_edge_finding_interval_days),
            limit_lead_days: Some(policy.limit_lead_days),
            carry_share: Some(Measurement::of(policy.carry_share, PercentUnit::Percent)),
            wind_from: Some(Measurement::of(policy.wind_from, WindSpeedUnit::MetrePerSecond)),
            operator_checks: Some(policy.operator_checks),
            closed_days: policy.closed_days.clone(),
            promise_arl_trials: policy.promise_arl_trials,
        }
    }
}
