//! What an edge's strips say of their scatter and correlation, wherever the edge itself lies.

use super::Tally;
use super::lattice;
use super::likelihood::CouponLikelihood;
use super::posterior::{EdgeCoupon, GRID_START_CELSIUS, Row, rows};
use crate::numerics::exp_moderate;

/// How far beyond the outermost steps an edge is sought, in kelvin.
const REACH_KELVIN: f64 = 150.0;

/// `ln ∫ Π L(k|n,T; μ,σ,ρ) dμ` for each correlation ρ (outer) and each scatter σ (inner; in kelvin, from large to
/// small).
///
/// The edge `μ` is flat from 150 K below the coolest to 150 K above the hottest step, so that only the distances
/// between the steps count, not where they lie. `tallies` must be ascending in temperature.
pub(crate) fn ln_by_scatter(tallies: &[Tally], correlations: &[f64], sigmas: &[f64]) -> Vec<Vec<f64>> {
    let lowest = tallies.first().map_or(0.0, |tally| tally.temperature.celsius());
    let span = tallies.last().map_or(0.0, |tally| tally.temperature.celsius()) - lowest;
    let points = (span + 2.0 * REACH_KELVIN).ceil() as usize + 1;
    let sums = lattice::sum_weights(points);
    let sigmas: Vec<(f64, f64)> = sigmas.iter().map(|sigma| (*sigma, 0.0)).collect();
    let by_correlation = |correlation: &f64| {
        let coupon = |tally: &Tally| EdgeCoupon {
            celsius: GRID_START_CELSIUS + REACH_KELVIN + (tally.temperature.celsius() - lowest),
            strips: tally.beyond + tally.short,
            likelihood: CouponLikelihood::new(tally.beyond, tally.beyond + tally.short, *correlation),
        };
        let coupons: Vec<EdgeCoupon> = tallies.iter().map(coupon).collect();
        rows(&coupons, points, &sigmas, *correlation).0.iter().map(|row| ln_sum(row, &sums)).collect()
    };
    correlations.iter().map(by_correlation).collect()
}

/// The logarithm of the sum over single degrees of a row that holds logarithms.
fn ln_sum(row: &Row, sums: &[Vec<f64>]) -> f64 {
    let largest = row.weights.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let places = row.weights.iter().zip(&sums[row.level][row.first..]);
    let sum: f64 = places.map(|(ln, weight)| weight * exp_moderate((ln - largest).max(-600.0))).sum();
    // The highest place may lie beyond the grid, where weights are small or, by interpolation, below zero.
    largest + libm::log(sum.max(1e-9))
}
