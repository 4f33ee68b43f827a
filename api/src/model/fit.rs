//! What an organization's own trials said, as of a moment.

use chrono::{DateTime, TimeDelta, Utc};
use lapwatch_domain::edges::EdgePrior;
use lapwatch_domain::fleet::{self, Fit};
use lapwatch_domain::quantity::TemperatureUnit;
use uuid::Uuid;

use super::Trial;

/// A fit with its date. It never changes; a later one stands beside it.
#[derive(Debug, Clone, PartialEq)]
pub struct FleetFit {
    /// Id.
    pub id: Uuid,
    /// When it was begun.
    pub made_at: DateTime<Utc>,
    /// From when on trials are judged by it: [`FleetFit::HOLDS_AFTER`] later.
    pub effective_from: DateTime<Utc>,
    /// What was found.
    pub fit: Fit,
}

impl FleetFit {
    /// How long after it was begun a fit begins to hold. A trial that claims to be performed more than
    /// [`Trial::MOST_AHEAD`] after its receipt is kept out of derived state; the hour beyond that is for trials received
    /// while the fit is being made. So nothing that derived state holds was judged by a fit that came after it.
    pub const HOLDS_AFTER: TimeDelta = TimeDelta::hours(Trial::MOST_AHEAD.num_hours() + 1);
}

/// What a fit lets a trial assume of its strips.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DatedPrior {
    /// The fit.
    pub fit: Uuid,
    /// When it was made.
    pub made_at: DateTime<Utc>,
    /// Correlation and scatter of strips.
    pub prior: EdgePrior,
}

impl DatedPrior {
    /// What a trial was judged with, in a sentence: what this fit says, or without one the usual values.
    pub fn sentence(prior: Option<&Self>, unit: TemperatureUnit) -> String {
        let assumed = prior.map(|dated| dated.prior).unwrap_or_default();
        fleet::assumed(&assumed, prior.map(|dated| dated.made_at), unit)
    }
}
