//! The joint posterior of an edge `μ` and its scatter `σ` on a deterministic grid.
//!
//! Two facts keep it cheap without changing the numbers:
//!
//! - For a fixed `σ` the likelihood is log-concave in `μ` (an integral of a jointly log-concave function; Prékopa,
//!   *On logarithmic concave measures and functions*, 1973). Each row of the grid therefore has one hill, and once it
//!   falls below what matters it need not be followed further.
//! - A row with a large `σ` is smooth. It is evaluated on every 2nd, 4th, … degree only ([`lattice`]) and brought to
//!   single degrees by interpolation that keeps sums and moments.

use super::lattice::{self, Level};
use super::likelihood::CouponLikelihood;
use super::mixture::{Grouping, Mixture};
use super::{EdgePrior, Estimate};
use crate::numerics::exp_moderate;
use crate::quantity::{Temperature, TemperatureDifference};

/// First `μ` of the grid, in °C.
pub(super) const GRID_START_CELSIUS: f64 = 250.0;
/// The grid never has more points than this, whatever a unit claims to reach.
const MOST_POINTS: usize = 1501;
/// Points of the grid of ln σ.
const SIGMA_POINTS: usize = 31;
/// The grid of ln σ reaches so many standard deviations of its prior to either side.
const SIGMA_REACH: f64 = 2.5;
/// Cells further than this below the best one, in natural logarithms, are left out: together they hold less than
/// 1e-9 of the probability.
const NEGLIGIBLE: f64 = 32.0;
/// Places beyond the grid, where interpolation leans on them, count for at most so much more than the best cell, in
/// natural logarithms. They do where strips put the edge beyond the grid.
const MOST_BEYOND: f64 = 5.0;
/// By how much a row may rise across an end of the grid from one place to the next, in natural logarithms. One that
/// rises faster is evaluated on single degrees, which needs no interpolation.
const STEEP: f64 = 0.5;
/// Cells are evaluated in blocks of this many.
const BLOCK: usize = 16;
/// Weights of a posterior and a prior that share less than this, beside weights of about 1, have nothing in common.
const LEAST_IN_COMMON: f64 = 1e-12;
/// Weights of a posterior times a prior that matter to nobody.
const NEGLIGIBLE_PRODUCT: f64 = 1e-14;
/// Points of a lattice to the width of a hill: enough for the interpolation to be exact to about 1e-5 of the top.
const POINTS_PER_WIDTH: f64 = 3.0;
/// A row is evaluated again, on a finer lattice, when its hill turns out to have fewer points to its width than this.
const LEAST_POINTS_PER_WIDTH: f64 = 2.8;
/// Places of a row further than this below its top, in natural logarithms, do not matter to the interpolation.
const MATTERS: f64 = 12.0;

/// One coupon as an edge sees it.
#[derive(Debug, Clone)]
pub(super) struct EdgeCoupon {
    /// Its setting in °C.
    pub(super) celsius: f64,
    /// How many of its strips say something about the edge.
    pub(super) strips: usize,
    /// The likelihood of what they showed.
    pub(super) likelihood: CouponLikelihood,
}

/// The part of the posterior that belongs to one `σ`.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Row {
    pub(super) sigma: f64,
    pub(super) level: usize,
    /// Place of the first weight on the lattice of that level.
    pub(super) first: usize,
    pub(super) weights: Vec<f64>,
}

/// The joint posterior of an edge and its scatter.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Posterior {
    pub(super) rows: Vec<Row>,
    /// Weights of single degrees, summing to 1.
    marginal: Vec<f64>,
    /// What to multiply the weights of a row with, to be on the scale of `marginal`.
    pub(super) per_total: f64,
    /// Logarithm of the sum over `μ` of the probability of the data, averaged over the prior of `σ`.
    ln_total: f64,
}

/// How many degrees the grid has up to this temperature.
pub(super) fn grid_points(top: Temperature) -> usize {
    let degrees = (top.celsius() - GRID_START_CELSIUS).floor();
    // The cast saturates; a unit below the start of the grid gets one point.
    (degrees.max(0.0) as usize + 1).min(MOST_POINTS)
}

/// The grid of `σ` in kelvin, from large to small, with the logarithms of its prior weights.
pub(super) fn sigma_grid(prior: &EdgePrior) -> [(f64, f64); SIGMA_POINTS] {
    let score = |index: usize| SIGMA_REACH * (1.0 - 2.0 * index as f64 / (SIGMA_POINTS - 1) as f64);
    let total: f64 = (0..SIGMA_POINTS).map(|index| libm::exp(-0.5 * score(index) * score(index))).sum();
    let ln_total = libm::log(total);
    let median = prior.sigma_median.kelvin();
    std::array::from_fn(|index| {
        let z = score(index);
        (median * libm::exp(prior.ln_sigma_sd * z), -0.5 * z * z - ln_total)
    })
}

/// A density at single degrees of the grid, zero beyond both ends.
#[derive(Debug)]
pub(super) struct DegreeTable {
    /// The degree of the first value, counted from the start of the grid; may be negative.
    pub(super) first: isize,
    pub(super) values: Vec<f64>,
}

impl Row {
    /// The row times a density, without the places at its ends where that is zero.
    fn times(mut self, prior: &DegreeTable) -> Self {
        // Places of every lattice are whole degrees.
        let mut place = Level(self.level).degree(self.first) as isize - prior.first;
        for weight in &mut self.weights {
            let density = usize::try_from(place).ok().and_then(|place| prior.values.get(place));
            *weight *= density.copied().unwrap_or(0.0);
            place += 1 << self.level;
        }
        let matters = |weight: &f64| *weight > NEGLIGIBLE_PRODUCT;
        let start = self.weights.iter().position(matters).unwrap_or(self.weights.len());
        let end = self.weights.iter().rposition(matters).map_or(start, |last| last + 1);
        self.weights = self.weights[start..end].to_vec();
        self.first += start;
        self
    }

    /// The same row on a lattice no coarser than `coarsest`.
    fn refined(&self, coarsest: usize, points: usize) -> Self {
        let mut row = self.clone();
        while row.level > coarsest {
            (row.first, row.weights) = lattice::refined(Level(row.level), row.first, &row.weights, points);
            row.level -= 1;
        }
        row
    }
}

impl Posterior {
    /// The posterior after these coupons, on a grid of `points` degrees.
    pub(super) fn new(coupons: &[EdgeCoupon], points: usize, prior: &EdgePrior) -> Self {
        let (mut rows, best) = rows(coupons, points, &sigma_grid(prior), prior.correlation);
        rows.retain(|row| row.weights.iter().any(|ln| *ln > best - NEGLIGIBLE));
        for weight in rows.iter_mut().flat_map(|row| &mut row.weights) {
            *weight = exp_moderate((*weight - best).clamp(-600.0, MOST_BEYOND));
        }
        Self::from_rows(rows, points, best)
    }

    /// The posterior of rows with weights on any scale; `ln_scale` is the logarithm of what a weight of 1 stands for.
    fn from_rows(rows: Vec<Row>, points: usize, ln_scale: f64) -> Self {
        let mut levels: Vec<Vec<f64>> =
            (0..lattice::LEVELS).map(|level| vec![0.0; Level(level).len(points)]).collect();
        for row in &rows {
            let sums = &mut levels[row.level][row.first..];
            row.weights.iter().zip(sums).for_each(|(weight, sum)| *sum += *weight);
        }
        let mut marginal = lattice::to_single_degrees(levels, points);
        let total: f64 = marginal.iter().sum();
        marginal.iter_mut().for_each(|weight| *weight /= total);
        Self { rows, marginal, per_total: 1.0 / total, ln_total: ln_scale + libm::log(total) }
    }

    /// The posterior when it was known before what the edge is likely to be. `None` when nothing is left, because the two have
    /// nothing in common.
    pub(super) fn with_prior(&self, prior: &DegreeTable, smooth_kelvin: f64) -> Option<Self> {
        let points = self.marginal.len();
        let coarsest = Level::for_spacing(smooth_kelvin / POINTS_PER_WIDTH).0;
        let rows = self.rows.iter().map(|row| row.refined(coarsest, points).times(prior));
        let rows: Vec<Row> = rows.filter(|row| !row.weights.is_empty()).collect();
        let common: f64 = rows.iter().flat_map(|row| &row.weights).sum();
        (common > LEAST_IN_COMMON)
            .then(|| Self::from_rows(rows, points, self.ln_total + libm::log(self.per_total)))
    }

    /// The weights of the degrees of the grid, summing to 1.
    pub(super) fn marginal(&self) -> &[f64] {
        &self.marginal
    }

    /// Logarithm of the probability of the data, averaged over the prior of `σ`, at degree `index` of the grid.
    pub(super) fn ln_probability(&self, index: usize) -> f64 {
        self.ln_total + libm::log(self.marginal[index])
    }

    /// Mean and standard deviation of the edge, in °C.
    pub(crate) fn mean_and_sd(&self) -> (f64, f64) {
        let places = || self.marginal.iter().enumerate().map(|(index, weight)| (index as f64, weight));
        let mean: f64 = places().map(|(place, weight)| weight * place).sum();
        // About the mean: a difference of two large sums would leave a narrow posterior nothing but rounding.
        let variance: f64 = places().map(|(place, weight)| weight * (place - mean) * (place - mean)).sum();
        (GRID_START_CELSIUS + mean, variance.sqrt())
    }

    /// Posterior standard deviation of the edge.
    pub(crate) fn sd(&self) -> TemperatureDifference {
        TemperatureDifference::from_kelvin(self.mean_and_sd().1)
    }

    /// Mean, standard deviation and interval.
    pub(super) fn estimate(&self) -> Estimate {
        let (mean, sd) = self.mean_and_sd();
        let quantile = |share| Temperature::from_celsius(self.quantile(share));
        Estimate {
            mean: Temperature::from_celsius(mean),
            sd: TemperatureDifference::from_kelvin(sd),
            q025: quantile(0.025),
            q500: quantile(0.5),
            q975: quantile(0.975),
        }
    }

    /// The predicted distribution of the temperature at which a strip changes, as a mixture of normal laws.
    pub(crate) fn mixture(&self, grouping: Grouping) -> Mixture {
        Mixture::new(self, grouping)
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

/// `ln` of the likelihood of all coupons for an edge at `celsius`.
fn ln_likelihood(coupons: &[EdgeCoupon], celsius: f64, sigma: f64) -> f64 {
    coupons.iter().map(|coupon| coupon.likelihood.ln_at((coupon.celsius - celsius) / sigma)).sum()
}

/// The probability of the data at an edge of `celsius`, averaged over the prior of `σ` that `sigmas` is the grid of.
pub(super) fn probability_at(coupons: &[EdgeCoupon], celsius: f64, sigmas: &[(f64, f64)]) -> f64 {
    let ln_at = |(sigma, ln): &(f64, f64)| ln + ln_likelihood(coupons, celsius, *sigma);
    sigmas.iter().map(|point| exp_moderate(ln_at(point).max(-600.0))).sum()
}

/// All rows with logarithms in place of weights, for scatters from large to small with the logarithms of their prior weights,
/// and the highest logarithm inside the grid.
pub(super) fn rows(
    coupons: &[EdgeCoupon],
    points: usize,
    sigmas: &[(f64, f64)],
    correlation: f64,
) -> (Vec<Row>, f64) {
    // Neighbouring rows have tops and widths alike: each starts from those of the one before.
    let mut width_per_sigma = least_width_per_sigma(coupons, correlation);
    let mut top_degree = (points / 2) as f64;
    let mut best = f64::NEG_INFINITY;
    let mut space = Vec::new();
    let mut row = |&(sigma, ln_prior): &(f64, f64)| {
        let mut level = Level::for_spacing(sigma * width_per_sigma / POINTS_PER_WIDTH);
        loop {
            space.clear();
            space.resize(level.len(points), ln_prior);
            let mut hill = Hill { coupons, sigma, inside: level.inside(points), level, values: &mut space };
            let reached = hill.follow(level.nearest(top_degree, points), &mut best);
            let top = hill.top(reached.clone());
            let width = hill.width(reached.clone(), top);
            let needed = if hill.is_steep_at_an_end(top) {
                Level(0)
            } else {
                Level::for_spacing(width / LEAST_POINTS_PER_WIDTH)
            };
            top_degree = level.degree(top);
            if level <= needed {
                width_per_sigma = width / sigma;
                return Row { sigma, level: level.0, first: reached.start, weights: space[reached].to_vec() };
            }
            level = needed;
        }
    };
    let rows = sigmas.iter().map(&mut row).collect();
    (rows, best)
}

/// About the width of the narrowest hill there can be, as a ratio to `σ`: that of all coupons welded at one step.
fn least_width_per_sigma(coupons: &[EdgeCoupon], correlation: f64) -> f64 {
    let strips = coupons.iter().map(|coupon| coupon.strips).max().unwrap_or(1).max(1);
    let per_coupon = correlation + (1.0 - correlation) / strips as f64;
    (per_coupon / coupons.len().max(1) as f64).sqrt()
}

/// One row while its logarithms are being worked out.
struct Hill<'a> {
    coupons: &'a [EdgeCoupon],
    sigma: f64,
    level: Level,
    /// The places inside the grid.
    inside: std::ops::Range<usize>,
    /// The logarithm of the prior at every place of the lattice; that of the likelihood is added where needed.
    values: &'a mut [f64],
}

impl Hill<'_> {
    /// Works out the row from `start` outwards until it is negligible beside `best`, raising `best` on the way to the
    /// highest value inside the grid. Gives the places worked out.
    fn follow(&mut self, start: usize, best: &mut f64) -> std::ops::Range<usize> {
        let end = self.values.len();
        let first = (start / BLOCK) * BLOCK;
        let mut reached = first..(first + BLOCK).min(end);
        self.work_out(reached.clone(), best);
        // One hill: where it is low and falling outwards it stays low.
        while reached.end < end {
            let (outer, inner) = (self.values[reached.end - 1], self.values[reached.end.saturating_sub(2)]);
            if outer < *best - NEGLIGIBLE && outer <= inner {
                break;
            }
            let next = reached.end..(reached.end + BLOCK).min(end);
            reached.end = next.end;
            self.work_out(next, best);
        }
        while reached.start > 0 {
            let (outer, inner) = (self.values[reached.start], self.values[(reached.start + 1).min(end - 1)]);
            if outer < *best - NEGLIGIBLE && outer <= inner {
                break;
            }
            let next = reached.start.saturating_sub(BLOCK)..reached.start;
            reached.start = next.start;
            self.work_out(next, best);
        }
        reached
    }

    /// The highest of the places worked out.
    fn top(&self, reached: std::ops::Range<usize>) -> usize {
        let start = reached.start;
        reached.max_by(|a, b| self.values[*a].total_cmp(&self.values[*b])).unwrap_or(start)
    }

    /// The width of the hill where it bends most, among the places that matter: the standard deviation, in kelvin, of the
    /// normal law whose logarithm bends as much. No wider than the scatter of the strips, on whose scale shares change.
    fn width(&self, reached: std::ops::Range<usize>, top: usize) -> f64 {
        let matters = self.values[top] - MATTERS;
        let bend = self.values[reached]
            .windows(3)
            .filter(|three| three[1] > matters)
            .map(|three| 2.0 * three[1] - three[0] - three[2])
            .fold(0.0, f64::max);
        (self.level.spacing() / bend.sqrt()).min(self.sigma)
    }

    /// Whether the row has its top beyond the grid, or at an end of it, and rises fast there.
    fn is_steep_at_an_end(&self, top: usize) -> bool {
        let (first, last) = (self.inside.start, self.inside.end - 1);
        let rise = |inner: usize, outer: usize| self.values[outer] - self.values[inner];
        (top <= first && rise(first, first - 1) > STEEP) || (top >= last && rise(last, last + 1) > STEEP)
    }

    fn work_out(&mut self, places: std::ops::Range<usize>, best: &mut f64) {
        let edge = GRID_START_CELSIUS + self.level.degree(places.start);
        let step = -self.level.spacing() / self.sigma;
        let inside = places.start.max(self.inside.start)..places.end.min(self.inside.end);
        let values = &mut self.values[places];
        for coupon in self.coupons {
            coupon.likelihood.add_to(values, (coupon.celsius - edge) / self.sigma, step);
        }
        *best = self.values.get(inside).unwrap_or_default().iter().copied().fold(*best, f64::max);
    }
}
