//! What the units of a fleet share, as of a moment.

use chrono::{DateTime, NaiveDate, Utc};
use lapwatch_domain::fleet::{MadeFrom, Shared, SharedBy};
use std::collections::HashMap;
use uuid::Uuid;

/// A fit of shared shifts with its date. It never changes; a later one stands beside it.
#[derive(Debug, Clone, PartialEq)]
pub struct SharedFit {
    /// Id.
    pub id: Uuid,
    /// When it was made; charts take off what it says from then on, of all their trials.
    pub made_at: DateTime<Utc>,
    /// What it was made from.
    pub made_from: MadeFrom,
    /// What was found.
    pub shared: Shared,
    /// When the days begin and end that are among the shifts.
    pub days: Days,
}

/// When the days of sites begin and end.
pub type Days = HashMap<(Uuid, NaiveDate), (DateTime<Utc>, DateTime<Utc>)>;

impl SharedFit {
    /// When a shared day begins and ends; `None` for what is no day.
    pub fn day(&self, by: &SharedBy) -> Option<(DateTime<Utc>, DateTime<Utc>)> {
        match by {
            SharedBy::Day(site, date) => self.days.get(&(*site, *date)).copied(),
            SharedBy::Membrane(_) | SharedBy::Lot(_) => None,
        }
    }
}
