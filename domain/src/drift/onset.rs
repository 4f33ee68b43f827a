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
    /// ln-likelihood of all trials so far, laid out as [`Evidence`].
    sums: Vec<f64>,
    row_len: usize,
}

impl ShiftEstimator {
    pub(super) fn new(nodes: usize, levels: &Levels) -> Self {
        let row_len = levels.evidence_len();
        Self { sums: vec![0.0; nodes * row_len], row_len }
    }

    /// Adds a trial whose evidence is filled in the columns `from..to`.
    pub(super) fn add(&mut self, evidence: &Evidence, (from, to): (usize, usize)) {
        for (sums, rows) in
            self.sums.chunks_exact_mut(self.row_len).zip(evidence.rows.chunks_exact(self.row_len))
        {
            for (sum, likely) in sums[from..to].iter_mut().zip(&rows[from..to]) {
                *sum += libm::log(likely.max(f64::MIN_POSITIVE));
            }
        }
    }

    /// Mean and standard deviation of the shift (K): every shift on the grid equally likely beforehand, the level and heat
    /// share as the baseline has them.
    pub(super) fn estimate(&self, baseline: &Belief, weights: &[f64], levels: &Levels) -> (f64, f64) {
        let (from, to) = baseline.window();
        let greatest = self
            .sums
            .chunks_exact(self.row_len)
            .flat_map(|row| &row[from..to + 2 * levels.shift])
            .copied()
            .fold(f64::NEG_INFINITY, f64::max);
        let likelihood = Evidence {
            rows: self.sums.iter().map(|ln| libm::exp((ln - greatest).min(0.0))).collect(),
            row_len: self.row_len,
        };
        let (mut total, mut first, mut second) = (0.0, 0.0, 0.0);
        for offset in 0..=2 * levels.shift {
            let likely: f64 = weights
                .iter()
                .enumerate()
                .map(|(node, weight)| weight * baseline.predict(node, &likelihood, offset))
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
}
