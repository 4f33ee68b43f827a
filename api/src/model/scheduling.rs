//! Questions about rechecks that are not due, or were not.

use chrono::{DateTime, NaiveDate, Utc};
use lapwatch_domain::quantity::{Temperature, TemperatureDifference, WindSpeed};
use uuid::Uuid;

use super::Policy;

/// The sheet of the day that is asked about.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum OtherSheet {
    /// So much warmer, or colder, than at each unit's last good trial.
    By(TemperatureDifference),
    /// At this temperature.
    At(Temperature),
}

/// What would be due if the weather were different.
#[derive(Debug, Clone, PartialEq)]
pub struct WeatherQuestion {
    /// The local day; none: each unit's tomorrow.
    pub date: Option<NaiveDate>,
    /// Its sheet, if that is asked about.
    pub sheet: Option<OtherSheet>,
    /// Its wind, if that is asked about.
    pub wind: Option<WindSpeed>,
    /// Of this unit alone.
    pub unit_id: Option<Uuid>,
    /// Of this crew's units alone.
    pub crew_id: Option<Uuid>,
}

/// What a policy would have asked for.
#[derive(Debug, Clone, PartialEq)]
pub struct PolicyQuestion {
    /// The policy.
    pub policy: Policy,
    /// From when.
    pub from: DateTime<Utc>,
    /// To when.
    pub to: DateTime<Utc>,
}
