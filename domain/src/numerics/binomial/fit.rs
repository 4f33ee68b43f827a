//! The fit itself.

use thiserror::Error;

use super::link::{Link, Point};
use super::matrix::Cholesky;

/// Trials made under the same conditions.
#[derive(Debug, Clone, PartialEq)]
pub struct Group {
    /// The covariates, as many in every group; the first is 1 where an intercept is wanted.
    pub covariates: Vec<f64>,
    /// How many trials succeeded.
    pub successes: f64,
    /// How many trials there were.
    pub trials: f64,
}

/// What is added to the likelihood.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Penalty {
    /// Nothing: maximum likelihood.
    None,
    /// Half the logarithm of the determinant of the information.
    Jeffreys,
}

/// A fitted regression.
#[derive(Debug, Clone, PartialEq)]
pub struct Fit {
    /// One coefficient to each covariate.
    pub coefficients: Vec<f64>,
    /// Their covariances: the inverse of the Fisher information.
    pub covariance: Vec<Vec<f64>>,
    /// The logarithm of the likelihood with the penalty, without binomial coefficients.
    pub objective: f64,
    /// Twice the difference to the logarithm of the likelihood of a model that fits every group exactly.
    pub deviance: f64,
}

impl Fit {
    /// Standard error of a coefficient.
    #[must_use]
    pub fn standard_error(&self, index: usize) -> f64 {
        self.covariance[index][index].sqrt()
    }
}

/// Why there is no fit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Error)]
#[non_exhaustive]
pub enum FitError {
    /// Covariates do not tell the coefficients apart, or the groups say nothing.
    #[error("the groups do not determine the coefficients")]
    Undetermined,
    /// The likelihood rises without end: separated data without a penalty.
    #[error("the fit does not settle: the data may be separated")]
    Unsettled,
}

/// Most rounds of Fisher scoring, and of halving a step.
const MOST_ROUNDS: usize = 200;
const MOST_HALVINGS: usize = 40;
/// Predictors beyond this are those of a fit that runs away.
const LARGEST_PREDICTOR: f64 = 30.0;

/// Fits a regression of counts by Fisher scoring with step halving.
///
/// ```
/// use lapwatch_domain::numerics::binomial::{FitError, Group, Link, Penalty, fit};
/// // Separated: no success below 2, no failure above it.
/// let group = |x: f64, successes| Group { covariates: vec![1.0, x], successes, trials: 3.0 };
/// let groups = [group(0.0, 0.0), group(1.0, 0.0), group(3.0, 3.0), group(4.0, 3.0)];
/// assert_eq!(fit(&groups, Link::Logit, Penalty::None), Err(FitError::Unsettled));
/// let firth = fit(&groups, Link::Logit, Penalty::Jeffreys)?;
/// assert!((-firth.coefficients[0] / firth.coefficients[1] - 2.0).abs() < 1e-9);
/// # Ok::<(), FitError>(())
/// ```
///
/// # Errors
/// [`FitError::Undetermined`] when the information is singular at the start, [`FitError::Unsettled`] when the fit runs
/// away.
pub fn fit(groups: &[Group], link: Link, penalty: Penalty) -> Result<Fit, FitError> {
    let size = groups.first().map_or(0, |group| group.covariates.len());
    fit_from(groups, (link, penalty), vec![0.0; size], None)
}

/// The same from a start, with one coefficient held where it starts.
pub(super) fn fit_from(
    groups: &[Group],
    (link, penalty): (Link, Penalty),
    mut coefficients: Vec<f64>,
    held: Option<usize>,
) -> Result<Fit, FitError> {
    let mut state = State::at(groups, link, penalty, &coefficients).ok_or(FitError::Undetermined)?;
    for _ in 0..MOST_ROUNDS {
        let step = state.step(held).ok_or(FitError::Unsettled)?;
        let mut share = 1.0;
        let mut next = None;
        for _ in 0..MOST_HALVINGS {
            let moved: Vec<f64> = coefficients.iter().zip(&step).map(|(b, s)| b + share * s).collect();
            let candidate = State::at(groups, link, penalty, &moved);
            if let Some(candidate) = candidate.filter(|found| found.objective >= state.objective - 1e-12) {
                next = Some((moved, candidate));
                break;
            }
            share *= 0.5;
        }
        let Some((moved, candidate)) = next else { break };
        let settled = step.iter().zip(&moved).all(|(s, b)| s.abs() * share <= 1e-11 * (1.0 + b.abs()));
        (coefficients, state) = (moved, candidate);
        if state.largest_predictor > LARGEST_PREDICTOR {
            return Err(FitError::Unsettled);
        }
        if settled {
            return Ok(state.fit(groups, coefficients));
        }
    }
    // Rounding may keep steps from shrinking further; a short last one will do.
    let last = state.step(held).ok_or(FitError::Unsettled)?;
    let short = last.iter().zip(&coefficients).all(|(s, b)| s.abs() <= 1e-7 * (1.0 + b.abs()));
    if short { Ok(state.fit(groups, coefficients)) } else { Err(FitError::Unsettled) }
}

/// Likelihood, score and information at some coefficients.
struct State {
    objective: f64,
    deviance_part: f64,
    score: Vec<f64>,
    information: Vec<Vec<f64>>,
    factor: Cholesky,
    largest_predictor: f64,
}

impl State {
    fn at(groups: &[Group], link: Link, penalty: Penalty, coefficients: &[f64]) -> Option<Self> {
        let size = coefficients.len();
        let predictor =
            |group: &Group| group.covariates.iter().zip(coefficients).map(|(x, b)| x * b).sum::<f64>();
        let predictors: Vec<f64> = groups.iter().map(predictor).collect();
        let points: Vec<Point> = predictors.iter().map(|eta| link.at(*eta)).collect();
        let mut information = vec![vec![0.0; size]; size];
        for (group, point) in groups.iter().zip(&points) {
            let weight = group.trials * point.weight();
            for (row, x) in information.iter_mut().zip(&group.covariates) {
                row.iter_mut().zip(&group.covariates).for_each(|(cell, y)| *cell += weight * x * y);
            }
        }
        let factor = Cholesky::new(&information)?;
        let (mut likelihood, mut score) = (0.0, vec![0.0; size]);
        for (group, point) in groups.iter().zip(&points) {
            let failures = group.trials - group.successes;
            likelihood += group.successes * point.ln_success + failures * point.ln_failure;
            let mut pull = group.successes * point.success_rise - failures * point.failure_rise;
            if penalty == Penalty::Jeffreys {
                // The group's leverage: by how much its information weighs in the whole.
                let solved = factor.solve(&group.covariates);
                let norm: f64 = solved.iter().zip(&group.covariates).map(|(a, x)| a * x).sum();
                pull += 0.5 * group.trials * point.weight() * norm * point.ln_weight_slope;
            }
            score.iter_mut().zip(&group.covariates).for_each(|(sum, x)| *sum += pull * x);
        }
        let added = if penalty == Penalty::Jeffreys { factor.half_ln_determinant() } else { 0.0 };
        let largest_predictor = predictors.iter().fold(0.0_f64, |largest, eta| largest.max(eta.abs()));
        let objective = likelihood + added;
        objective.is_finite().then_some(Self {
            objective,
            deviance_part: likelihood,
            score,
            information,
            factor,
            largest_predictor,
        })
    }

    /// The step of Fisher scoring, with one coefficient held where it is.
    fn step(&self, held: Option<usize>) -> Option<Vec<f64>> {
        let Some(held) = held else { return Some(self.factor.solve(&self.score)) };
        let free: Vec<usize> = (0..self.score.len()).filter(|index| *index != held).collect();
        let part: Vec<Vec<f64>> = free
            .iter()
            .map(|row| free.iter().map(|column| self.information[*row][*column]).collect())
            .collect();
        let score: Vec<f64> = free.iter().map(|index| self.score[*index]).collect();
        let mut step = vec![0.0; self.score.len()];
        for (index, value) in free.iter().zip(Cholesky::new(&part)?.solve(&score)) {
            step[*index] = value;
        }
        Some(step)
    }

    fn fit(self, groups: &[Group], coefficients: Vec<f64>) -> Fit {
        let term = |count: f64, of: f64| if count > 0.0 { count * libm::log(count / of) } else { 0.0 };
        let exact: f64 = (groups.iter())
            .map(|group| {
                term(group.successes, group.trials) + term(group.trials - group.successes, group.trials)
            })
            .sum();
        Fit {
            covariance: self.factor.inverse(),
            objective: self.objective,
            deviance: 2.0 * (exact - self.deviance_part),
            coefficients,
        }
    }
}
