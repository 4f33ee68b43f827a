//! Control charts of standardized values.

/// Exponentially weighted moving averages z ← (1 − λ)z + λx after each of `values`, from `start`.
///
/// `weight` is λ, above 0 and at most 1. Roberts, *Control chart tests based on geometric moving averages*,
/// Technometrics 1, 1959.
///
/// ```
/// use lapwatch_domain::numerics::series::ewma;
/// assert_eq!(ewma(&[8.0, 16.0], 0.25, 0.0), [2.0, 5.5]);
/// ```
#[must_use]
pub fn ewma(values: &[f64], weight: f64, start: f64) -> Vec<f64> {
    values
        .iter()
        .scan(start, |average, value| {
            *average += weight * (value - *average);
            Some(*average)
        })
        .collect()
}

/// Standard deviation of an EWMA after `count` values of standard deviation 1 from a known start:
/// √(λ/(2 − λ)·(1 − (1 − λ)²ⁿ)).
#[must_use]
pub fn ewma_sd(weight: f64, count: usize) -> f64 {
    let forgotten = (1.0 - weight).powi(2 * i32::try_from(count).unwrap_or(i32::MAX / 2));
    (weight / (2.0 - weight) * (1.0 - forgotten)).sqrt()
}

/// Both sums of a tabular CUSUM after one value; ≥ 0.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Cusum {
    /// C⁺ ← max(0, C⁺ + x − k): grows while values lie high.
    pub up: f64,
    /// C⁻ ← max(0, C⁻ − x − k): grows while values lie low.
    pub down: f64,
}

/// The tabular CUSUM after each of `values`, standardized to mean 0 and standard deviation 1 in control, from zero.
///
/// `reference` is k, half the shift that it looks for, in standard deviations. Page, *Continuous inspection schemes*,
/// Biometrika 41, 1954.
///
/// ```
/// use lapwatch_domain::numerics::series::cusum;
/// let sums = cusum(&[1.5, -2.0, -1.0], 0.5);
/// assert_eq!((sums[0].up, sums[0].down), (1.0, 0.0));
/// assert_eq!((sums[2].up, sums[2].down), (0.0, 2.0));
/// ```
#[must_use]
pub fn cusum(values: &[f64], reference: f64) -> Vec<Cusum> {
    values
        .iter()
        .scan(Cusum { up: 0.0, down: 0.0 }, |sums, value| {
            sums.up = (sums.up + value - reference).max(0.0);
            sums.down = (sums.down - value - reference).max(0.0);
            Some(*sums)
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.4: λ .3, start 50, s 2.0539. It prints limits of 52.5884
    /// and 47.4115, cut to four digits, and a last average of 51.99; 52.588432 and 51.9882 were recomputed.
    #[test]
    fn the_ewma_of_the_handbook() {
        let values = [
            52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5, 49.6, 47.6, 49.9, 51.3, 47.8, 51.2,
            52.6, 52.4, 53.6, 52.1,
        ];
        let averages = ewma(&values, 0.3, 50.0);
        assert!((averages[19] - 51.9882).abs() < 5e-5, "{}", averages[19]);
        let reach = 3.0 * 2.0539 * ewma_sd(0.3, 1000);
        assert!((50.0 + reach - 52.5884).abs() < 2e-4 && (50.0 - reach - 47.4115).abs() < 2e-4);
        assert!((50.0 + reach - 52.588_432).abs() < 5e-7, "{}", 50.0 + reach);
        assert!(averages.iter().all(|average| (average - 50.0).abs() < reach));
    }

    /// The same, 6.3.2.3: target 325, k .3175, h 4.1959; the first sum beyond h is the 14th, 4.94.
    #[test]
    fn the_cusum_of_the_handbook() {
        let values = [
            324.925, 324.675, 324.725, 324.350, 325.350, 325.225, 324.125, 324.525, 325.225, 324.600,
            324.625, 325.150, 328.325, 327.250, 327.825, 328.500, 326.675, 327.775, 326.875, 328.350,
        ];
        let off: Vec<f64> = values.iter().map(|value| value - 325.0).collect();
        let sums = cusum(&off, 0.3175);
        assert_eq!(sums.iter().position(|sum| sum.up.max(sum.down) > 4.1959), Some(13));
        assert!((sums[13].up - 4.94).abs() <= 0.005, "{}", sums[13].up);
    }

    /// Montgomery, *Introduction to Statistical Quality Control*, example 9.1: target 10, k .5, h 5. The upper sums are
    /// printed to two digits; the 29th is the first beyond h.
    #[test]
    fn the_cusum_of_a_textbook() {
        let values = [
            9.45, 7.99, 9.29, 11.66, 12.16, 10.18, 8.04, 11.46, 9.20, 10.34, 9.03, 11.47, 10.51, 9.40, 10.08,
            9.37, 10.62, 10.31, 8.52, 10.84, 10.90, 9.33, 12.29, 11.50, 10.60, 11.08, 10.38, 11.62, 11.31,
            10.52,
        ];
        let printed = [
            0.0, 0.0, 0.0, 1.16, 2.82, 2.50, 0.04, 1.00, 0.0, 0.0, 0.0, 0.97, 0.98, 0.0, 0.0, 0.0, 0.12, 0.0,
            0.0, 0.34, 0.74, 0.0, 1.79, 2.79, 2.89, 3.47, 3.35, 4.47, 5.28,
        ];
        let off: Vec<f64> = values.iter().map(|value| value - 10.0).collect();
        let sums = cusum(&off, 0.5);
        for (index, expected) in printed.into_iter().enumerate() {
            assert!((sums[index].up - expected).abs() < 0.005, "period {}: {}", index + 1, sums[index].up);
        }
        assert_eq!(sums.iter().position(|sum| sum.up > 5.0), Some(28));
    }

    #[test]
    fn a_mirrored_series_mirrors_the_sums() {
        let values = [0.3, 1.7, -0.4, 2.2, -1.9, -2.4, 0.1];
        let mirrored: Vec<f64> = values.iter().map(|value| -value).collect();
        for (sum, mirror) in cusum(&values, 0.5).iter().zip(cusum(&mirrored, 0.5)) {
            assert_eq!((sum.up, sum.down), (mirror.down, mirror.up));
        }
    }
}
