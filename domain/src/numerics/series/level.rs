//! A level, standing or wandering.

/// An estimate: its value and variance.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Estimate {
    /// The value.
    pub mean: f64,
    /// Its variance, in the square of the value's unit.
    pub variance: f64,
}

impl Estimate {
    /// The standard deviation.
    #[must_use]
    pub fn sd(self) -> f64 {
        self.variance.sqrt()
    }
}

/// The mean of measurements weighted by the inverse of their `variances`; `None` without measurements.
///
/// ```
/// use lapwatch_domain::numerics::series::weighted_mean;
/// let mean = weighted_mean(&[10.0, 16.0], &[1.0, 2.0]).unwrap();
/// assert!((mean.mean - 12.0).abs() < 1e-12 && (mean.variance - 2.0 / 3.0).abs() < 1e-12);
/// assert_eq!(weighted_mean(&[], &[]), None);
/// ```
#[must_use]
pub fn weighted_mean(values: &[f64], variances: &[f64]) -> Option<Estimate> {
    let total: f64 = variances.iter().map(|variance| variance.recip()).sum();
    let sum: f64 = values.iter().zip(variances).map(|(value, variance)| value / variance).sum();
    (total > 0.0).then(|| Estimate { mean: sum / total, variance: total.recip() })
}

/// The level after each of `measured` (time, value, variance), as the Kalman filter follows it: a level that wanders by a
/// variance of `wander` per unit of time from `start`, known at `start_time`.
///
/// Times must not fall. Harvey, *Forecasting, Structural Time Series Models and the Kalman Filter*, 1989, ch. 4.
#[must_use]
pub fn local_level(
    start: Estimate,
    start_time: f64,
    measured: &[(f64, f64, f64)],
    wander: f64,
) -> Vec<Estimate> {
    measured
        .iter()
        .scan((start, start_time), |(level, last), &(time, value, variance)| {
            level.variance += wander * (time - *last);
            *last = time;
            let gain = level.variance / (level.variance + variance);
            level.mean += gain * (value - level.mean);
            level.variance *= 1.0 - gain;
            Some(*level)
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A level that stands still is the weighted mean.
    #[test]
    fn without_wandering_the_filter_is_the_mean() {
        let (values, variances) = ([4.0, 9.0, 5.5, 7.0], [1.0, 4.0, 2.0, 0.5]);
        let start = Estimate { mean: values[0], variance: variances[0] };
        let measured: Vec<(f64, f64, f64)> =
            (1..4).map(|at| (at as f64, values[at], variances[at])).collect();
        let last = local_level(start, 0.0, &measured, 0.0)[2];
        let mean = weighted_mean(&values, &variances).unwrap();
        assert!((last.mean - mean.mean).abs() < 1e-12 && (last.variance - mean.variance).abs() < 1e-12);
    }

    /// Equal steps lead to the variance that the algebraic Riccati equation has for a local level: with q the step's
    /// variance and h that of a measurement, the predicted P = (q + √(q² + 4qh))/2. For the flow of the Nile, q 1469.1 and
    /// h 15099 as Durbin and Koopman estimate them (*Time Series Analysis by State Space Methods*, 2.2).
    #[test]
    fn the_variance_becomes_steady() {
        let (q, h) = (1469.1_f64, 15_099.0);
        let measured: Vec<(f64, f64, f64)> = (0..100).map(|year| (f64::from(year), 900.0, h)).collect();
        let levels = local_level(Estimate { mean: 0.0, variance: 1e7 }, 0.0, &measured, q);
        let predicted = 0.5 * (q + (q * q + 4.0 * q * h).sqrt());
        let filtered = predicted * h / (predicted + h);
        assert!((levels[99].variance / filtered - 1.0).abs() < 1e-9, "{}", levels[99].variance);
    }
}
