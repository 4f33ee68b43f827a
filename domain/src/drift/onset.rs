//! When a shift began and how large it is.

use super::belief::{Belief, Evidence, Levels};

/// Beginnings whose ln likelihood is at most this much behind the best belong to the range.
const RANGE: f64 = 2.0;

/// The range of trials (indices) at which a shift may have begun that signalled at the last of `fresh`.
///
/// `fresh` holds the ln likelihood ratio of each trial against the baseline. If the shift began at trial j, the ratio of all
/// from j on is in its favour; every j whose sum is within 2 of the best is in the range. `last_zero` is the trial at which the
/// chart last stood at zero; it is always included, since the shift may have begun with it.
pub(super) fn onset_range(fresh: &[f64], last_zero: usize) -> (usize, usize, usize) {
    let mut sums = vec![0.0; fresh.len()];
    let mut sum = 0.0;
    for (index, ratio) in fresh.iter().enumerate().rev() {
        sum += ratio;
        sums[index] = sum;
    }
    let best = sums.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let likeliest = sums.iter().position(|&sum| sum == best).unwrap_or(last_zero);
    let inside = |&index: &usize| sums[index] >= best - RANGE;
    let first = (0..sums.len()).find(inside).unwrap_or(last_zero).min(last_zero);
    let last = (0..sums.len()).rev().find(inside).unwrap_or(last_zero).max(last_zero);
    (first, likeliest, last)
}

/// Accumulates the evidence since an onset and estimates the shift from it.
#[derive(Debug)]
pub(super) struct ShiftEstimator {
    /// Likelihood of all trials so far, but for a constant. Where it falls 1e-200 below its greatest, it may be zero.
    all: Evidence,
}

/// As the product over the trials falls below this, it is brought up again.
const SMALL: f64 = 1e-100;

impl ShiftEstimator {
    pub(super) fn new(nodes: usize, levels: &Levels) -> Self {
        let row_len = levels.evidence_len();
        Self { all: Evidence { rows: vec![1.0; nodes * row_len], row_len } }
    }

    /// Adds a trial whose evidence is filled in the columns `from..to`, the same for all trials.
    pub(super) fn add(&mut self, evidence: &Evidence, (from, to): (usize, usize)) {
        let row_len = self.all.row_len;
        let mut greatest = 0.0_f64;
        for (all, rows) in self.all.rows.chunks_exact_mut(row_len).zip(evidence.rows.chunks_exact(row_len)) {
            for (product, likely) in all[from..to].iter_mut().zip(&rows[from..to]) {
                *product *= likely.max(f64::MIN_POSITIVE);
                greatest = greatest.max(*product);
            }
        }
        if greatest > 0.0 && greatest < SMALL {
            for row in self.all.rows.chunks_exact_mut(row_len) {
                row[from..to].iter_mut().for_each(|product| *product /= greatest);
            }
        }
    }

    /// Mean and standard deviation of the shift (K): every shift on the grid equally likely beforehand, the level and heat
    /// share as the baseline has them.
    pub(super) fn estimate(&self, baseline: &Belief, weights: &[f64], levels: &Levels) -> (f64, f64) {
        let (mut total, mut first, mut second) = (0.0, 0.0, 0.0);
        for offset in 0..=2 * levels.shift {
            let likely: f64 = weights
                .iter()
                .enumerate()
                .map(|(node, weight)| weight * baseline.predict(node, &self.all, offset))
                .sum();
            let shift = (offset as f64 - levels.shift as f64) * levels.step;
            total += likely;
            first += likely * shift;
            second += likely * shift * shift;
        }
        if total <= 0.0 {
            return (0.0, levels.step * levels.shift as f64);
        }
        let mean = first / total;
        (mean, (second / total - mean * mean).max(0.0).sqrt())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_range_holds_the_last_zero_and_every_near_alternative() {
        // Quiet, then four trials that each speak for a shift; the third trial alone is nearly neutral.
        let fresh = [-1.5, -2.5, -0.3, 1.5, 1.5, 1.5, 1.5];
        assert_eq!(onset_range(&fresh, 2), (2, 3, 4));
        assert_eq!(onset_range(&fresh, 1), (1, 3, 4));
    }

    /// A hundred trials whose likelihoods are all tiny: their product is far below the smallest number, the shift is not.
    #[test]
    fn only_the_shape_of_the_likelihoods_counts() {
        let levels = Levels { start: 400.0, step: 2.0, count: 30, shift: 20 };
        let baseline = Belief::flat(1, &levels);
        let estimate = |scale: f64| {
            let mut estimator = ShiftEstimator::new(1, &levels);
            for trial in 0..100 {
                let miss = f64::from(trial % 5 - 2);
                let likely =
                    |column: usize| scale * libm::exp(-0.5 * ((column as f64 - 40.0 - miss) / 12.0).powi(2));
                let rows = (0..levels.evidence_len()).map(likely).collect();
                estimator.add(&Evidence { rows, row_len: levels.evidence_len() }, (0, levels.evidence_len()));
            }
            estimator.estimate(&baseline, &[1.0], &levels)
        };
        let (mean, sd) = estimate(1.0);
        // The level anywhere on the grid is about 5 columns below where the readings lie.
        assert!((mean - 11.0).abs() < 1.0 && sd > 10.0, "{mean} ± {sd}");
        for scale in [1e-30, 1e-90] {
            let (small_mean, small_sd) = estimate(scale);
            assert!(
                (small_mean - mean).abs() < 1e-9 && (small_sd - sd).abs() < 1e-9,
                "{small_mean} ± {small_sd}"
            );
        }
    }
}
