//! How the probability of a success follows from the linear predictor.

use crate::numerics::normal;

/// How the probability of a success follows from the linear predictor `η`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Link {
    /// `p = 1/(1 + e^−η)`.
    Logit,
    /// `p = Φ(η)`.
    Probit,
}

/// What a fit needs to know at one `η`.
#[derive(Debug, Clone, Copy)]
pub(super) struct Point {
    /// ln p and ln(1 − p).
    pub(super) ln_success: f64,
    pub(super) ln_failure: f64,
    /// d ln p/dη and −d ln(1 − p)/dη.
    pub(super) success_rise: f64,
    pub(super) failure_rise: f64,
    /// How fast the logarithm of the information per trial changes with `η`.
    pub(super) ln_weight_slope: f64,
}

impl Point {
    /// Fisher information of one trial about `η`: `(dp/dη)²/(p(1 − p))`.
    pub(super) fn weight(&self) -> f64 {
        self.success_rise * self.failure_rise
    }
}

impl Link {
    pub(super) fn at(self, eta: f64) -> Point {
        match self {
            Self::Logit => {
                let ln_success = -softplus(-eta);
                let ln_failure = -softplus(eta);
                let (success_rise, failure_rise) = (libm::exp(ln_failure), libm::exp(ln_success));
                let ln_weight_slope = success_rise - failure_rise;
                Point { ln_success, ln_failure, success_rise, failure_rise, ln_weight_slope }
            }
            Self::Probit => {
                const LN_SQRT_TAU: f64 = 0.918_938_533_204_672_7;
                let (ln_success, ln_failure) = (normal::ln_cdf(eta), normal::ln_cdf(-eta));
                let ln_density = -0.5 * eta * eta - LN_SQRT_TAU;
                let success_rise = libm::exp(ln_density - ln_success);
                let failure_rise = libm::exp(ln_density - ln_failure);
                let ln_weight_slope = failure_rise - success_rise - 2.0 * eta;
                Point { ln_success, ln_failure, success_rise, failure_rise, ln_weight_slope }
            }
        }
    }
}

/// `ln(1 + eˣ)` without overflow.
fn softplus(x: f64) -> f64 {
    x.max(0.0) + libm::log1p(libm::exp(-x.abs()))
}
