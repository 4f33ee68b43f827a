//! The posterior of the correlation of strips and of the population of their scatter.
//!
//! Unknown are ρ, and the median and the spread of a normal law of ln σ from which each edge of each trial has its σ. A
//! grid of all three closes in on what matters, a few passes each finer than the last.

use std::collections::BTreeMap;

use super::RatioEstimate;
use super::axis::{Axis, cubic};
use crate::edges::{EdgePrior, Tally, ln_by_scatter};

/// Scatters from 2.8 to 103 K: 37 of them, a factor of 1.1 apart.
const SIGMAS: usize = 37;
const LN_SIGMA_STEP: f64 = 0.1;
/// Correlations from .05 to .95, evenly spaced in θ with ρ = sin²θ: likelihoods bend most towards 1.
const CORRELATIONS: Axis = Axis { from: 0.225_513_405_898_131_2, to: 1.345_282_920_896_765_2, count: 13 };
/// Medians of σ from 3.4 to 84 K, as ln(σ/17 K).
const MEDIANS: Axis = Axis { from: -1.6, to: 1.6, count: 17 };
/// Spreads of ln σ. Less than a step between two scatters could not be summed, nor told from none by any fleet.
const SPREADS: Axis = Axis { from: 0.1, to: 1.5, count: 17 };
/// Prior of ln(median σ): sd about ln 17 K. Fleets' medians within a factor of 1.5 of the usual one are likely.
const PRIOR_LN_MEDIAN_SD: f64 = 0.4;
/// Prior of the spread of ln σ: half a normal law of this sd. With that of the median a further edge's ln σ has an sd
/// of .9, as it is assumed without a fit.
const PRIOR_SPREAD_SD: f64 = 1.15;
/// No more passes than this over the grid; three or four are usual.
const MOST_PASSES: usize = 12;

/// The coupons of one edge of one trial: distance to the coolest step, strips beyond and short of the edge. Whatever is
/// equal in this says the same.
type Pattern = Vec<(u64, usize, usize)>;

/// Edges that say something, equal ones together.
#[derive(Debug, Default)]
pub(super) struct Edges {
    patterns: BTreeMap<Pattern, (Vec<Tally>, f64)>,
}

impl Edges {
    /// Adds one edge; its tallies ascending in temperature, then by their counts.
    pub(super) fn add(&mut self, tallies: Vec<Tally>) {
        let Some(first) = tallies.first() else { return };
        let lowest = first.temperature.celsius();
        let key = tallies
            .iter()
            .map(|tally| ((tally.temperature.celsius() - lowest).to_bits(), tally.beyond, tally.short))
            .collect();
        self.patterns.entry(key).or_insert_with(|| (tallies, 0.0)).1 += 1.0;
    }
}

/// The likelihood of one pattern by correlation and scatter, as logarithms, and how many edges show it.
struct Likelihood {
    /// One row for each of [`CORRELATIONS`], one column for each scatter, smallest first.
    ln: Vec<Vec<f64>>,
    count: f64,
}

impl Likelihood {
    /// The logarithms by scatter at any θ, by cubic interpolation between the correlations.
    fn at(&self, theta: f64) -> [f64; SIGMAS] {
        let place = (theta - CORRELATIONS.from) / CORRELATIONS.step();
        let first = (place.floor() - 1.0).clamp(0.0, (CORRELATIONS.count - 4) as f64) as usize;
        let t = place - first as f64;
        // Lagrange's polynomial through the points 0, 1, 2, 3.
        let weights = [
            -(t - 1.0) * (t - 2.0) * (t - 3.0) / 6.0,
            t * (t - 2.0) * (t - 3.0) / 2.0,
            -t * (t - 1.0) * (t - 3.0) / 2.0,
            t * (t - 1.0) * (t - 2.0) / 6.0,
        ];
        std::array::from_fn(|column| {
            weights.iter().enumerate().map(|(row, weight)| weight * self.ln[first + row][column]).sum()
        })
    }
}

/// The three unknowns' axes.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Axes {
    theta: Axis,
    median: Axis,
    spread: Axis,
}

const WHOLE: Axes = Axes { theta: Axis { count: 17, ..CORRELATIONS }, median: MEDIANS, spread: SPREADS };

/// What the posterior says.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Population {
    /// ρ.
    pub(super) correlation: RatioEstimate,
    /// ln(σ/17 K) of the median.
    pub(super) ln_median: RatioEstimate,
    /// Standard deviation of ln σ.
    pub(super) ln_spread: RatioEstimate,
    /// Standard deviation of ln σ of a further edge about the mean of `ln_median`.
    pub(super) ln_predictive: f64,
}

impl Population {
    /// The posterior after these edges; the prior when there is none.
    pub(super) fn of(edges: &Edges) -> Self {
        let likelihoods = likelihoods(edges);
        let mut axes = WHOLE;
        let mut cells = posterior(&likelihoods, &axes);
        for _ in 0..MOST_PASSES {
            let Some(next) = axes.refined(&cells) else { break };
            axes = next;
            cells = posterior(&likelihoods, &axes);
        }
        axes.population(&cells)
    }
}

impl Axes {
    /// The index of a cell: correlations outermost, medians innermost.
    fn places(&self) -> impl Iterator<Item = [usize; 3]> + use<> {
        let Self { theta, median, spread } = *self;
        (0..theta.count)
            .flat_map(move |i| (0..spread.count).flat_map(move |j| (0..median.count).map(move |k| [i, j, k])))
    }

    /// Along each axis what `take` makes of the cells at each of its points.
    fn along(&self, cells: &[f64], start: f64, take: impl Fn(f64, f64) -> f64) -> [Vec<f64>; 3] {
        let mut along = [self.theta, self.spread, self.median].map(|axis| vec![start; axis.count]);
        for (place, cell) in self.places().zip(cells) {
            for (axis, index) in along.iter_mut().zip(place) {
                axis[index] = take(axis[index], *cell);
            }
        }
        along
    }

    /// Finer axes; `None` when these are fine enough.
    fn refined(&self, cells: &[f64]) -> Option<Self> {
        let [theta, spread, median] = self.along(cells, f64::NEG_INFINITY, f64::max);
        let best = theta.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let next = [
            self.theta.refined(&WHOLE.theta, &theta, best),
            self.spread.refined(&WHOLE.spread, &spread, best),
            self.median.refined(&WHOLE.median, &median, best),
        ];
        let refined = Self {
            theta: next[0].unwrap_or(self.theta),
            spread: next[1].unwrap_or(self.spread),
            median: next[2].unwrap_or(self.median),
        };
        (refined != *self).then_some(refined)
    }

    fn population(&self, cells: &[f64]) -> Population {
        let best = cells.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let mass: Vec<f64> = cells.iter().map(|ln| libm::exp(ln - best)).collect();
        let [theta, spread, median] = self.along(&mass, 0.0, |sum, mass| sum + mass);
        let ln_median = self.median.estimate(&median, |m| m);
        let ln_spread = self.spread.estimate(&spread, |s| s);
        let variance = ln_spread.mean.powi(2) + ln_spread.sd.powi(2) + ln_median.sd.powi(2);
        Population {
            correlation: self.theta.estimate(&theta, correlation),
            ln_median,
            ln_spread,
            ln_predictive: variance.sqrt(),
        }
    }
}

/// The correlation of a point of its axis.
fn correlation(theta: f64) -> f64 {
    libm::sin(theta).powi(2)
}

/// ln(σ/17 K) of the scatters, smallest first.
fn ln_sigmas() -> [f64; SIGMAS] {
    std::array::from_fn(|index| LN_SIGMA_STEP * (index as f64 - (SIGMAS / 2) as f64))
}

/// Works out what each pattern says. This is most of the cost of a fit.
fn likelihoods(edges: &Edges) -> Vec<Likelihood> {
    let correlations: Vec<f64> = CORRELATIONS.points().map(correlation).collect();
    let usual = EdgePrior::default().sigma_median.kelvin();
    // Every second one, from large to small; likelihoods are smooth on that scale.
    let sigmas: Vec<f64> = ln_sigmas().iter().rev().step_by(2).map(|ln| usual * libm::exp(*ln)).collect();
    let of = |(tallies, count): &(Vec<Tally>, f64)| {
        let ln = ln_by_scatter(tallies, &correlations, &sigmas).into_iter().map(|mut row| {
            row.reverse();
            (0..SIGMAS).map(|index| cubic(&row, 0.5 * index as f64)).collect()
        });
        Likelihood { ln: ln.collect(), count: *count }
    };
    edges.patterns.values().map(of).collect()
}

/// The logarithm of the posterior in all cells, up to a constant.
fn posterior(likelihoods: &[Likelihood], axes: &Axes) -> Vec<f64> {
    let shares = population_shares(axes);
    let layer = axes.spread.count * axes.median.count;
    let mut cells = ln_prior(axes);
    let mut averages = vec![0.0; layer];
    for (theta, cells) in axes.theta.points().zip(cells.chunks_exact_mut(layer)) {
        for likelihood in likelihoods {
            let ln = likelihood.at(theta);
            let largest = ln.iter().copied().fold(f64::NEG_INFINITY, f64::max);
            // Scatter by scatter over the whole layer: every pass is a plain vector operation.
            averages.fill(f64::MIN_POSITIVE);
            for (ln, shares) in ln.iter().zip(&shares) {
                let likely = libm::exp(ln - largest);
                averages.iter_mut().zip(shares).for_each(|(sum, share)| *sum += share * likely);
            }
            for (cell, average) in cells.iter_mut().zip(&averages) {
                *cell += likelihood.count * (largest + libm::log(*average));
            }
        }
    }
    cells
}

/// For each scatter its share of the population with each spread (outer) and median (inner).
fn population_shares(axes: &Axes) -> Vec<Vec<f64>> {
    let sigmas = ln_sigmas();
    let shares = |spread: f64, median: f64| {
        let density = sigmas.map(|ln| libm::exp(-0.5 * ((ln - median) / spread).powi(2)));
        let total: f64 = density.iter().sum();
        density.map(|density| density / total)
    };
    let spreads = axes.spread.points();
    let populations: Vec<[f64; SIGMAS]> =
        spreads.flat_map(|spread| axes.median.points().map(move |median| shares(spread, median))).collect();
    (0..SIGMAS).map(|sigma| populations.iter().map(|shares| shares[sigma]).collect()).collect()
}

/// The logarithm of the prior in all cells, up to a constant. See [`super::Spread`] for what it is.
fn ln_prior(axes: &Axes) -> Vec<f64> {
    let score = |value: f64, sd: f64| -0.5 * (value / sd).powi(2);
    let of_theta = |theta: f64| {
        let rho = correlation(theta);
        // 6ρ(1−ρ) in ρ, times dρ/dθ = 2√(ρ(1−ρ)).
        1.5 * libm::log(rho * (1.0 - rho))
    };
    let spreads = axes.spread.points().flat_map(|spread| {
        let of_spread = score(spread, PRIOR_SPREAD_SD);
        axes.median.points().map(move |median| of_spread + score(median, PRIOR_LN_MEDIAN_SD))
    });
    axes.theta.points().flat_map(|theta| spreads.clone().map(move |ln| of_theta(theta) + ln)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::Temperature;

    fn edges(counts: &[(f64, usize, usize)]) -> Edges {
        let mut edges = Edges::default();
        let tally = |&(at, beyond, short): &(f64, usize, usize)| Tally {
            temperature: Temperature::from_celsius(at),
            beyond,
            short,
        };
        edges.add(counts.iter().map(tally).collect());
        edges
    }

    #[test]
    fn between_two_correlations_the_likelihood_is_that_of_the_correlation_between() {
        let edges = edges(&[(380.0, 0, 3), (420.0, 1, 2), (440.0, 2, 1), (460.0, 3, 0), (500.0, 3, 0)]);
        let likelihood = &likelihoods(&edges)[0];
        let sigmas: Vec<f64> = ln_sigmas().iter().rev().map(|ln| 17.0 * libm::exp(*ln)).collect();
        for rho in [0.06, 0.33, 0.62, 0.78, 0.93] {
            let tallies = &edges.patterns.values().next().expect("one").0;
            let exact = &ln_by_scatter(tallies, &[rho], &sigmas)[0];
            let found = likelihood.at(libm::asin(libm::sqrt(rho)));
            for (index, (found, exact)) in found.iter().rev().zip(exact).enumerate() {
                // Beside an end there is no further scatter to lean on.
                let tolerance = if (2..SIGMAS - 2).contains(&index) { 3e-3 } else { 0.05 };
                let off = (found - exact).abs() / exact.abs().max(1.0);
                assert!(off < tolerance, "{rho}, {index}: {found} for {exact}");
            }
        }
    }

    /// Without evidence the posterior is the prior: ρ about .5 with the sd of its density, the median about 17 K, and a
    /// further edge as uncertain as it is assumed without a fit.
    #[test]
    fn no_edges_leave_the_prior() {
        let prior = Population::of(&Edges::default());
        assert!((prior.correlation.mean - 0.5).abs() < 1e-3, "{prior:?}");
        assert!((prior.correlation.sd - 0.05_f64.sqrt()).abs() < 0.02, "{prior:?}");
        assert!(prior.ln_median.mean.abs() < 1e-9 && (prior.ln_median.sd - 0.4).abs() < 0.01, "{prior:?}");
        assert!((prior.ln_predictive - 0.9).abs() < 0.01, "{prior:?}");
    }
}
