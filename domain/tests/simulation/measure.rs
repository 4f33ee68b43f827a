//! What is counted over many roofs.

use lapwatch_domain::edges::{CrossCheck, EdgeEvidence, EdgePrior, cross_check, stand_alone};
use lapwatch_domain::policy::Policy;
use lapwatch_domain::quantity::{
    Quantity, TemperatureDifference, TemperatureDifferenceUnit, TemperatureUnit,
};

use crate::crew::{Habit, UNIT_MAXIMUM_C, celsius, centre, sweep, trial};
use crate::roof::{Dice, Roof};

/// Median of the prior of σ, K.
pub(crate) const PRIOR_SIGMA_K: f64 = 17.0;
/// How far from it σ is promised to be covered, either way.
pub(crate) const PROMISED_FACTOR: f64 = 1.5;

/// How often intervals held what was true.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Coverage {
    pub(crate) intervals: usize,
    pub(crate) covering: usize,
    pub(crate) bounds: usize,
    pub(crate) bounds_holding: usize,
}

impl Coverage {
    pub(crate) fn add(&mut self, edge: &EdgeEvidence, truth_c: f64) {
        if let Some(found) = edge.estimate {
            let [low, high] = [found.q025, found.q975].map(|q| q.value_in(TemperatureUnit::Celsius));
            self.intervals += 1;
            // A degree of the grid stands for half a degree to either side.
            self.covering += usize::from((low - 0.5..=high + 0.5).contains(&truth_c));
        }
    }

    fn add_bound(&mut self, bound_c: Option<f64>, truth_c: f64, above: bool) {
        let Some(bound_c) = bound_c else { return };
        self.bounds += 1;
        self.bounds_holding += usize::from((truth_c >= bound_c) == above);
    }

    /// Per cent of the intervals that held the truth.
    pub(crate) fn percent(&self) -> f64 {
        100.0 * self.covering as f64 / self.intervals.max(1) as f64
    }
}

/// Coverage over `trials` sweeps, with a scatter drawn for each.
pub(crate) fn coverage(
    trials: usize,
    (step_k, rho): (f64, f64),
    sigma_k: impl Fn(&mut Dice) -> f64,
    seed: u64,
) -> Coverage {
    let mut dice = Dice(seed);
    let mut coverage = Coverage::default();
    for _ in 0..trials {
        let sigma = sigma_k(&mut dice);
        let roof = Roof::anywhere(sigma, rho, &mut dice);
        let welded = sweep(&roof, step_k, &mut dice);
        let evidence = stand_alone(&welded, celsius(UNIT_MAXIMUM_C), &EdgePrior::default());
        for (edge, truth) in [(&evidence.lower, roof.lower_c), (&evidence.upper, roof.upper_c)] {
            coverage.add(edge, truth);
            let bound = edge.bound.map(|bound| bound.value_in(TemperatureUnit::Celsius));
            coverage.add_bound(bound, truth, edge.class == lapwatch_domain::edges::EdgeClass::OpenAbove);
        }
    }
    coverage
}

/// How far the cross-check lies from the posterior mean, in standard deviations, for each bracketed edge of so many sweeps,
/// ascending; infinitely far when it runs the wrong way.
pub(crate) fn cross_check_distances(
    trials: usize,
    (step_k, rho): (f64, f64),
    sigma_k: impl Fn(&mut Dice) -> f64,
    seed: u64,
) -> Vec<f64> {
    let mut dice = Dice(seed);
    let mut distances = Vec::new();
    for _ in 0..trials {
        let sigma = sigma_k(&mut dice);
        let roof = Roof::anywhere(sigma, rho, &mut dice);
        let welded = sweep(&roof, step_k, &mut dice);
        let evidence = stand_alone(&welded, celsius(UNIT_MAXIMUM_C), &EdgePrior::default());
        for edge in [&evidence.lower, &evidence.upper] {
            let (Some(found), Some(check)) = (edge.estimate, cross_check(&welded, edge.edge)) else {
                continue;
            };
            distances.push(match check {
                CrossCheck::HalfPoint(half) => kelvin((half - found.mean).abs()) / kelvin(found.sd),
                CrossCheck::WrongWay => f64::INFINITY,
            });
        }
    }
    distances.sort_by(f64::total_cmp);
    distances
}

/// A scatter drawn with its logarithm uniform within what is promised.
pub(crate) fn promised_sigma(dice: &mut Dice) -> f64 {
    PRIOR_SIGMA_K * PROMISED_FACTOR.powf(dice.uniform(-1.0, 1.0))
}

/// What a habit costs and what it finds, on average.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Yield {
    pub(crate) coupons: f64,
    pub(crate) lower_rmse_k: f64,
    pub(crate) upper_rmse_k: f64,
    /// Of all trials, those with a set point.
    pub(crate) with_set_point: f64,
    /// Per cent of strips that fail at it.
    pub(crate) failing_percent: f64,
    /// Coupons with a scorched strip.
    pub(crate) scorched_coupons: f64,
}

impl Yield {
    /// Root mean square error of both edges together.
    pub(crate) fn pooled_rmse_k(&self) -> f64 {
        (0.5 * (self.lower_rmse_k.powi(2) + self.upper_rmse_k.powi(2))).sqrt()
    }
}

/// What a habit yields over so many roofs.
pub(crate) fn yields(trials: usize, habit: Habit, (sigma_k, rho): (f64, f64), seed: u64) -> Yield {
    let mut dice = Dice(seed);
    let mut sum = Yield::default();
    for _ in 0..trials {
        let roof = Roof::anywhere(sigma_k, rho, &mut dice);
        let answer = trial(&roof, habit, &mut dice);
        sum.coupons += answer.judged.coupons.len() as f64;
        sum.scorched_coupons += answer.judged.coupons.iter().filter(|c| c.counts.hot > 0).count() as f64;
        sum.lower_rmse_k += (centre(&answer.evidence.lower) - roof.lower_c).powi(2);
        sum.upper_rmse_k += (centre(&answer.evidence.upper) - roof.upper_c).powi(2);
        if let Ok(point) = answer.set_point {
            sum.with_set_point += 1.0;
            sum.failing_percent +=
                100.0 * roof.failing_share(point.to_set.value_in(TemperatureUnit::Celsius));
        }
    }
    let count = trials as f64;
    Yield {
        coupons: sum.coupons / count,
        lower_rmse_k: (sum.lower_rmse_k / count).sqrt(),
        upper_rmse_k: (sum.upper_rmse_k / count).sqrt(),
        with_set_point: sum.with_set_point / count,
        failing_percent: sum.failing_percent / sum.with_set_point.max(1.0),
        scorched_coupons: sum.scorched_coupons / count,
    }
}

/// How far up a coupon may go at a time by default, K.
pub(crate) fn default_step_up_k() -> f64 {
    let step = Policy::default().largest_step_up;
    kelvin(step)
}

fn kelvin(difference: TemperatureDifference) -> f64 {
    difference.value_in(TemperatureDifferenceUnit::Kelvin)
}
