//! What trials say of heat shares: the likelihood of one unit's, and the population that those of a class come from.

use chrono::{DateTime, Utc};
use uuid::Uuid;

use super::axis::{Axis, cubic};
use super::{RatioEstimate, UnitHistory};
use crate::drift::{ChartSettings, HistoryEntry, UnitCharts};
use crate::heat::HeatShare;
use crate::membrane::MaterialClass;

/// Heat shares at which the charts' likelihood is worked out, evenly spaced in 1/φ.
const NODES: usize = 17;
/// Points between which a posterior is summed, to a node.
const POINTS_PER_NODE: usize = 4;
/// The least that charts keep of a heat share is 1e-8; what they gave up is taken as this.
const GIVEN_UP: f64 = 1e-9;
/// Class means considered.
const MEANS: Axis = Axis { from: HeatShare::LOWEST, to: HeatShare::HIGHEST, count: 89 };
/// Standard deviations between units considered, by their logarithm: .005 to .08.
const SPREADS: Axis = Axis { from: -5.298_317_366_548_036, to: -2.525_728_644_308_255_5, count: 19 };
/// Priors: see [`super::Surface`].
const PRIOR_MEAN_SD: f64 = 0.04;
const PRIOR_SPREAD: f64 = 0.025;
const PRIOR_LN_SPREAD_SD: f64 = 0.5;

/// The points of 1/φ at which posteriors are summed.
const fn inverses() -> Axis {
    Axis {
        from: 1.0 / HeatShare::HIGHEST,
        to: 1.0 / HeatShare::LOWEST,
        count: (NODES - 1) * POINTS_PER_NODE + 1,
    }
}

/// What one unit's trials of one class say of φ.
#[derive(Debug, Clone)]
pub(super) struct Told {
    pub(super) unit: Uuid,
    pub(super) class: MaterialClass,
    pub(super) trials: usize,
    /// Likelihood at [`inverses`], up to a factor.
    likelihood: Vec<f64>,
}

impl Told {
    /// `None` without a trial of that class.
    pub(super) fn of(unit: &UnitHistory<'_>, class: MaterialClass, settings: &ChartSettings) -> Option<Self> {
        let mut entries: Vec<&HistoryEntry<'_>> =
            unit.history.iter().filter(|entry| entry.class == class).collect();
        entries.sort_by_key(|entry| entry.key());
        entries.dedup_by_key(|entry| entry.key());
        let last = entries.last()?.at;
        // Service after the last trial takes nothing away from what the trials said.
        let mut resets: Vec<DateTime<Utc>> = unit.resets.iter().copied().filter(|at| *at <= last).collect();
        resets.sort_unstable();
        let points = entries.iter().map(|entry| entry.profile_points()).max()?;
        let mut charts = UnitCharts::new(settings.clone(), points);
        for entry in &entries {
            charts.take(entry, &resets);
        }
        let shares = charts.now(class, &resets)?.heat_shares();
        Some(Self { unit: unit.unit, class, trials: entries.len(), likelihood: likelihood(&shares) })
    }

    pub(super) fn posterior(&self, prior: &[f64]) -> Vec<f64> {
        self.likelihood.iter().zip(prior).map(|(likely, prior)| likely * prior).collect()
    }
}

/// Heat shares evenly spaced in 1/φ, all equally likely.
pub(super) fn even_shares() -> Vec<(HeatShare, f64)> {
    let nodes = Axis { count: NODES, ..inverses() };
    let mut shares: Vec<(HeatShare, f64)> = nodes
        .points()
        .filter_map(|inverse| HeatShare::new(inverse.recip()).ok())
        .map(|share| (share, (NODES as f64).recip()))
        .collect();
    shares.reverse();
    shares
}

/// The likelihood at the points of [`inverses`], its logarithm a cubic (Catmull–Rom) between the nodes that charts
/// still hold.
fn likelihood(held: &[(HeatShare, f64)]) -> Vec<f64> {
    let axis = inverses();
    let mut nodes = [libm::log(GIVEN_UP); NODES];
    for (share, weight) in held {
        let place = (share.ratio().recip() - axis.from) / (axis.step() * POINTS_PER_NODE as f64);
        nodes[(place.round() as usize).min(NODES - 1)] = libm::log(weight.max(GIVEN_UP));
    }
    (0..axis.count).map(|index| libm::exp(cubic(&nodes, index as f64 / POINTS_PER_NODE as f64))).collect()
}

/// The density of a normal law of φ at the points of [`inverses`], a total of one. The density in 1/φ is that in φ
/// times φ².
fn normal(mean: f64, sd: f64) -> Vec<f64> {
    let density = |inverse: f64| {
        let ratio = inverse.recip();
        libm::exp(-0.5 * ((ratio - mean) / sd).powi(2)) * ratio * ratio
    };
    let density: Vec<f64> = inverses().points().map(density).collect();
    let total: f64 = density.iter().sum();
    density.iter().map(|density| density / total).collect()
}

/// What charts assume of a unit that nothing is known about.
pub(super) fn usual_prior() -> Vec<f64> {
    normal(HeatShare::USUAL, HeatShare::USUAL_SD)
}

/// What masses at the points of [`inverses`] say of φ, which falls along them.
pub(super) fn estimate(mass: &[f64]) -> RatioEstimate {
    let found = inverses().estimate(mass, f64::recip);
    RatioEstimate { low: found.high, high: found.low, ..found }
}

/// The posterior of a class's mean and spread.
pub(super) struct Population {
    pub(super) mean: RatioEstimate,
    pub(super) spread: RatioEstimate,
    /// The density of a unit's φ in each cell of mean and spread that has weight, with that weight.
    cells: Vec<(f64, Vec<f64>)>,
}

impl Population {
    pub(super) fn of(told: &[&Told]) -> Self {
        let cells: Vec<(f64, Vec<f64>)> = SPREADS
            .points()
            .flat_map(|spread| MEANS.points().map(move |mean| (spread, mean)))
            .map(|(spread, mean)| {
                let density = normal(mean, libm::exp(spread));
                let fits = |told: &&Told| {
                    libm::log(told.posterior(&density).iter().sum::<f64>().max(f64::MIN_POSITIVE))
                };
                let prior = -0.5 * ((mean - HeatShare::USUAL) / PRIOR_MEAN_SD).powi(2)
                    - 0.5 * ((spread - libm::log(PRIOR_SPREAD)) / PRIOR_LN_SPREAD_SD).powi(2);
                (prior + told.iter().map(fits).sum::<f64>(), density)
            })
            .collect();
        let best = cells.iter().map(|cell| cell.0).fold(f64::NEG_INFINITY, f64::max);
        let weighed = cells.into_iter().map(|(ln, density)| (libm::exp(ln - best), density));
        let cells: Vec<(f64, Vec<f64>)> = weighed.collect();
        let (mut means, mut spreads) = (vec![0.0; MEANS.count], vec![0.0; SPREADS.count]);
        for (index, (weight, _)) in cells.iter().enumerate() {
            means[index % MEANS.count] += weight;
            spreads[index / MEANS.count] += weight;
        }
        Self {
            mean: MEANS.estimate(&means, |mean| mean),
            spread: SPREADS.estimate(&spreads, libm::exp),
            cells: cells.into_iter().filter(|(weight, _)| *weight > 1e-9).collect(),
        }
    }

    /// The posterior of one of the units that it was made from.
    pub(super) fn posterior(&self, told: &Told) -> Vec<f64> {
        let mut sum = vec![0.0; inverses().count];
        for (weight, density) in &self.cells {
            let posterior = told.posterior(density);
            // Each cell's weight includes this unit's fit to it: what is added is its posterior in the cell, of total
            // one.
            let total: f64 = posterior.iter().sum();
            for (sum, mass) in sum.iter_mut().zip(&posterior) {
                *sum += weight * mass / total.max(f64::MIN_POSITIVE);
            }
        }
        sum
    }
}
