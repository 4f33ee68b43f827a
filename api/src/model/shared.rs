//! What the units of a fleet share, as of a moment.

use chrono::{DateTime, NaiveDate, Utc};
use lapwatch_domain::fleet::{MadeFrom, Shared, SharedBy, SharedShift};
use lapwatch_domain::membrane::MaterialClass;
use lapwatch_domain::standing::DecisionKind;
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

/// What a person decided about a shift that units share.
#[derive(Debug, Clone, PartialEq)]
pub struct SharedDecision {
    /// Id.
    pub id: Uuid,
    /// What was decided.
    pub kind: DecisionKind,
    /// The product, the run or the day.
    pub by: SharedBy,
    /// On sheets of this class; `None`: of any.
    pub class: Option<MaterialClass>,
    /// When.
    pub at: DateTime<Utc>,
    /// Why, to whom, or what else there is to say.
    pub remark: Option<String>,
}

impl SharedDecision {
    /// Whether it is about this shift.
    pub fn concerns(&self, shift: &SharedShift) -> bool {
        self.by == shift.by && self.class.is_none_or(|class| class == shift.class)
    }
}
