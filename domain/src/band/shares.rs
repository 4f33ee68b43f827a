//! Predicted shares of cold and hot strips.

use crate::edges::{BothEdges, CarriedEvidence, Edge, Grouping, Mixture, TrialEvidence};

/// Shares stay exact to about 1e-5, and to 5e-4 where an end of the grid cuts the posterior off.
const GROUPING: Grouping = Grouping { per_sigma: 0.5, least_kelvin: 2.0, negligible: 1e-10 };

/// With a prior edges are spread so smoothly that more of them can be taken as one, to the same exactness.
const CARRIED_GROUPING: Grouping = Grouping { per_sigma: 0.5, least_kelvin: 6.0, negligible: 1e-7 };

/// Predicted shares of cold and of hot strips at any temperature.
pub(crate) struct Shares {
    lower: Mixture,
    upper: Mixture,
}

impl Shares {
    pub(crate) fn new(evidence: &TrialEvidence) -> Self {
        Self::of(evidence, GROUPING)
    }

    /// The shares that a trial and its unit's history predict together.
    pub(crate) fn carried(edges: &CarriedEvidence) -> Self {
        Self::of(edges, CARRIED_GROUPING)
    }

    /// The same without putting edges together beyond what a trial alone allows.
    #[cfg(test)]
    pub(crate) fn fine(edges: &CarriedEvidence) -> Self {
        Self::of(edges, GROUPING)
    }

    fn of(edges: &impl BothEdges, grouping: Grouping) -> Self {
        let mixture = |edge| edges.posterior(edge).mixture(grouping);
        Self { lower: mixture(Edge::Lower), upper: mixture(Edge::Upper) }
    }

    /// Share of cold strips: those whose lower edge lies above.
    pub(crate) fn cold(&self, celsius: f64) -> f64 {
        self.lower.share_above(celsius)
    }

    /// Share of hot strips: those whose upper edge lies below.
    pub(crate) fn hot(&self, celsius: f64) -> f64 {
        1.0 - self.upper.share_above(celsius)
    }

    /// How fast the cold share falls with temperature, per kelvin.
    pub(crate) fn cold_fall(&self, celsius: f64) -> f64 {
        self.lower.density(celsius)
    }

    /// How fast the hot share rises with temperature, per kelvin.
    pub(crate) fn hot_rise(&self, celsius: f64) -> f64 {
        self.upper.density(celsius)
    }
}
