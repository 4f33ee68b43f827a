//! The posterior of one shift.

use super::contrast::Contrast;
use super::{SharedKind, Shift};
use crate::numerics::normal;
use crate::quantity::TemperatureDifference;

/// Standard deviation (K) with which units differ in their answer to the same sheet (no source).
pub(super) const INTERACTION_K: f64 = 6.0;
/// The share of shifts that are out of the ordinary, and their standard deviation (K) (no source).
const BAD_SHARE: f64 = 0.05;
const BAD_K: f64 = 30.0;
/// Degrees of freedom of the t law of units about the shift.
const FREEDOM: f64 = 4.0;
const ROUNDS: usize = 12;

/// What several units say together: mean and precision.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Said {
    pub(super) mean: f64,
    pub(super) precision: f64,
}

impl Said {
    /// Of these contrasts; a unit far from the rest counts less.
    pub(super) fn by<'a>(contrasts: impl Iterator<Item = &'a Contrast> + Clone) -> Self {
        let mut mean = median(contrasts.clone());
        let mut precision = 0.0;
        for _ in 0..ROUNDS {
            let (mut total, mut sum) = (0.0, 0.0);
            for contrast in contrasts.clone() {
                let own = contrast.precision();
                let off = (contrast.mean - mean).powi(2) * own;
                let weight = own * ((FREEDOM + 1.0) / (FREEDOM + off)).min(1.0);
                total += weight;
                sum += weight * contrast.mean;
            }
            if total <= 0.0 {
                return Self { mean: 0.0, precision: 0.0 };
            }
            (mean, precision) = (sum / total, total);
        }
        Self { mean, precision }
    }

    /// The logarithm of its probability beforehand, with ordinary shifts of this standard deviation; up to a constant.
    pub(super) fn ln_probability(&self, ordinary: f64) -> f64 {
        let noise = self.precision.recip();
        let density = |sd: f64| {
            let sd = (sd * sd + noise).sqrt();
            normal::pdf(self.mean / sd) / sd
        };
        libm::log((1.0 - BAD_SHARE) * density(ordinary) + BAD_SHARE * density(BAD_K))
    }

    /// The probability that the shift is an ordinary one.
    pub(super) fn share_of_ordinary(&self, ordinary: f64) -> f64 {
        let [usual, bad] = self.parts(ordinary);
        usual.0 / (usual.0 + bad.0)
    }

    /// Weight, mean and standard deviation of the shift as an ordinary and as a bad one.
    fn parts(&self, ordinary: f64) -> [(f64, f64, f64); 2] {
        let noise = self.precision.recip();
        let part = |share: f64, sd: f64| {
            let variance = sd * sd + noise;
            let weight = share * libm::exp(-0.5 * self.mean * self.mean / variance) / variance.sqrt();
            (weight, self.mean * sd * sd / variance, sd * (noise / variance).sqrt())
        };
        [part(1.0 - BAD_SHARE, ordinary), part(BAD_SHARE, BAD_K)]
    }

    /// The posterior of the shift.
    pub(super) fn shift(&self, ordinary: f64) -> Shift {
        let parts = self.parts(ordinary);
        let total = parts[0].0 + parts[1].0;
        let average = |of: &dyn Fn(f64, f64) -> f64| -> f64 {
            parts.iter().map(|(weight, mean, sd)| weight / total * of(*mean, *sd)).sum()
        };
        let mean = average(&|mean, _| mean);
        let sd = average(&|part, sd| (part - mean).powi(2) + sd * sd).sqrt();
        let below = |at: f64| average(&|mean, sd| normal::cdf((at - mean) / sd));
        let reach = 8.0 * parts[1].2.max(parts[0].2) + self.mean.abs();
        let point = |share: f64| bisect((-reach, reach), |at| below(at) < share);
        let kelvin = TemperatureDifference::from_kelvin;
        Shift { mean: kelvin(mean), sd: kelvin(sd), low: kelvin(point(0.025)), high: kelvin(point(0.975)) }
    }
}

/// The place between the ends where `is_before` ends.
fn bisect((mut from, mut to): (f64, f64), is_before: impl Fn(f64) -> bool) -> f64 {
    for _ in 0..60 {
        let middle = 0.5 * (from + to);
        if is_before(middle) { from = middle } else { to = middle }
    }
    0.5 * (from + to)
}

/// The median of the contrasts, each counted by its precision.
fn median<'a>(contrasts: impl Iterator<Item = &'a Contrast>) -> f64 {
    let mut sorted: Vec<(f64, f64)> =
        contrasts.map(|contrast| (contrast.mean, contrast.precision())).collect();
    sorted.sort_by(|a, b| a.0.total_cmp(&b.0));
    let half: f64 = 0.5 * sorted.iter().map(|(_, weight)| weight).sum::<f64>();
    let mut sum = 0.0;
    let found = sorted.iter().find(|(_, weight)| {
        sum += weight;
        sum >= half
    });
    found.map_or(0.0, |(mean, _)| *mean)
}

impl SharedKind {
    /// Median of the prior of the standard deviation (K) of ordinary shifts; its logarithm has an sd of .6 (no source).
    pub(super) const fn usual(self) -> f64 {
        match self {
            Self::Membrane => 12.0,
            Self::Lot => 8.0,
            Self::Day => 4.0,
        }
    }

    /// The standard deviation of ordinary shifts, as those of this kind tell it: the posterior's mean.
    pub(super) fn ordinary(self, said: &[Said]) -> f64 {
        const LN_SD: f64 = 0.6;
        const POINTS: usize = 41;
        let point = |index: usize| LN_SD * (index as f64 - (POINTS / 2) as f64) * 6.0 / (POINTS - 1) as f64;
        let ln: Vec<(f64, f64)> = (0..POINTS)
            .map(|index| {
                let sd = self.usual() * libm::exp(point(index));
                let prior = -0.5 * (point(index) / LN_SD).powi(2);
                (sd, prior + said.iter().map(|said| said.ln_probability(sd)).sum::<f64>())
            })
            .collect();
        let best = ln.iter().map(|(_, ln)| *ln).fold(f64::NEG_INFINITY, f64::max);
        let (mut total, mut sum) = (0.0, 0.0);
        for (sd, ln) in ln {
            let mass = libm::exp(ln - best);
            total += mass;
            sum += mass * sd;
        }
        sum / total
    }
}
