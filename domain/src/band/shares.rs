//! Predicted shares of cold and hot strips.

use crate::edges::{BothEdges, Edge, Grouping, Mixture};

/// Shares stay exact to about 2e-6.
const GROUPING: Grouping = Grouping { per_sigma: 0.5, least_kelvin: 2.0, negligible: 1e-10 };

/// Predicted shares of cold and of hot strips at any temperature.
pub(crate) struct Shares {
    lower: Mixture,
    upper: Mixture,
}

impl Shares {
    pub(crate) fn new(edges: &impl BothEdges) -> Self {
        let mixture = |edge| edges.posterior(edge).mixture(GROUPING);
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
