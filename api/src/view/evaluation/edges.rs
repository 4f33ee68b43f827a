//! Where the edges lie.

use lapwatch_domain::edges::{EdgeEvidence, Estimate};
use lapwatch_domain::quantity::TemperatureUnit;
use serde::Serialize;
use utoipa::ToSchema;

use crate::view::{apart, on};
use crate::wire::Measurement;

/// Both edges.
#[derive(Debug, Serialize, ToSchema)]
pub struct Edges {
    /// Below it strips open.
    pub lower: Edge,
    /// Above it strips scorch.
    pub upper: Edge,
}

/// What the trial alone says of one edge: the temperature at which half the strips would fail. For histories; a crew is
/// given the band.
#[derive(Debug, Serialize, ToSchema)]
pub struct Edge {
    /// `bracketed`, `open_above`, `open_below` or `none`.
    #[schema(example = "bracketed")]
    pub class: &'static str,
    /// Posterior mean; null unless bracketed.
    pub mean: Option<Measurement>,
    /// Posterior standard deviation.
    pub standard_deviation: Option<Measurement>,
    /// 2.5 %, 50 % and 97.5 % points.
    pub interval: Option<Interval>,
    /// The steps between which the raw readings put it.
    pub bracket: Bracket,
    /// For an open edge: the limit beyond which it lies with 95 % confidence.
    pub bound: Option<Measurement>,
}

/// A central 95 % interval with the median.
#[derive(Debug, Serialize, ToSchema)]
pub struct Interval {
    /// 2.5 % point.
    pub low: Measurement,
    /// Median.
    pub median: Measurement,
    /// 97.5 % point.
    pub high: Measurement,
}

/// The steps between which raw readings put an edge.
#[derive(Debug, Serialize, ToSchema)]
pub struct Bracket {
    /// The step furthest into the band with a failing strip.
    pub failing: Option<Measurement>,
    /// The outermost step from which inwards no strip failed.
    pub clear: Option<Measurement>,
}

impl Edge {
    pub(in crate::view) fn of(edge: &EdgeEvidence, unit: TemperatureUnit) -> Self {
        let (mean, standard_deviation, interval) = match &edge.estimate {
            Some(estimate) => (
                Some(on(unit, estimate.mean)),
                Some(apart(unit, estimate.sd)),
                Some(Interval::of(estimate, unit)),
            ),
            None => (None, None, None),
        };
        Self {
            class: edge.class.code(),
            mean,
            standard_deviation,
            interval,
            bracket: Bracket {
                failing: edge.bracket.failing.map(|temperature| on(unit, temperature)),
                clear: edge.bracket.clear.map(|temperature| on(unit, temperature)),
            },
            bound: edge.bound.map(|temperature| on(unit, temperature)),
        }
    }
}

impl Interval {
    pub(in crate::view) fn of(estimate: &Estimate, unit: TemperatureUnit) -> Self {
        Self { low: on(unit, estimate.q025), median: on(unit, estimate.q500), high: on(unit, estimate.q975) }
    }
}
