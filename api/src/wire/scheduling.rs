//! Questions about rechecks that are not due, or were not.

use chrono::{DateTime, Days, NaiveDate, TimeDelta, Utc};
use serde::Deserialize;
use utoipa::ToSchema;
use uuid::Uuid;

use super::configuration::Policy;
use super::{Measurement, Reader};
use crate::model::{self, Finding, OtherSheet};

/// How far ahead somebody may ask: as far as rechecks are scheduled.
const MOST_AHEAD_DAYS: u64 = 14;
/// The longest span that a policy is tried on.
const MOST_PREVIEWED: TimeDelta = TimeDelta::days(366);

/// What would be due on a day if the sheet were colder or warmer, or the wind stronger.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({ "sheet_temperature_change": { "unit": "K", "value": -15 } }))]
pub struct WeatherQuestion {
    /// The local day, today or one of the next 14; absent: each unit's tomorrow.
    pub date: Option<NaiveDate>,
    /// How much warmer, or colder if below zero, the sheet is than at each unit's last good trial; a difference.
    pub sheet_temperature_change: Option<Measurement>,
    /// Or the sheet's temperature.
    pub sheet_temperature: Option<Measurement>,
    /// The wind.
    pub wind_speed: Option<Measurement>,
    /// Of this unit alone.
    pub unit_id: Option<Uuid>,
    /// Of this crew's units alone.
    pub crew_id: Option<Uuid>,
}

impl WeatherQuestion {
    /// The question.
    ///
    /// # Errors
    /// Every broken rule with its pointer.
    pub fn read(&self, now: DateTime<Utc>) -> Result<model::WeatherQuestion, Vec<Finding>> {
        let mut reader = Reader::default();
        let change = reader.optional("/sheet_temperature_change", self.sheet_temperature_change.as_ref());
        let sheet = reader.climate("/sheet_temperature", self.sheet_temperature.as_ref());
        let wind = reader.optional("/wind_speed", self.wind_speed.as_ref());
        reader.require(
            self.sheet_temperature_change.is_none() || self.sheet_temperature.is_none(),
            "/sheet_temperature",
            "wrong_count",
            "Send the sheet's temperature or its change, not both.",
        );
        // A local day begins up to 14 hours before the same day of UTC, and ends up to 12 hours after it.
        let today = now.date_naive();
        let within =
            |day: NaiveDate| day >= today - Days::new(1) && day <= today + Days::new(MOST_AHEAD_DAYS);
        let detail = format!("Ask about today or one of the next {MOST_AHEAD_DAYS} days.");
        reader.require(self.date.is_none_or(within), "/date", "out_of_range", &detail);
        let question = (|| {
            Some(model::WeatherQuestion {
                date: self.date,
                sheet: sheet?.map(OtherSheet::At).or(change?.map(OtherSheet::By)),
                wind: wind?,
                unit_id: self.unit_id,
                crew_id: self.crew_id,
            })
        })();
        reader.findings.into_result(question)
    }
}

/// What a policy would have asked for in the past, beside the one in force.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PolicyQuestion {
    /// The policy, as it would be sent to be kept; from when it would hold does not matter.
    pub policy: Policy,
    /// From when.
    pub from: DateTime<Utc>,
    /// To when; absent: now. At most 366 days later.
    pub to: Option<DateTime<Utc>>,
}

impl PolicyQuestion {
    /// The question.
    ///
    /// # Errors
    /// Every broken rule with its pointer.
    pub fn read(self, now: DateTime<Utc>) -> Result<model::PolicyQuestion, Vec<Finding>> {
        let mut reader = Reader::default();
        let to = self.to.unwrap_or(now);
        reader.time("/from", self.from);
        reader.require(
            to <= now,
            "/to",
            "out_of_range",
            "Only the past can be looked at: send now or earlier.",
        );
        let span = to - self.from;
        reader.require(
            span > TimeDelta::zero(),
            "/from",
            "out_of_order",
            "It lies before `to`; check the times.",
        );
        let detail = "The span is at most 366 days long; ask for less.";
        reader.require(span <= MOST_PREVIEWED, "/from", "out_of_range", detail);
        let policy = match self.policy.read(now) {
            Ok((_, policy)) => Some(policy),
            Err(findings) => {
                for finding in findings {
                    reader.findings.add(format!("/policy{}", finding.pointer), finding.code, finding.detail);
                }
                None
            }
        };
        let question = policy.map(|policy| model::PolicyQuestion { policy, from: self.from, to });
        reader.findings.into_result(question)
    }
}
