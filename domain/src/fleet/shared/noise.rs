//! τ: how much an edge varies from trial to trial at the same conditions.

use super::SharedEvidence;
use super::site::{Site, Told};
use crate::fleet::axis::Axis;
use crate::fleet::{Basis, FEWEST_UNITS};
use crate::numerics::normal;
use crate::quantity::TemperatureDifference;

/// The usual value, and the standard deviation of its logarithm beforehand (no source).
const USUAL_K: f64 = 8.0;
const LN_SD: f64 = 0.4;
/// ln τ from 2 to 32 K.
const LN_NOISE: Axis = Axis { from: core::f64::consts::LN_2, to: 5.0 * core::f64::consts::LN_2, count: 81 };
/// Only trials that bracket an edge tell of τ, and so know it better than this (K): what a check leaves open repeats itself.
const SHARPEST_K: f64 = 22.0;
/// One difference in so many is about something else (strips mixed up), of this standard deviation (K).
const STRAY_SHARE: f64 = 0.03;
const STRAY_K: f64 = 80.0;

/// Standard deviation of an edge from trial to trial at the same conditions on the same sheets.
///
/// From differences between one trial and the next of a unit, no trial used twice: a level that drifts slowly cancels in
/// them (von Neumann, *Distribution of the ratio of the mean square successive difference to the variance*, Annals of
/// Mathematical Statistics 12, 1941). ln τ is normal about ln 8 K beforehand, with standard deviation .4.
///
/// It is told, and used to weigh trials against each other here; charts keep the usual value. A trial's likelihood leaves its
/// strips' scatter open, so part of what differs from trial to trial is in there already, and τ comes out low.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TrialNoise {
    /// Whether it is the fleet's: not until three units and thirty differences inform it, and they narrow down what was
    /// assumed to half.
    pub basis: Basis,
    /// Differences it is from.
    pub differences: usize,
    /// τ; the usual value exactly where it is not the fleet's.
    pub mean: TemperatureDifference,
    /// 2.5 % point.
    pub low: TemperatureDifference,
    /// 97.5 % point.
    pub high: TemperatureDifference,
}

/// Fewer differences than this are too few.
const FEWEST: usize = 30;
/// At most this share of the prior's standard deviation of ln τ may be left.
const NARROWED: f64 = 0.5;

impl TrialNoise {
    pub(super) fn of(evidence: &[SharedEvidence]) -> Self {
        let mut differences = Vec::new();
        let mut units = 0;
        for unit in evidence {
            let before = differences.len();
            add(&unit.trials, &mut differences);
            units += usize::from(differences.len() > before);
        }
        let ln: Vec<f64> = LN_NOISE.points().map(|ln_noise| ln_posterior(ln_noise, &differences)).collect();
        let best = ln.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let mass: Vec<f64> = ln.iter().map(|ln| libm::exp(ln - best)).collect();
        let found = LN_NOISE.estimate(&mass, libm::exp);
        let basis = if units < FEWEST_UNITS {
            Basis::FewUnits
        } else if differences.len() < FEWEST {
            Basis::FewTrials
        } else if LN_NOISE.estimate(&mass, |ln| ln).sd > NARROWED * LN_SD {
            Basis::Vague
        } else {
            Basis::Fitted
        };
        let kelvin = TemperatureDifference::from_kelvin;
        let mean = if basis == Basis::Fitted { found.mean } else { USUAL_K };
        Self {
            basis,
            differences: differences.len(),
            mean: kelvin(mean),
            low: kelvin(found.low),
            high: kelvin(found.high),
        }
    }
}

/// Squared difference and the variance that the strips alone give it.
type Difference = (f64, f64);

fn ln_posterior(ln_noise: f64, differences: &[Difference]) -> f64 {
    let noise = 2.0 * libm::exp(2.0 * ln_noise);
    let ln_likely = |(square, variance): &Difference| {
        let density = |variance: f64| normal::pdf((square / variance).sqrt()) / variance.sqrt();
        let (sound, stray) = (density(variance + noise), density(variance + noise + STRAY_K * STRAY_K));
        libm::log((1.0 - STRAY_SHARE) * sound + STRAY_SHARE * stray)
    };
    let prior = -0.5 * ((ln_noise - libm::log(USUAL_K)) / LN_SD).powi(2);
    prior + differences.iter().map(ln_likely).sum::<f64>()
}

/// The differences between one sharp trial and the next of the same class, segment, product and run.
fn add(trials: &[Told], differences: &mut Vec<Difference>) {
    let alike = |one: &Told, other: &Told| {
        one.class == other.class
            && one.segment == other.segment
            && (one.setting.membrane, one.setting.lot) == (other.setting.membrane, other.setting.lot)
    };
    for edge in 0..2 {
        let mut waiting: Vec<(&Told, Site)> = Vec::new();
        for told in trials {
            let Some(site) = told.edges[edge].filter(|site| site.precision * SHARPEST_K * SHARPEST_K >= 1.0)
            else {
                continue;
            };
            // At most one trial of each class waits for the next.
            match waiting.iter().position(|(other, _)| other.class == told.class) {
                Some(place) => {
                    let (other, first) = waiting.swap_remove(place);
                    if alike(other, told) {
                        let variance = first.precision.recip() + site.precision.recip();
                        differences.push(((first.mean - site.mean).powi(2), variance));
                    } else {
                        waiting.push((told, site));
                    }
                }
                None => waiting.push((told, site)),
            }
        }
    }
}
