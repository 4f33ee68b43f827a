//! The joint posterior of an edge `μ` and its scatter `σ` on a deterministic grid.
//!
//! For a fixed `σ` the likelihood is log-concave in `μ` (it is an integral of a jointly log-concave function, Prékopa
//! 1973). Each row of the grid therefore has one hill: it is found by climbing, and only the cells that are not
//! negligible beside the best one are evaluated.

use super::EdgePrior;
use super::likelihood::CouponLikelihood;
use crate::quantity::Temperature;

/// First `μ` of the grid, in °C.
pub(super) const GRID_START_CELSIUS: f64 = 250.0;
/// The grid never has more points than this, whatever a unit claims to reach.
const MOST_POINTS: usize = 1501;
/// Points of the grid of ln σ.
const SIGMA_POINTS: usize = 31;
/// The grid of ln σ reaches so many standard deviations of its prior to either side.
const SIGMA_REACH: f64 = 2.5;
/// Cells further than this below the best one, in natural logarithms, are left out: together they hold less than
/// 1e-11 of the probability.
const NEGLIGIBLE: f64 = 36.0;

/// One coupon as an edge sees it.
#[derive(Debug, Clone)]
pub(super) struct EdgeCoupon {
    /// Its setting in °C.
    pub(super) celsius: f64,
    /// The likelihood of what its strips showed.
    pub(super) likelihood: CouponLikelihood,
}

/// The part of the posterior that belongs to one `σ`: weights of neighbouring `μ`.
#[derive(Debug, Clone, PartialEq)]
struct Row {
    sigma: f64,
    first: usize,
    weights: Vec<f64>,
}

/// The joint posterior of an edge and its scatter; its weights sum to 1.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Posterior {
    rows: Vec<Row>,
    /// Weights of the `μ` alone.
    marginal: Vec<f64>,
    /// Logarithm of the probability of the data, averaged over the grid of `μ` and the prior of `σ`, times the number of
    /// `μ`.
    ln_total: f64,
}

/// How many degrees the grid has up to this temperature.
pub(super) fn grid_points(top: Temperature) -> usize {
    let degrees = (top.celsius() - GRID_START_CELSIUS).floor();
    // The cast saturates; a unit below the start of the grid gets one point.
    (degrees.max(0.0) as usize + 1).min(MOST_POINTS)
}

/// The grid of `σ` in kelvin, from large to small, with the logarithms of its prior weights.
pub(super) fn sigma_grid(prior: &EdgePrior) -> Vec<(f64, f64)> {
    let score = |index: usize| SIGMA_REACH * (1.0 - 2.0 * index as f64 / (SIGMA_POINTS - 1) as f64);
    let total: f64 = (0..SIGMA_POINTS).map(|index| libm::exp(-0.5 * score(index) * score(index))).sum();
    let median = prior.sigma_median.kelvin().max(f64::MIN_POSITIVE);
    (0..SIGMA_POINTS)
        .map(|index| {
            let z = score(index);
            (median * libm::exp(prior.ln_sigma_sd * z), -0.5 * z * z - libm::log(total))
        })
        .collect()
}

impl Posterior {
    /// The posterior after these coupons, on a grid of `points` degrees.
    pub(super) fn new(coupons: &[EdgeCoupon], points: usize, prior: &EdgePrior) -> Self {
        let hills = hills(coupons, points, prior);
        let best = hills.iter().map(|hill| hill.height).fold(f64::NEG_INFINITY, f64::max);
        let mut marginal = vec![0.0; points];
        let mut rows = Vec::with_capacity(hills.len());
        for hill in hills {
            if let Some(row) = hill.row(coupons, points, best) {
                for (sum, weight) in marginal[row.first..].iter_mut().zip(&row.weights) {
                    *sum += weight;
                }
                rows.push(row);
            }
        }
        let total: f64 = marginal.iter().sum();
        let per_total = 1.0 / total;
        marginal.iter_mut().for_each(|weight| *weight *= per_total);
        rows.iter_mut().flat_map(|row| &mut row.weights).for_each(|weight| *weight *= per_total);
        Self { rows, marginal, ln_total: best + libm::log(total) }
    }

    /// The weights of the degrees of the grid.
    pub(super) fn marginal(&self) -> &[f64] {
        &self.marginal
    }

    /// Logarithm of the probability of the data, averaged over the prior of `σ`, at grid point `index`.
    pub(super) fn ln_probability(&self, index: usize) -> f64 {
        self.ln_total + libm::log(self.marginal[index])
    }

    /// Mean and standard deviation of the edge, in °C.
    pub(crate) fn mean_and_sd(&self) -> (f64, f64) {
        let mean: f64 = self.marginal.iter().enumerate().map(|(index, weight)| weight * index as f64).sum();
        let variance: f64 = (self.marginal.iter().enumerate())
            .map(|(index, weight)| weight * (index as f64 - mean) * (index as f64 - mean))
            .sum();
        (GRID_START_CELSIUS + mean, variance.sqrt())
    }

    /// The first degree of the grid at which the cumulative weight reaches `share`.
    pub(super) fn quantile(&self, share: f64) -> f64 {
        let mut cumulative = 0.0;
        let reached = self.marginal.iter().position(|weight| {
            cumulative += weight;
            cumulative >= share
        });
        // Rounding may leave the last sum a hair below 1.
        GRID_START_CELSIUS + reached.unwrap_or(self.marginal.len() - 1) as f64
    }
}

/// The top of one row of the grid.
struct Hill {
    sigma: f64,
    ln_prior: f64,
    top: usize,
    height: f64,
}

/// The tops of all rows, from large to small `σ`.
fn hills(coupons: &[EdgeCoupon], points: usize, prior: &EdgePrior) -> Vec<Hill> {
    let mut from = points / 2;
    sigma_grid(prior)
        .into_iter()
        .map(|(sigma, ln_prior)| {
            let (top, height) =
                climb(from, points, |index| ln_prior + ln_likelihood(coupons, index as f64, sigma));
            // Neighbouring rows have neighbouring tops.
            from = top;
            Hill { sigma, ln_prior, top, height }
        })
        .collect()
}

/// `ln` of the likelihood of all coupons for `μ` at `place` degrees above the start of the grid.
fn ln_likelihood(coupons: &[EdgeCoupon], place: f64, sigma: f64) -> f64 {
    let edge = GRID_START_CELSIUS + place;
    coupons.iter().map(|coupon| coupon.likelihood.ln_at((coupon.celsius - edge) / sigma)).sum()
}

/// The probability of the data at an edge of `celsius`, averaged over the prior of `σ`.
pub(super) fn probability_at(coupons: &[EdgeCoupon], celsius: f64, prior: &EdgePrior) -> f64 {
    (sigma_grid(prior).iter())
        .map(|(sigma, ln_prior)| {
            libm::exp(ln_prior + ln_likelihood(coupons, celsius - GRID_START_CELSIUS, *sigma))
        })
        .sum()
}

/// The top of a function with one hill, and its height.
fn climb(from: usize, points: usize, height: impl Fn(usize) -> f64) -> (usize, f64) {
    let (mut top, mut best) = (from, height(from));
    let mut stride = 32;
    while stride > 0 {
        let up = top + stride;
        if up < points
            && let Some(higher) = Some(height(up)).filter(|found| *found > best)
        {
            (top, best) = (up, higher);
        } else if top >= stride
            && let Some(higher) = Some(height(top - stride)).filter(|found| *found > best)
        {
            (top, best) = (top - stride, higher);
        } else {
            stride /= 2;
        }
    }
    (top, best)
}

impl Hill {
    /// The cells of this row that are not negligible beside a cell of height `best`.
    fn row(&self, coupons: &[EdgeCoupon], points: usize, best: f64) -> Option<Row> {
        let floor = best - NEGLIGIBLE;
        if self.height < floor {
            return None;
        }
        let height = |index: usize| self.ln_prior + ln_likelihood(coupons, index as f64, self.sigma);
        let below = reach(self.top, |distance| height(self.top - distance) >= floor);
        let above = reach(points - 1 - self.top, |distance| height(self.top + distance) >= floor);
        let first = self.top - below;
        let mut weights = vec![self.ln_prior - best; below + above + 1];
        let per_sigma = 1.0 / self.sigma;
        for coupon in coupons {
            let start = (coupon.celsius - GRID_START_CELSIUS - first as f64) * per_sigma;
            for (index, sum) in weights.iter_mut().enumerate() {
                *sum += coupon.likelihood.ln_at(start - index as f64 * per_sigma);
            }
        }
        for weight in &mut weights {
            *weight = libm::exp(*weight);
        }
        Some(Row { sigma: self.sigma, first, weights })
    }
}

/// The largest distance up to `most` at which `holds` is true, for a condition that is true at 0 and, once false, stays
/// false.
fn reach(most: usize, holds: impl Fn(usize) -> bool) -> usize {
    let (mut good, mut stride) = (0, 16);
    while good + stride <= most && holds(good + stride) {
        good += stride;
        stride *= 2;
    }
    while stride > 0 {
        if good + stride <= most && holds(good + stride) {
            good += stride;
        }
        stride /= 2;
    }
    good
}
