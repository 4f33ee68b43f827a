//! Average run lengths: how many trials pass, on average, before a chart signals.
//!
//! A chart that watches a healthy unit will signal some day; the average number of trials until then is its
//! *in-control average run length* (ARL). The same number for a shifted process is its mean delay. Both solve a
//! Fredholm equation of the second kind,
//!
//! > L(u) = 1 + P(back to zero | u)·L(0) + ∫ L(x)·f(x | u) dx,
//!
//! which is replaced by a linear system at Gauss–Legendre nodes (Brook and Evans 1972; Crowder 1987). The numbers here
//! are pure: shifts are in standard deviations of one observation, run lengths in observations.

use crate::numerics::{normal, quadrature};

/// Nodes of the Gauss–Legendre rule; 48 give eight digits for every chart of practical size.
const NODES: usize = 48;

/// ARL of a one-sided CUSUM C ← max(0, C + x − k), started at zero, that signals when C exceeds `limit`.
///
/// Observations are normal with mean `shift` and variance 1; `reference` is k. All three are in standard deviations;
/// `limit` must be positive, else the answer is NaN.
#[must_use]
pub fn cusum_one_sided(reference: f64, limit: f64, shift: f64) -> f64 {
    run_length(
        limit,
        |step| normal::cdf(step + reference - shift),
        |step| normal::pdf(step + reference - shift),
    )
}

/// ARL of C ← max(0, C + increment), started at zero, until C exceeds `limit`, for increments with the given
/// distribution function and density.
fn run_length(limit: f64, distribution: impl Fn(f64) -> f64, density: impl Fn(f64) -> f64) -> f64 {
    if limit.is_nan() || limit <= 0.0 {
        return f64::NAN;
    }
    let rule = quadrature::gauss_legendre(NODES, 0.0, limit);
    // Unknown 0 is L(0); the others are L at the nodes.
    let states: Vec<f64> = std::iter::once(0.0).chain(rule.points.iter().copied()).collect();
    let size = states.len();
    let mut matrix = vec![0.0; size * size];
    for (row, &from) in states.iter().enumerate() {
        matrix[row * size] = -distribution(-from);
        for (node, (&to, &weight)) in rule.points.iter().zip(&rule.weights).enumerate() {
            matrix[row * size + node + 1] = -weight * density(to - from);
        }
        matrix[row * size + row] += 1.0;
    }
    solve(matrix, vec![1.0; size])[0]
}

/// ARL of a two-sided CUSUM: the upper and the lower chart side by side, both from zero.
///
/// The two cannot both be far from zero, so their rates add: 1/ARL = 1/ARL⁺ + 1/ARL⁻ (van Dobben de Bruyn 1968).
#[must_use]
pub fn cusum_two_sided(reference: f64, limit: f64, shift: f64) -> f64 {
    let up = cusum_one_sided(reference, limit, shift);
    let down = cusum_one_sided(reference, limit, -shift);
    (up.recip() + down.recip()).recip()
}

/// ARL of an EWMA z ← (1 − λ)z + λx, started at zero, that signals when |z| exceeds `width`·√(λ/(2 − λ)).
///
/// `weight` is λ (above 0, at most 1), `width` the limit in asymptotic standard deviations of z, `shift` the mean of
/// the observations in their standard deviations.
#[must_use]
pub fn ewma(weight: f64, width: f64, shift: f64) -> f64 {
    let in_range = width > 0.0 && weight > 0.0 && weight <= 1.0;
    if !in_range {
        return f64::NAN;
    }
    let limit = width * (weight / (2.0 - weight)).sqrt();
    let rule = quadrature::gauss_legendre(NODES, -limit, limit);
    // The middle of the interval, where the chart starts, is one more unknown (its column is empty).
    let states: Vec<f64> = std::iter::once(0.0).chain(rule.points.iter().copied()).collect();
    let size = states.len();
    let mut matrix = vec![0.0; size * size];
    for (row, &from) in states.iter().enumerate() {
        for (node, (&to, &share)) in rule.points.iter().zip(&rule.weights).enumerate() {
            let observation = (to - (1.0 - weight) * from) / weight;
            matrix[row * size + node + 1] = -share / weight * normal::pdf(observation - shift);
        }
        matrix[row * size + row] += 1.0;
    }
    solve(matrix, vec![1.0; size])[0]
}

/// The limit at which a two-sided CUSUM has the in-control ARL `arl`, to nine digits.
#[must_use]
pub fn cusum_limit(reference: f64, arl: f64) -> f64 {
    find_limit(arl, |limit| cusum_two_sided(reference, limit, 0.0))
}

/// The limit width at which an EWMA of weight λ has the in-control ARL `arl`, to nine digits.
#[must_use]
pub fn ewma_limit(weight: f64, arl: f64) -> f64 {
    find_limit(arl, |width| ewma(weight, width, 0.0))
}

/// Limit of a one-sided CUSUM of log likelihood ratios, for an in-control ARL of `arl` trials.
///
/// `information` D is the mean variance of one increment in control. For a normal observation of standard deviation s
/// and a shift δ, D = (δ/s)², and the increment is normal with mean −D/2: it is δ/s times that of the CUSUM with
/// reference δ/2s. Weak trials have a small D and move the chart little, so that the same promise needs a lower limit.
/// `by_jump` is the mean of D² over the mean of D: the D of the trial that takes the chart over its limit, since a trial
/// does so the likelier the more it tells. Where all trials tell the same, it equals D.
///
/// Uses Siegmund's approximation (*Sequential Analysis*, 1985, ch. 2): with b = h + 1.166·√`by_jump`,
///
/// > ARL = 2·(eᵇ − b − 1)/D,
///
/// which agrees with the integral equation to 3 % in the run length for D up to 2, to 25 % where weak and strong trials
/// are mixed (see the tests), and, unlike it, costs nothing. Never below .5; both D are held within .01 and 4.
#[must_use]
pub fn likelihood_ratio_limit(information: f64, by_jump: f64, arl: f64) -> f64 {
    let target = arl * information.clamp(0.01, 4.0) / 2.0;
    let mut b = (target + 1.0).max(1.1).ln();
    // Newton's method on eᵇ − b − 1 = target: a few steps reach full precision.
    for _ in 0..6 {
        let power = libm::exp(b);
        b -= (power - b - 1.0 - target) / (power - 1.0);
    }
    (b - 1.166 * by_jump.clamp(0.01, 4.0).sqrt()).max(0.5)
}

/// The limit at which `run_length`, which rises with it, reaches `arl`: the secant method on the logarithm, which is
/// nearly straight, held inside a bracket.
fn find_limit(arl: f64, run_length: impl Fn(f64) -> f64) -> f64 {
    let miss = |limit: f64| run_length(limit).ln() - arl.ln();
    let (mut before, mut miss_before) = (0.05, miss(0.05));
    if miss_before.is_nan() || miss_before >= 0.0 {
        return f64::NAN;
    }
    let (mut low, mut high) = (before, before);
    let (mut now, mut miss_now) = (before, miss_before);
    // Step up to the first limit beyond, not straight to a large one: the system for an astronomic run length is
    // singular to machine precision.
    while miss_now < 0.0 {
        if high > 12.0 {
            return f64::NAN;
        }
        (before, miss_before) = (now, miss_now);
        high += 1.0;
        (now, miss_now) = (high, miss(high));
    }
    for _ in 0..60 {
        if miss_now < 0.0 {
            low = now;
        } else {
            high = now;
        }
        let secant = now - miss_now * (now - before) / (miss_now - miss_before);
        let next = if secant > low && secant < high { secant } else { 0.5 * (low + high) };
        (before, miss_before) = (now, miss_now);
        (now, miss_now) = (next, miss(next));
        if (now - before).abs() < 1e-11 * now {
            break;
        }
    }
    now
}

/// Solves a dense linear system (row-major `matrix`) by elimination with partial pivoting. The systems here are
/// diagonally dominant in effect (their row sums are below one apart from the unit diagonal), hence well conditioned.
fn solve(mut matrix: Vec<f64>, mut right: Vec<f64>) -> Vec<f64> {
    let size = right.len();
    for column in 0..size {
        let pivot = (column..size)
            .max_by(|&a, &b| matrix[a * size + column].abs().total_cmp(&matrix[b * size + column].abs()))
            .unwrap_or(column);
        if pivot != column {
            for k in 0..size {
                matrix.swap(pivot * size + k, column * size + k);
            }
            right.swap(pivot, column);
        }
        for row in column + 1..size {
            let factor = matrix[row * size + column] / matrix[column * size + column];
            for k in column..size {
                matrix[row * size + k] -= factor * matrix[column * size + k];
            }
            right[row] -= factor * right[column];
        }
    }
    for row in (0..size).rev() {
        let known: f64 = (row + 1..size).map(|k| matrix[row * size + k] * right[k]).sum();
        right[row] = (right[row] - known) / matrix[row * size + row];
    }
    right
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Hawkins (1993) and the NIST/SEMATECH e-Handbook, 6.3.2.3, print these to three digits; the further digits were
    /// recomputed independently with scipy.
    #[test]
    fn cusum_run_lengths_are_the_published_ones() {
        for (limit, shift, expected, tolerance) in [
            (4.0, 0.0, 168.0, 0.5),
            (4.0, 1.0, 8.38, 0.005),
            (5.0, 0.0, 465.4435, 1e-4),
            (5.0, 1.0, 10.3760, 1e-4),
            (5.0, 2.0, 4.0089, 1e-4),
        ] {
            let found = cusum_two_sided(0.5, limit, shift);
            assert!((found - expected).abs() <= tolerance, "h {limit}, shift {shift}: {found}");
        }
    }

    /// Montgomery, *Introduction to Statistical Quality Control*, table 9.3 (after Hawkins 1993), prints these run lengths
    /// of a two-sided CUSUM with k .5 to three digits (quoted from memory); a Markov chain has them to four.
    #[test]
    fn twenty_cusum_run_lengths_by_integral_equation_table_and_markov_chain() {
        let shifts = [0.0, 0.25, 0.5, 0.75, 1.0, 1.5, 2.0, 2.5, 3.0, 4.0];
        let printed = [
            (4.0, [168.0, 74.2, 26.6, 13.3, 8.38, 4.75, 3.34, 2.62, 2.19, 1.71]),
            (5.0, [465.0, 139.0, 38.0, 17.0, 10.4, 5.75, 4.01, 3.11, 2.57, 2.01]),
        ];
        for (limit, lengths) in printed {
            for (shift, expected) in shifts.into_iter().zip(lengths) {
                let found = cusum_two_sided(0.5, limit, shift);
                let half_a_digit = 0.5 * 10_f64.powf(f64::log10(expected).floor() - 2.0);
                assert!((found - expected).abs() <= 1.01 * half_a_digit, "h {limit}, shift {shift}: {found}");
                let up = chain(limit, shift - 0.5).recip();
                let chained = (up + chain(limit, -shift - 0.5).recip()).recip();
                assert!(
                    (found / chained - 1.0).abs() < 5e-5,
                    "h {limit}, shift {shift}: {found}, chain {chained}"
                );
            }
        }
    }

    /// Another way to the same number (Brook and Evans 1972): the chart as a Markov chain of `states` cells, for
    /// normal increments with this mean; twice, since its error falls with the square of the cells' width.
    fn chain(limit: f64, mean: f64) -> f64 {
        let run_length = |states: usize| {
            // Cell 0 lies about zero, half as wide to the right of it; from the last cell on the chart signals.
            let width = 2.0 * limit / (2 * states - 1) as f64;
            let mut matrix = vec![0.0; states * states];
            for row in 0..states {
                for column in 0..states {
                    let away = (column as f64 - row as f64) * width - mean;
                    let below = if column == 0 { 0.0 } else { normal::cdf(away - 0.5 * width) };
                    matrix[row * states + column] = below - normal::cdf(away + 0.5 * width);
                }
                matrix[row * states + row] += 1.0;
            }
            solve(matrix, vec![1.0; states])[0]
        };
        let (coarse, fine) = (run_length(80), run_length(160));
        let ratio = ((2.0 * 160.0 - 1.0) / (2.0 * 80.0 - 1.0_f64)).powi(2);
        fine + (fine - coarse) / (ratio - 1.0)
    }

    #[test]
    fn cusum_limits_for_a_run_length() {
        for (arl, expected) in [(1000.0, 5.757), (2000.0, 6.447), (3500.0, 7.005)] {
            let found = cusum_limit(0.5, arl);
            assert!((found - expected).abs() <= 5e-4, "ARL {arl}: {found}");
            assert!((cusum_two_sided(0.5, found, 0.0) / arl - 1.0).abs() < 1e-8);
        }
        assert!(cusum_limit(0.5, 0.5).is_nan(), "no chart signals before its first observation");
    }

    /// Lucas and Saccucci (1990) print 500 and 10.3–10.5 for both designs.
    #[test]
    fn ewma_run_lengths_are_the_published_ones() {
        for (weight, width, shift, expected) in [
            (0.2, 2.962, 0.0, 499.7351),
            (0.2, 2.962, 1.0, 10.5417),
            (0.1, 2.814, 0.0, 499.5796),
            (0.1, 2.814, 1.0, 10.3307),
        ] {
            let found = ewma(weight, width, shift);
            assert!((found - expected).abs() <= 1e-4, "λ {weight}, L {width}, shift {shift}: {found}");
        }
        let width = ewma_limit(0.2, 499.7351);
        assert!((width - 2.962).abs() < 1e-5, "{width}");
    }

    /// The closed form against the integral equation, scaled from a standard normal CUSUM to log likelihood ratios.
    #[test]
    fn the_limit_of_likelihood_ratios_keeps_its_run_length() {
        for information in [0.02_f64, 0.05, 0.1, 0.25, 0.5, 1.0, 1.5, 2.0] {
            for arl in [500.0, 2000.0, 5000.0] {
                let root = information.sqrt();
                let limit = likelihood_ratio_limit(information, information, arl);
                let found = cusum_one_sided(0.5 * root, limit / root, 0.0);
                assert!((found / arl - 1.0).abs() < 0.03, "D {information}, ARL {arl}: {found}");
            }
        }
    }

    /// One strong trial (D 1.2) in so many weak ones, against the integral equation for the mixture of increments.
    #[test]
    fn the_limit_holds_where_weak_and_strong_trials_mix() {
        for (strong_share, weak) in [(0.1, 0.1), (0.1, 0.25), (0.2, 0.1), (0.5, 0.3)] {
            let kinds = [(strong_share, 1.2_f64), (1.0 - strong_share, weak)];
            let mean: f64 = kinds.iter().map(|(share, d)| share * d).sum();
            let by_jump = kinds.iter().map(|(share, d)| share * d * d).sum::<f64>() / mean;
            let limit = likelihood_ratio_limit(mean, by_jump, 2000.0);
            let found = run_length(
                limit,
                |step| kinds.iter().map(|(share, d)| share * normal::cdf((step + d / 2.0) / d.sqrt())).sum(),
                |step| {
                    kinds
                        .iter()
                        .map(|(share, d)| share * normal::pdf((step + d / 2.0) / d.sqrt()) / d.sqrt())
                        .sum()
                },
            );
            assert!((found / 2000.0 - 1.0).abs() < 0.25, "{strong_share} of 1.2, else {weak}: {found}");
        }
    }

    #[test]
    fn a_solver_is_only_as_good_as_its_pivots() {
        let solution = solve(vec![0.0, 2.0, 1.0, 1.0], vec![4.0, 5.0]);
        assert_eq!(solution, vec![3.0, 2.0]);
    }
}
