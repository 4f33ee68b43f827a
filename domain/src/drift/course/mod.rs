//! How an edge goes on moving after its onset, and when its margin is gone.
//!
//! Two stories are weighed: the edge moved *once* and stands, or it *goes on* moving at a steady rate. Both start from the
//! level that the chart knew before it left zero, with its uncertainty, and at an onset that is not known either: each
//! trial from well before the chart's last zero on may have been the first. (A line through the points after the signal alone is
//! several times too steep: the signal came because those points lay far off.)
//!
//! Neither the size of a move nor its rate is known beforehand. They are averaged over, with priors that say what is common: the
//! rate of this fleet's fades ([`crate::fleet::Fades`]), or else about .5 K a day, and a step about 25 K, either give or take a factor
//! of some three. (Common experience, no source.)

mod limit;
#[cfg(test)]
mod tests;

use chrono::{DateTime, TimeDelta, Utc};

pub use limit::{TimeToLimit, limit_levels};

use super::{Direction, FadeRate};
use crate::quantity::{Temperature, TemperatureDifference};

/// ln of the common step (K), and the standard deviation of that logarithm.
pub(crate) const LN_STEP: (f64, f64) = (3.2, 0.9);
/// Points of the averages over rate or step, and over the level before: even steps over ±2.5 standard deviations. Rates are
/// so 15 % apart at most, less than any history tells them.
const RATE_POINTS: usize = 41;
const LEVEL_POINTS: usize = 5;
const REACH: f64 = 2.5;
/// At most so many onsets are tried.
const MOST_ONSETS: usize = 14;
/// A path with less than this share of the weight of all is given up.
const NEGLIGIBLE: f64 = 1e-5;
/// Until the edge goes on moving with at least this probability, nothing is said of when a limit is reached.
///
/// Chosen, with [`WIDEST`], by the simulation in `tests/drift`: of the intervals then shown for fades, 95 % hold the truth, and
/// of the checks of an edge that moved once 5 % or fewer show one.
const MOVING: f64 = 0.7;
/// Nor while the far end of the interval is more than this many times as far off as its middle.
const WIDEST: f64 = 5.0;
/// Below this probability the edge has moved once and stands.
const STANDING: f64 = 0.1;
const SECONDS_PER_DAY: f64 = 86_400.0;

/// What the trials since the onset say of the way an edge moves.
#[derive(Debug, Clone, PartialEq)]
pub struct Course {
    /// Probability that the edge goes on moving, against having moved once; both are equally likely beforehand.
    pub still_moving: f64,
    /// The way it moves.
    pub direction: Direction,
    /// The trial up to which this is known.
    pub at: DateTime<Utc>,
    /// Change in one day, if it goes on moving: mean and standard deviation, positive upwards.
    pub change_in_a_day: (TemperatureDifference, TemperatureDifference),
    /// Weight (of a total of 1), level at [`Course::at`] (°C) and rate (K a day, positive upwards) of each way to go on.
    paths: Vec<(f64, f64, f64)>,
}

/// What is needed of one trial: its time in days and the logarithm of its likelihood over the levels.
pub(super) struct Told<'a> {
    pub(super) day: f64,
    pub(super) ln_likelihood: &'a [f64],
}

/// What the course is worked out from.
pub(super) struct Since<'a> {
    /// The trials, oldest first.
    pub(super) trials: &'a [Told<'a>],
    /// First level of each trial's likelihood (°C), and the distance to the next (K).
    pub(super) grid: (f64, f64),
    /// Level before the move: mean (°C) and standard deviation (K).
    pub(super) before: (f64, f64),
    /// Times (days) at which the move may have begun, rising.
    pub(super) onsets: &'a [f64],
    pub(super) direction: Direction,
    /// What is assumed of the rate.
    pub(super) fade_rate: FadeRate,
    /// The time of the last trial.
    pub(super) at: DateTime<Utc>,
}

impl Since<'_> {
    /// ln-likelihood at one level of a trial, or of several whose ln-likelihoods were added up.
    fn at(&self, ln_likelihood: &[f64], level: f64) -> f64 {
        let (start, step) = self.grid;
        let last = ln_likelihood.len() - 1;
        let place = ((level - start) / step).clamp(0.0, last as f64);
        let below = (place as usize).min(last - 1);
        let share = place - below as f64;
        ln_likelihood[below] * (1.0 - share) + ln_likelihood[below + 1] * share
    }

    /// The sum of the ln-likelihoods of these trials: all that counts of them while the edge stands still.
    fn together(&self, trials: &[Told<'_>]) -> Vec<f64> {
        let mut sum = vec![0.0; self.trials[0].ln_likelihood.len()];
        for trial in trials {
            sum.iter_mut().zip(trial.ln_likelihood).for_each(|(sum, ln)| *sum += ln);
        }
        sum
    }

    /// Onsets, thinned to what is worth trying.
    fn onsets(&self) -> Vec<f64> {
        let stride = self.onsets.len().div_ceil(MOST_ONSETS).max(1);
        self.onsets.iter().rev().step_by(stride).copied().collect()
    }
}

impl Course {
    /// The course of a move since its onset, and between which days it began, 95 %: both stories weighed.
    pub(super) fn since(told: &Since<'_>) -> Option<(Self, (f64, f64))> {
        let last_day = told.trials.last()?.day;
        let sign = if told.direction == Direction::Up { 1.0 } else { -1.0 };
        let ln_rate = (told.fade_rate.ln_mean, told.fade_rate.ln_sd);
        let log_normal = |(mean, sd): (f64, f64), node: f64| sign * libm::exp(mean + sd * node);
        // ln of the weight, rate and size of each point of the averages over these.
        let sizes: Vec<(f64, f64, f64)> = normal_points(RATE_POINTS)
            .map(|(node, ln_weight)| (ln_weight, log_normal(ln_rate, node), log_normal(LN_STEP, node)))
            .collect();
        let mut going = Vec::new();
        let mut stood = Vec::new();
        let onsets = told.onsets();
        for &onset in &onsets {
            let (earlier, later) =
                told.trials.split_at(told.trials.partition_point(|trial| trial.day <= onset));
            let (before, after) = (told.together(earlier), told.together(later));
            for (level, ln_level) in normal_points(LEVEL_POINTS) {
                let level = told.before.0 + told.before.1 * level;
                let unmoved = ln_level + told.at(&before, level);
                for &(ln_weight, rate, size) in &sizes {
                    let ramp = |day: f64| level + rate * (day - onset);
                    let moving: f64 =
                        later.iter().map(|trial| told.at(trial.ln_likelihood, ramp(trial.day))).sum();
                    going.push((unmoved + ln_weight + moving, ramp(last_day.max(onset)), rate));
                    stood.push(unmoved + ln_weight + told.at(&after, level + size));
                }
            }
        }
        let (going_total, stood_total) =
            (ln_sum(going.iter().map(|path| path.0)), ln_sum(stood.iter().copied()));
        let began = began(&onsets, &going, &stood);
        let mut paths: Vec<(f64, f64, f64)> = going
            .into_iter()
            .map(|(ln, level, rate)| (libm::exp(ln - going_total), level, rate))
            .filter(|(weight, ..)| *weight > NEGLIGIBLE)
            .collect();
        let kept: f64 = paths.iter().map(|(weight, ..)| weight).sum();
        paths.iter_mut().for_each(|(weight, ..)| *weight /= kept);
        let mean: f64 = paths.iter().map(|(weight, _, rate)| weight * rate).sum();
        let variance: f64 = paths.iter().map(|(weight, _, rate)| weight * (rate - mean).powi(2)).sum();
        let kelvin = TemperatureDifference::from_kelvin;
        let course = Self {
            still_moving: (1.0 + libm::exp(stood_total - going_total)).recip(),
            direction: told.direction,
            at: told.at,
            change_in_a_day: (kelvin(mean), kelvin(variance.sqrt())),
            paths,
        };
        Some((course, began))
    }

    /// When the edge reaches `limit`, a level at reference conditions, if it goes on as it does.
    ///
    /// It is silent ([`TimeToLimit::TooEarly`]) until the trials tell going on from standing, and until the interval is of
    /// use: its far end at most five times as far off as its middle.
    #[must_use]
    pub fn reaches(&self, limit: Temperature) -> TimeToLimit {
        let sign = if self.direction == Direction::Up { 1.0 } else { -1.0 };
        // Days from the last trial until the limit is reached on each path; negative: it was there before.
        let mut days: Vec<(f64, f64)> = self
            .paths
            .iter()
            .map(|(weight, level, rate)| ((limit.celsius() - level) * sign / rate.abs(), *weight))
            .collect();
        days.sort_by(|a, b| a.0.total_cmp(&b.0));
        let quantile = |share: f64| {
            let mut sum = 0.0;
            let found = days.iter().find(|(_, weight)| {
                sum += weight;
                sum >= share
            });
            found.or(days.last()).map_or(f64::NAN, |(day, _)| *day)
        };
        let [earliest, middle, latest] = [0.025, 0.5, 0.975].map(quantile);
        if middle <= 0.0 {
            return TimeToLimit::Reached;
        }
        if self.still_moving < STANDING {
            return TimeToLimit::NotApproaching;
        }
        if self.still_moving < MOVING || latest > WIDEST * middle {
            return TimeToLimit::TooEarly;
        }
        let instant = |days: f64| self.at + TimeDelta::seconds((days.max(0.0) * SECONDS_PER_DAY) as i64);
        TimeToLimit::Between { earliest: instant(earliest), middle: instant(middle), latest: instant(latest) }
    }
}

/// The central 95 % of the onsets (given from the latest to the earliest), each as probable as its share of both stories.
fn began(onsets: &[f64], going: &[(f64, f64, f64)], stood: &[f64]) -> (f64, f64) {
    let each = going.len() / onsets.len();
    let total = ln_sum(going.iter().map(|path| path.0).chain(stood.iter().copied()));
    let weights = going.chunks(each).zip(stood.chunks(each)).map(|(going, stood)| {
        libm::exp(ln_sum(going.iter().map(|path| path.0).chain(stood.iter().copied())) - total)
    });
    let mut sum = 0.0;
    let (mut first, mut last) = (None, None);
    for (&onset, weight) in onsets.iter().zip(weights) {
        sum += weight;
        if sum > 0.025 {
            last = last.or(Some(onset));
        }
        if sum >= 0.975 {
            first = first.or(Some(onset));
        }
    }
    let earliest = onsets[onsets.len() - 1];
    (first.unwrap_or(earliest), last.unwrap_or(earliest))
}

/// Even points of a standard normal variable, and the logarithms of their weights but for a constant.
fn normal_points(count: usize) -> impl Iterator<Item = (f64, f64)> {
    let step = 2.0 * REACH / (count - 1) as f64;
    (0..count).map(move |point| {
        let at = step * point as f64 - REACH;
        (at, -0.5 * at * at)
    })
}

/// ln Σ eˣ.
pub(crate) fn ln_sum(values: impl Iterator<Item = f64> + Clone) -> f64 {
    let greatest = values.clone().fold(f64::NEG_INFINITY, f64::max);
    greatest + values.map(|value| libm::exp(value - greatest)).sum::<f64>().ln()
}
