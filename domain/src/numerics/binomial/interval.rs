//! Intervals: of a coefficient, and of the place where half of the trials succeed.

use super::fit::{Fit, Group, Penalty, fit, fit_from};
use super::link::Link;
use crate::numerics::normal;

/// The place `−a/b` at which half of the trials succeed, of a fit with an intercept `a` and one slope `b`.
#[must_use]
pub fn half_point(fit: &Fit) -> f64 {
    -fit.coefficients[0] / fit.coefficients[1]
}

/// Fieller's interval of the place at which half of the trials succeed, at the confidence `level` (Fieller, *Some problems
/// in interval estimation*, J. R. Statist. Soc. B 16, 1954): the places `x` with `(a + bx)² ≤ z²·Var(a + bx)`. `None`
/// when the slope does not differ from zero at that level: no interval holds the place then.
#[must_use]
pub fn fieller(fit: &Fit, level: f64) -> Option<(f64, f64)> {
    let (a, b) = (fit.coefficients[0], fit.coefficients[1]);
    let (aa, ab, bb) = (fit.covariance[0][0], fit.covariance[0][1], fit.covariance[1][1]);
    let z2 = normal::quantile(0.5 + 0.5 * level).powi(2);
    let (square, linear, constant) = (b * b - z2 * bb, a * b - z2 * ab, a * a - z2 * aa);
    let root = (linear * linear - square * constant).sqrt();
    (square > 0.0 && root.is_finite()).then(|| ((-linear - root) / square, (-linear + root) / square))
}

/// The interval of a coefficient by profile likelihood (Venzon and Moolgavkar, Applied Statistics 37, 1988; with the penalty:
/// Heinze and Schemper, Statistics in Medicine 21, 2002): the values at which the largest attainable objective is at most
/// half a χ² quantile below its maximum. `None` when there is no fit or an end is not found.
#[must_use]
pub fn profile_interval(
    groups: &[Group],
    (link, penalty): (Link, Penalty),
    index: usize,
    level: f64,
) -> Option<(f64, f64)> {
    let best = fit(groups, link, penalty).ok()?;
    let profile = |value: f64| {
        let mut start = best.coefficients.clone();
        start[index] = value;
        Some(fit_from(groups, (link, penalty), start, Some(index)).ok()?.objective)
    };
    ends(best.coefficients[index], best.standard_error(index), best.objective, profile, level)
}

/// The same for the place at which half of the trials succeed, of groups with covariates `[1, x]`.
#[must_use]
pub fn half_point_profile_interval(
    groups: &[Group],
    (link, penalty): (Link, Penalty),
    level: f64,
) -> Option<(f64, f64)> {
    let best = fit(groups, link, penalty).ok()?;
    let slope = best.coefficients[1];
    // Measured from the place itself the intercept is zero; shifting a covariate leaves likelihood and penalty alone.
    let profile = |place: f64| {
        let shifted: Vec<Group> = groups
            .iter()
            .map(|group| Group { covariates: vec![1.0, group.covariates[1] - place], ..group.clone() })
            .collect();
        Some(fit_from(&shifted, (link, penalty), vec![0.0, slope], Some(0)).ok()?.objective)
    };
    let place = half_point(&best);
    let variance =
        best.covariance[0][0] + 2.0 * place * best.covariance[0][1] + place * place * best.covariance[1][1];
    ends(place, variance.sqrt() / slope.abs(), best.objective, profile, level)
}

/// Where a profile has fallen by half a χ² quantile, on both sides of its top.
fn ends(
    top: f64,
    width: f64,
    objective: f64,
    profile: impl Fn(f64) -> Option<f64>,
    level: f64,
) -> Option<(f64, f64)> {
    let limit = objective - 0.5 * normal::quantile(0.5 + 0.5 * level).powi(2);
    let end = |direction: f64| {
        let (mut inner, mut outer) = (top, top + direction * width);
        let mut doublings = 0;
        while profile(outer)? > limit {
            (inner, outer) = (outer, outer + 2.0 * (outer - inner));
            doublings += 1;
            if doublings > 30 {
                return None;
            }
        }
        for _ in 0..60 {
            let middle = 0.5 * (inner + outer);
            if profile(middle)? > limit {
                inner = middle;
            } else {
                outer = middle;
            }
        }
        Some(0.5 * (inner + outer))
    };
    Some((end(-1.0)?, end(1.0)?))
}
