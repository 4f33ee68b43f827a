//! Agreement with continuous quadrature over the ranges of `μ` and `ln σ`.
//!
//! The grid of the model has a point to each degree and 31 scatters. Here both are continuous, and so is the scatter
//! that strips of a coupon share: nothing in common but the definition.
//!
//! A sum over equally spaced points is an integral over their cells, and the outermost cells reach half a spacing
//! beyond the outermost points: to 249.5 °C, and to 2 7/12 standard deviations of ln σ. Over those ranges grid and
//! integral agree for every trial. Over the ranges from first to last point they part by what the half cells hold:
//! next to nothing where strips agree, and up to some per cent of the standard deviation where they contradict each
//! other, because a contradiction pushes σ against the end of its range.

use lapwatch_domain::edges::EdgeClass;
use lapwatch_domain::numerics::normal;
use lapwatch_domain::numerics::quadrature::{Rule, gauss_legendre};
use lapwatch_domain::quantity::{Quantity, TemperatureDifferenceUnit, TemperatureUnit};

use crate::row::{Row, rows};

/// What grid and integral may differ by, in kelvin.
const MEAN_TOLERANCE_K: f64 = 0.1;
const SD_TOLERANCE_K: f64 = 0.3;
/// A standard deviation up to which strips agree well enough for σ to stay inside its range, in kelvin.
const CLEAR_SD_K: f64 = 20.0;
/// What they may differ by beyond, between the outermost points, as a ratio to the standard deviation.
const CONTRADICTION_TOLERANCE: f64 = 0.08;

/// A place, its weight, and whether it lies between the outermost points of the grid.
type Place = (f64, f64, bool);

/// A rule over the panels between `ends`, with half a `cell` added on both sides.
fn places(ends: &[f64], cell: f64, nodes: impl Fn(f64) -> usize) -> Vec<Place> {
    let (first, last) = (ends[0], ends[ends.len() - 1]);
    let panel = |from: f64, to: f64, inside: bool| {
        let Rule { points, weights } = gauss_legendre(if inside { nodes(to - from) } else { 2 }, from, to);
        points.into_iter().zip(weights).map(move |(point, weight)| (point, weight, inside))
    };
    let inner = ends.windows(2).flat_map(|pair| panel(pair[0], pair[1], true));
    panel(first - 0.5 * cell, first, false)
        .chain(inner)
        .chain(panel(last, last + 0.5 * cell, false))
        .collect()
}

/// Places over the edges, in panels between the steps: with a small scatter the likelihood jumps there.
fn edge_places(row: &Row) -> Vec<Place> {
    let (low, high) = (250.0, row.top_c().floor());
    let steps = row.tallies().into_iter().map(|(celsius, ..)| celsius);
    let mut ends: Vec<f64> = [low, high].into_iter().chain(steps.filter(|t| *t > low && *t < high)).collect();
    ends.sort_by(f64::total_cmp);
    ends.dedup();
    places(&ends, 1.0, |kelvin| (8.0 + kelvin / 8.0) as usize)
}

/// The probability that the strips of a coupon part so at `x = (T − μ)/σ`.
fn likelihood(shared: &Rule, beyond: i32, short: i32, x: f64, rho: f64) -> f64 {
    let choices = (1..=beyond).fold(1.0, |product, k| product * f64::from(short + k) / f64::from(k));
    let given = |z: f64| {
        let a = (x - rho.sqrt() * z) / (1.0 - rho).sqrt();
        normal::pdf(z) * normal::cdf(a).powi(beyond) * normal::cdf(-a).powi(short)
    };
    choices * shared.sum(given)
}

/// Sums from which a mean and a standard deviation follow.
#[derive(Default)]
struct Moments([f64; 3]);

impl Moments {
    fn add(&mut self, share: f64, mu: f64) {
        for (power, sum) in self.0.iter_mut().enumerate() {
            *sum += share * (mu - 250.0).powi(power as i32);
        }
    }

    fn mean_and_sd(&self) -> (f64, f64) {
        let [total, first, second] = self.0;
        let mean = first / total;
        (250.0 + mean, (second / total - mean * mean).sqrt())
    }
}

/// Mean and standard deviation over the cells of the grid, and over the ranges between its outermost points.
fn integrated(row: &Row) -> [(f64, f64); 2] {
    let rho = row.prior.correlation;
    let median = row.prior.sigma_median.value_in(TemperatureDifferenceUnit::Kelvin);
    let shared = gauss_legendre(if rho > 0.7 { 70 } else { 30 }, -6.5, 6.5);
    let (edges, tallies) = (edge_places(row), row.tallies());
    let (mut cells, mut between) = (Moments::default(), Moments::default());
    for (score, score_weight, score_inside) in places(&[-2.5, 2.5], 1.0 / 6.0, |_| 16) {
        let sigma = median * (row.prior.ln_sigma_sd * score).exp();
        for (mu, edge_weight, edge_inside) in &edges {
            let coupon = |(t, beyond, short): &(f64, i32, i32)| {
                likelihood(&shared, *beyond, *short, (t - mu) / sigma, rho)
            };
            let seen: f64 = tallies.iter().map(coupon).product();
            let share = score_weight * normal::pdf(score) * edge_weight * seen;
            cells.add(share, *mu);
            if score_inside && *edge_inside {
                between.add(share, *mu);
            }
        }
    }
    [cells.mean_and_sd(), between.mean_and_sd()]
}

/// Checks one edge; gives the differences in mean and standard deviation over the cells and between the points.
fn check(row: &Row) -> [(f64, f64); 2] {
    let found = row.evidence().estimate.expect("bracketed");
    let found_mean = found.mean.value_in(TemperatureUnit::Celsius);
    let found_sd = found.sd.value_in(TemperatureDifferenceUnit::Kelvin);
    let apart = integrated(row).map(|(mean, sd)| ((mean - found_mean).abs(), (sd - found_sd).abs()));
    let [cells, between] = apart;
    let name = format!("{}, {:?}: {found:?}, apart {apart:?}", row.trial, row.edge);
    assert!(cells.0 < MEAN_TOLERANCE_K && cells.1 < SD_TOLERANCE_K, "over the cells: {name}");
    let [low, high] = [found.q025, found.q975].map(|q| q.value_in(TemperatureUnit::Celsius));
    if low <= 250.0 || high >= row.top_c().floor() {
        // An end of the grid cuts the posterior off: the last half degree holds a part of it.
        assert!(between.0.max(between.1) < 0.5, "between the points: {name}");
    } else if found_sd <= CLEAR_SD_K {
        assert!(between.0 < MEAN_TOLERANCE_K && between.1 < SD_TOLERANCE_K, "between the points: {name}");
    } else {
        assert!(between.0.max(between.1) < CONTRADICTION_TOLERANCE * found_sd, "between the points: {name}");
    }
    apart
}

#[test]
fn the_grid_agrees_with_continuous_quadrature() {
    let bracketed: Vec<Row> = rows().into_iter().filter(|row| row.class == EdgeClass::Bracketed).collect();
    let all = |part: &[Row]| part.iter().map(check).collect::<Vec<_>>();
    let (one, other) = bracketed.split_at(bracketed.len() / 2);
    let apart = std::thread::scope(|scope| {
        let thread = scope.spawn(|| all(one));
        let rest = all(other);
        [thread.join().expect("the other half agrees too"), rest].concat()
    });
    let largest = |index: usize| {
        apart.iter().map(|apart| apart[index]).fold((0.0_f64, 0.0_f64), |a, b| (a.0.max(b.0), a.1.max(b.1)))
    };
    println!(
        "largest differences of mean and sd, K: over the cells {:.3?}, between the points {:.3?}",
        largest(0),
        largest(1)
    );
}
