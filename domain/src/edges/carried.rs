//! A trial together with what its unit's history lets expect: for advice, never for histories.

use super::posterior::{DegreeTable, GRID_START_CELSIUS, Posterior};
use super::{BothEdges, Edge, EdgeEvidence, Estimate, TrialEvidence};
use crate::numerics::{exp_moderate, normal};

/// One normal law among those that make up what is expected of an edge.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct NormalPart {
    /// Its share of the whole.
    pub(crate) weight: f64,
    /// Its mean, in °C.
    pub(crate) mean: f64,
    /// Its standard deviation, in kelvin.
    pub(crate) sd: f64,
}

/// Normal laws are followed to so many standard deviations.
const REACH: f64 = 6.5;

/// What is expected of an edge before the trial: a mixture of normal laws.
pub(crate) type Prior = Vec<NormalPart>;

/// One edge, from a trial and what was expected before it.
#[derive(Debug, Clone, PartialEq)]
pub struct CarriedEdge {
    /// Which edge.
    pub edge: Edge,
    /// Where it lies. There is an estimate even when the trial alone leaves the edge open: the history bounds it.
    pub estimate: Estimate,
    posterior: Posterior,
}

/// Both edges, from a trial and what was expected before it.
///
/// Only advice may use it. It holds no [`Profile`](super::Profile), and a history takes nothing else:
///
/// ```compile_fail
/// # fn take(carried: &lapwatch_domain::edges::CarriedEvidence) {
/// let into_a_history: &lapwatch_domain::edges::Profile = &carried.lower.profile;
/// # }
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct CarriedEvidence {
    /// The lower edge.
    pub lower: CarriedEdge,
    /// The upper edge.
    pub upper: CarriedEdge,
}

impl CarriedEvidence {
    /// The edges of a trial when these were expected. `None` when trial and expectation have nothing in common.
    pub(crate) fn new(trial: &TrialEvidence, expected: [&Prior; 2]) -> Option<Self> {
        Some(Self {
            lower: CarriedEdge::new(&trial.lower, expected[0])?,
            upper: CarriedEdge::new(&trial.upper, expected[1])?,
        })
    }

    /// One edge.
    #[must_use]
    pub const fn of(&self, edge: Edge) -> &CarriedEdge {
        match edge {
            Edge::Lower => &self.lower,
            Edge::Upper => &self.upper,
        }
    }
}

impl CarriedEdge {
    fn new(trial: &EdgeEvidence, expected: &Prior) -> Option<Self> {
        let smooth = expected.iter().map(|part| part.sd).fold(f64::INFINITY, f64::min);
        let posterior = trial.posterior.with_prior(&table(expected), smooth)?;
        Some(Self { edge: trial.edge, estimate: posterior.estimate(), posterior })
    }
}

/// The density of what is expected, at single degrees.
fn table(expected: &Prior) -> DegreeTable {
    let range = |part: &NormalPart| {
        let (place, reach) = (part.mean - GRID_START_CELSIUS, REACH * part.sd);
        ((place - reach).ceil() as isize, (place + reach).floor() as isize)
    };
    let first = expected.iter().map(|part| range(part).0).min().unwrap_or(0);
    let last = expected.iter().map(|part| range(part).1).max().unwrap_or(0);
    let mut values = vec![0.0; usize::try_from(last - first + 1).unwrap_or(0)];
    for part in expected {
        let (start, end) = range(part);
        let scale = part.weight / part.sd * normal::pdf(0.0);
        for degree in start..=end {
            let score = (GRID_START_CELSIUS + degree as f64 - part.mean) / part.sd;
            values[(degree - first) as usize] += scale * exp_moderate(-0.5 * score * score);
        }
    }
    DegreeTable { first, values }
}

impl BothEdges for CarriedEvidence {
    fn posterior(&self, edge: Edge) -> &Posterior {
        &self.of(edge).posterior
    }
}
