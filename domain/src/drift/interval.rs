//! What one trial alone says of an edge, for drawing.

use super::Interval;
use super::evidence::Maps;
use crate::edges::{PROFILE_SPACING_KELVIN, PROFILE_START_CELSIUS, Profile};
use crate::quantity::Temperature;

/// A likelihood of more than e^−1.92 of its greatest value is inside the 95 % likelihood region.
const INSIDE: f64 = -1.92;

/// Whether the likelihood at the low and at the high end of the grid is too large to exclude what lies beyond.
pub(super) fn open_ends(profile: &Profile) -> (bool, bool) {
    let values = profile.values();
    let inside = |value: Option<&f32>| value.is_some_and(|&value| f64::from(value) > INSIDE);
    (inside(values.first()), inside(values.last()))
}

/// The likelihoods at the points of the grid.
pub(super) fn likelihoods(profile: &Profile) -> impl Iterator<Item = f64> {
    profile.values().iter().map(|&ln| libm::exp(f64::from(ln)))
}

/// 2.5, 50 and 97.5 % points of the likelihood, taken as a probability over its grid, at reference conditions: the inverse
/// of the map from there, averaged over the heat shares with `weights`, less what moved the edge in this trial (K).
pub(super) fn interval(
    likelihood: impl Iterator<Item = f64>,
    (maps, weights, offset): (&Maps, &[f64], f64),
    cumulative: &mut Vec<f64>,
) -> Interval {
    cumulative.clear();
    let mut total = 0.0;
    let mut before = None;
    for likely in likelihood {
        total += before.map_or(0.0, |before: f64| 0.5 * (before + likely));
        before = Some(likely);
        cumulative.push(total);
    }
    let at = |share: f64| {
        let here = quantile(cumulative, share * total);
        let there: f64 = maps
            .lines
            .iter()
            .zip(weights)
            .map(|((start, slope), weight)| weight * (here - start) / slope)
            .sum();
        Temperature::from_celsius(there - offset)
    };
    Interval { low: at(0.025), middle: at(0.5), high: at(0.975) }
}

/// The temperature at which the running integral reaches `target`, straight between the points.
fn quantile(cumulative: &[f64], target: f64) -> f64 {
    let above = cumulative.partition_point(|&sum| sum < target).clamp(1, cumulative.len().max(2) - 1);
    let (low, high) = (cumulative[above - 1], cumulative.get(above).copied().unwrap_or(f64::INFINITY));
    let share = if high > low { ((target - low) / (high - low)).clamp(0.0, 1.0) } else { 0.5 };
    PROFILE_START_CELSIUS + PROFILE_SPACING_KELVIN * ((above - 1) as f64 + share)
}
