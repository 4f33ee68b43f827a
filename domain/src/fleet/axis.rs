//! Evenly spaced points, and what a posterior on them says.

use super::RatioEstimate;

/// Natural logarithms below the best cell from which on a posterior holds next to nothing.
pub(super) const NEGLIGIBLE: f64 = 10.0;
/// Points between which a quantile is sought, to a step.
const FINER: usize = 8;
/// What is not negligible covers at least so many points before an axis is fine enough.
const ENOUGH_POINTS: usize = 12;

/// Evenly spaced points.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Axis {
    pub(super) from: f64,
    pub(super) to: f64,
    pub(super) count: usize,
}

impl Axis {
    pub(super) fn step(&self) -> f64 {
        (self.to - self.from) / (self.count - 1) as f64
    }

    pub(super) fn points(self) -> impl Iterator<Item = f64> + Clone {
        let step = self.step();
        (0..self.count).map(move |index| self.from + step * index as f64)
    }

    /// The same number of points about what matters, inside `whole`. `profile` holds for each point the highest
    /// logarithm of the posterior there, `best` the highest of all. `None` when the points are fine enough and reach
    /// far enough.
    pub(super) fn refined(&self, whole: &Self, profile: &[f64], best: f64) -> Option<Self> {
        let matters = |ln: &f64| *ln > best - NEGLIGIBLE;
        let first = profile.iter().position(matters)?;
        let last = profile.iter().rposition(matters)?;
        let (at_start, at_end) = (first == 0, last + 1 == self.count);
        let complete = (!at_start || self.from <= whole.from) && (!at_end || self.to >= whole.to);
        if complete && last - first + 1 >= ENOUGH_POINTS {
            return None;
        }
        // Where the posterior has not yet fallen at an end, what matters may lie far beyond it.
        let (step, width) = (self.step(), self.to - self.from);
        let from = if at_start { self.from - width } else { self.from + step * (first as f64 - 1.0) };
        let to = if at_end { self.to + width } else { self.from + step * (last as f64 + 1.0) };
        Some(Self { from: from.max(whole.from), to: to.min(whole.to), count: self.count })
    }

    /// What masses at the points say of a quantity that is a rising function of the axis.
    pub(super) fn estimate(&self, mass: &[f64], quantity: impl Fn(f64) -> f64) -> RatioEstimate {
        let total: f64 = mass.iter().sum();
        let values: Vec<f64> = self.points().map(&quantity).collect();
        let average = |of: &dyn Fn(f64) -> f64| -> f64 {
            values.iter().zip(mass).map(|(value, mass)| mass * of(*value)).sum::<f64>() / total
        };
        let mean = average(&|value| value);
        let sd = average(&|value| (value - mean) * (value - mean)).sqrt();
        let at = |share| quantity(self.quantile(mass, share));
        RatioEstimate { mean, sd, low: at(0.025), high: at(0.975) }
    }

    /// The point below which `share` of the probability lies.
    fn quantile(&self, mass: &[f64], share: f64) -> f64 {
        let ln: Vec<f64> = mass.iter().map(|mass| libm::log(mass.max(f64::MIN_POSITIVE))).collect();
        let fine: Vec<f64> = (0..=(self.count - 1) * FINER)
            .map(|index| libm::exp(cubic(&ln, index as f64 / FINER as f64)))
            .collect();
        let pieces: Vec<f64> = fine.windows(2).map(|pair| 0.5 * (pair[0] + pair[1])).collect();
        let mut left = share * pieces.iter().sum::<f64>();
        for (index, piece) in pieces.iter().enumerate() {
            if left <= *piece {
                let place = index as f64 + within(fine[index], fine[index + 1], left);
                return self.from + self.step() * place / FINER as f64;
            }
            left -= piece;
        }
        self.to
    }
}

/// The cubic through evenly spaced values with the slopes of the chords over both neighbours (Catmull–Rom), at a place
/// counted in steps from the first of them; those beyond the ends are taken to be as the ends.
pub(super) fn cubic(values: &[f64], place: f64) -> f64 {
    let last = values.len() - 1;
    let here = (place as usize).min(last);
    let t = place - here as f64;
    let [before, from, to, after] =
        [here.saturating_sub(1), here, (here + 1).min(last), (here + 2).min(last)].map(|index| values[index]);
    let (start, end, rise) = (0.5 * (to - before), 0.5 * (after - from), to - from);
    from + t * (start + t * (3.0 * rise - 2.0 * start - end + t * (start + end - 2.0 * rise)))
}

/// The share of an interval below which a straight density from `start` to `end` holds `area`.
fn within(start: f64, end: f64, area: f64) -> f64 {
    // area = start·t + (end − start)·t²/2, solved without cancellation.
    let root = (start * start + 2.0 * (end - start) * area).max(0.0).sqrt();
    if start + root > 0.0 { (2.0 * area / (start + root)).clamp(0.0, 1.0) } else { 0.5 }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::numerics::normal;

    #[test]
    fn a_normal_law_on_coarse_points_keeps_its_numbers() {
        let axis = Axis { from: -5.0, to: 5.0, count: 21 };
        let mass: Vec<f64> = axis.points().map(|x| normal::pdf(x - 0.1)).collect();
        let found = axis.estimate(&mass, |x| x);
        assert!((found.mean - 0.1).abs() < 1e-5 && (found.sd - 1.0).abs() < 1e-4, "{found:?}");
        assert!((found.low + 1.86).abs() < 0.003 && (found.high - 2.06).abs() < 0.003, "{found:?}");
    }

    #[test]
    fn an_axis_closes_in_on_a_narrow_posterior_and_follows_it_out() {
        let whole = Axis { from: -10.0, to: 10.0, count: 13 };
        let mut axis = Axis { from: -10.0, to: -9.0, count: 13 };
        for _ in 0..40 {
            let profile: Vec<f64> = axis.points().map(|x| -0.5 * ((x - 3.21) / 0.01_f64).powi(2)).collect();
            let best = profile.iter().copied().fold(f64::NEG_INFINITY, f64::max);
            match axis.refined(&whole, &profile, best) {
                Some(next) => axis = next,
                None => break,
            }
        }
        assert!(axis.from < 3.19 && axis.to > 3.23 && axis.to - axis.from < 0.15, "{axis:?}");
    }
}
