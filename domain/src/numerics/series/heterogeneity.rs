//! How much measurements scatter beyond their standard errors.

use super::level::weighted_mean;

/// Steps of the iteration; it gains digits at every one.
const MOST_STEPS: usize = 100;

/// Variance τ² of true values about their mean, by moments in one step; ≥ 0. `None` with fewer than two measurements.
///
/// DerSimonian and Laird, *Meta-analysis in clinical trials*, Controlled Clinical Trials 7, 1986.
#[must_use]
pub fn dersimonian_laird(values: &[f64], variances: &[f64]) -> Option<f64> {
    if values.len() < 2 {
        return None;
    }
    let weights = variances.iter().map(|variance| variance.recip());
    let (sum, squares) = weights.fold((0.0, 0.0), |(sum, squares), w| (sum + w, squares + w * w));
    Some((excess(values, variances, 0.0)? / (sum - squares / sum)).max(0.0))
}

/// Variance τ² of true values about their mean, such that the weighted squares with it are just what chance gives; ≥ 0.
/// `None` with fewer than two measurements.
///
/// Paule and Mandel, *Consensus values and weighting factors*, Journal of Research of the National Bureau of Standards
/// 87, 1982; the step is Newton's.
///
/// ```
/// use lapwatch_domain::numerics::series::paule_mandel;
/// // Two values 10 apart, each known to 3: their squared distance is twice τ² + 9.
/// assert!((paule_mandel(&[0.0, 10.0], &[9.0, 9.0]).unwrap() - 41.0).abs() < 1e-9);
/// assert_eq!(paule_mandel(&[0.0, 1.0], &[9.0, 9.0]), Some(0.0));
/// ```
#[must_use]
pub fn paule_mandel(values: &[f64], variances: &[f64]) -> Option<f64> {
    if values.len() < 2 {
        return None;
    }
    let mut tau_squared = 0.0;
    for _ in 0..MOST_STEPS {
        let over = excess(values, variances, tau_squared)?;
        let wide: Vec<f64> = variances.iter().map(|variance| variance + tau_squared).collect();
        let mean = weighted_mean(values, &wide)?.mean;
        // The excess falls with τ² at this rate; it is convex, so that steps from below never go too far.
        let rate: f64 =
            values.iter().zip(&wide).map(|(value, variance)| ((value - mean) / variance).powi(2)).sum();
        let step = if rate > 0.0 { over / rate } else { 0.0 };
        let next = (tau_squared + step).max(0.0);
        if (next - tau_squared).abs() <= 1e-13 * next {
            return Some(next);
        }
        tau_squared = next;
    }
    Some(tau_squared)
}

/// Σ w(y − ȳ)² with w = 1/(variance + τ²), less its expectation n − 1.
fn excess(values: &[f64], variances: &[f64], tau_squared: f64) -> Option<f64> {
    let wide: Vec<f64> = variances.iter().map(|variance| variance + tau_squared).collect();
    let mean = weighted_mean(values, &wide)?.mean;
    let squares: f64 =
        values.iter().zip(&wide).map(|(value, variance)| (value - mean).powi(2) / variance).sum();
    Some(squares - (values.len() as f64 - 1.0))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The thirteen BCG trials of Colditz et al. (1994) as log risk ratios: τ² .3088 (DerSimonian–Laird) and .3181
    /// (Paule–Mandel) are printed with the data in the literature on meta-analysis; further digits were recomputed.
    #[test]
    fn thirteen_trials_of_a_vaccine() {
        // Treated with and without the event, control with and without.
        let counts = [
            [4, 119, 11, 128],
            [6, 300, 29, 274],
            [3, 228, 11, 209],
            [62, 13_536, 248, 12_619],
            [33, 5_036, 47, 5_761],
            [180, 1_361, 372, 1_079],
            [8, 2_537, 10, 619],
            [505, 87_886, 499, 87_892],
            [29, 7_470, 45, 7_232],
            [17, 1_699, 65, 1_600],
            [186, 50_448, 141, 27_197],
            [5, 2_493, 3, 2_338],
            [27, 16_886, 29, 17_825],
        ];
        let (values, variances): (Vec<f64>, Vec<f64>) = counts
            .into_iter()
            .map(|trial| {
                let [treated, untouched, control, spared] = trial.map(f64::from);
                let ratio = (treated / (treated + untouched)) / (control / (control + spared));
                let variance = treated.recip() - (treated + untouched).recip() + control.recip()
                    - (control + spared).recip();
                (ratio.ln(), variance)
            })
            .unzip();
        let moments = dersimonian_laird(&values, &variances).unwrap();
        assert!((moments - 0.308_760_3).abs() < 5e-8, "{moments}");
        let iterated = paule_mandel(&values, &variances).unwrap();
        assert!((iterated - 0.318_068_5).abs() < 5e-8, "{iterated}");
    }

    #[test]
    fn scatter_within_the_errors_is_none_beyond_them() {
        assert_eq!(dersimonian_laird(&[1.0, 1.5, 0.8], &[1.0; 3]), Some(0.0));
        assert_eq!(paule_mandel(&[1.0], &[1.0]), None);
        assert_eq!(dersimonian_laird(&[1.0], &[1.0]), None);
    }
}
