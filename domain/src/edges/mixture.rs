//! The posterior of an edge as a mixture of normal laws.

use std::sync::OnceLock;

use super::lattice::{self, Level};
use super::posterior::{GRID_START_CELSIUS, Posterior, Row};
use crate::numerics::{HermiteTable, normal};

/// How far edges are put together: a compromise between exactness and time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Grouping {
    /// The span of edges put together, as a ratio to the scatter of strips.
    pub(crate) per_sigma: f64,
    /// Edges closer than this, in kelvin, are put together whatever the scatter.
    pub(crate) least_kelvin: f64,
    /// Groups with less weight than this are left out.
    pub(crate) negligible: f64,
}

/// A normal part of the predicted distribution of the temperature at which a strip changes: edges close together beside
/// their common scatter, taken as one.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Component {
    /// Share of the whole.
    pub(crate) weight: f64,
    /// Its mean, in °C.
    pub(crate) mean: f64,
    /// Its standard deviation, in kelvin: scatter of strips and spread of the edges put together.
    pub(crate) sd: f64,
    /// The variance of the edges put together.
    pub(crate) edge_variance: f64,
}

/// The predicted distribution of the temperature at which a strip changes from short of an edge to beyond it.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Mixture {
    pub(crate) components: Vec<Component>,
}

impl Mixture {
    pub(super) fn new(posterior: &Posterior, grouping: Grouping) -> Self {
        let sums = lattice::sum_weights(posterior.marginal().len());
        let mut components = Vec::new();
        for row in &posterior.rows {
            let span = (grouping.per_sigma * row.sigma).max(grouping.least_kelvin);
            let group = (span / Level(row.level).spacing()).max(1.0) as usize;
            let places = row.weights.iter().zip(&sums[row.level][row.first..]).enumerate();
            let places: Vec<(f64, f64)> = places
                .map(|(index, (weight, sum))| {
                    (Level(row.level).degree(row.first + index), weight * sum * posterior.per_total)
                })
                .collect();
            components
                .extend(places.chunks(group).filter_map(|chunk| merge(chunk, row, grouping.negligible)));
        }
        // What was left out is shared among the rest.
        let total: f64 = components.iter().map(|part| part.weight).sum();
        components.iter_mut().for_each(|part| part.weight /= total);
        Self { components }
    }

    /// The share of strips that change above `celsius`.
    pub(crate) fn share_above(&self, celsius: f64) -> f64 {
        let cdf = &curves().cdf;
        let share: f64 = (self.components.iter())
            .map(|part| part.weight * cdf.at(((part.mean - celsius) / part.sd).clamp(-CURVE_END, CURVE_END)))
            .sum();
        share.clamp(0.0, 1.0)
    }

    /// The density of the distribution at `celsius`, per kelvin: how fast [`Self::share_above`] falls.
    pub(crate) fn density(&self, celsius: f64) -> f64 {
        let pdf = &curves().pdf;
        (self.components.iter())
            .map(|part| {
                part.weight / part.sd * pdf.at(((part.mean - celsius) / part.sd).clamp(-CURVE_END, CURVE_END))
            })
            .sum()
    }
}

/// Edges of one row taken as one normal law with their total weight, mean and variance; `None` when they weigh next to nothing.
fn merge(places: &[(f64, f64)], row: &Row, negligible: f64) -> Option<Component> {
    let weight: f64 = places.iter().map(|(_, weight)| weight).sum();
    if weight < negligible {
        return None;
    }
    let mean = places.iter().map(|(degree, share)| share * degree).sum::<f64>() / weight;
    let variance =
        places.iter().map(|(degree, share)| share * (degree - mean) * (degree - mean)).sum::<f64>() / weight;
    let edge_variance = variance.max(0.0);
    let sd = (row.sigma * row.sigma + edge_variance).sqrt();
    Some(Component { weight, mean: GRID_START_CELSIUS + mean, sd, edge_variance })
}

/// Where the tabulated curves end; beyond, Φ is 0 or 1 to 1e-18.
const CURVE_END: f64 = 8.9;

/// The normal law in tables: the shares are averages over hundreds of normal laws, many times over.
struct Curves {
    cdf: HermiteTable,
    pdf: HermiteTable,
}

fn curves() -> &'static Curves {
    static CURVES: OnceLock<Curves> = OnceLock::new();
    CURVES.get_or_init(|| Curves {
        cdf: HermiteTable::new(9, 32, |x| (normal::cdf(x), normal::pdf(x))),
        pdf: HermiteTable::new(9, 32, |x| (normal::pdf(x), -x * normal::pdf(x))),
    })
}
