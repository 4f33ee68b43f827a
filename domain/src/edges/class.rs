//! What the raw readings say of an edge before any model, and the bound of an open edge.

use super::likelihood::CouponLikelihood;
use super::posterior::{EdgeCoupon, GRID_START_CELSIUS, Posterior, probability_at, sigma_grid};
use super::{Bracket, Edge, EdgeClass, EdgePrior, Observation};
use crate::quantity::Temperature;

/// Probability of the data at the bound of an open edge.
const BOUND_PROBABILITY: f64 = 0.05;
/// How far outside the grid a bound is still looked for, in kelvin.
const BOUND_REACH_KELVIN: f64 = 1000.0;

/// One coupon as an edge counts it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Tally {
    pub(crate) temperature: Temperature,
    /// Strips beyond the edge: not cold (lower edge), hot (upper edge).
    pub(crate) beyond: usize,
    /// Strips short of the edge: cold (lower edge), sound (upper edge).
    pub(crate) short: usize,
}

impl Tally {
    /// The coupon with its likelihood.
    pub(super) fn coupon(&self, prior: &EdgePrior) -> EdgeCoupon {
        let strips = self.beyond + self.short;
        let likelihood = CouponLikelihood::new(self.beyond, strips, prior.correlation);
        EdgeCoupon { celsius: self.temperature.celsius(), strips, likelihood }
    }
}

impl Edge {
    /// How this edge counts a coupon; `None` when the coupon says nothing about it.
    pub(crate) fn tally(self, observation: &Observation) -> Option<Tally> {
        let (beyond, short) = match self {
            Self::Lower => (observation.sound + observation.hot, observation.cold),
            Self::Upper => (observation.hot, observation.sound),
        };
        (beyond + short > 0).then_some(Tally { temperature: observation.temperature, beyond, short })
    }
}

/// The class of an edge.
pub(super) fn classify(tallies: &[Tally]) -> EdgeClass {
    let beyond = tallies.iter().any(|tally| tally.beyond > 0);
    let short = tallies.iter().any(|tally| tally.short > 0);
    match (short, beyond) {
        (true, true) => EdgeClass::Bracketed,
        (true, false) => EdgeClass::OpenAbove,
        (false, true) => EdgeClass::OpenBelow,
        (false, false) => EdgeClass::None,
    }
}

/// The raw bracket of an edge.
pub(super) fn bracket(edge: Edge, tallies: &[Tally]) -> Bracket {
    let fails = |tally: &&Tally| match edge {
        Edge::Lower => tally.short > 0,
        Edge::Upper => tally.beyond > 0,
    };
    let failing_steps = tallies.iter().filter(fails).map(|tally| tally.temperature);
    match edge {
        Edge::Lower => {
            let failing = failing_steps.max();
            let inwards =
                tallies.iter().map(|tally| tally.temperature).filter(|t| failing.is_none_or(|f| *t > f));
            Bracket { failing, clear: inwards.min() }
        }
        Edge::Upper => {
            let failing = failing_steps.min();
            let inwards =
                tallies.iter().map(|tally| tally.temperature).filter(|t| failing.is_none_or(|f| *t < f));
            Bracket { failing, clear: inwards.max() }
        }
    }
}

/// The bound of an open edge: the `μ` at which the probability of the data, averaged over the prior of σ, is 5 %.
///
/// That probability rises with `μ` when the edge is open above and falls when it is open below. `None` when it does not
/// cross 5 % within reach, as with very few strips.
pub(super) fn bound(
    class: EdgeClass,
    coupons: &[EdgeCoupon],
    posterior: &Posterior,
    prior: &EdgePrior,
) -> Option<Temperature> {
    let rises = match class {
        EdgeClass::OpenAbove => true,
        EdgeClass::OpenBelow => false,
        EdgeClass::Bracketed | EdgeClass::None => return None,
    };
    let points = posterior.marginal().len();
    let likely = |index: usize| posterior.ln_probability(index) >= BOUND_PROBABILITY.ln();
    // The first grid point on the far side of the crossing.
    let crossing = (0..points).find(|index| likely(*index) == rises).unwrap_or(points);
    let low = if crossing == 0 { -BOUND_REACH_KELVIN } else { crossing as f64 - 1.0 };
    let high = if crossing == points { points as f64 + BOUND_REACH_KELVIN } else { crossing as f64 };
    let sigmas = sigma_grid(prior);
    let excess = |place: f64| {
        let probability = probability_at(coupons, GRID_START_CELSIUS + place, &sigmas);
        if rises { probability - BOUND_PROBABILITY } else { BOUND_PROBABILITY - probability }
    };
    root_of_rising(low, high, excess).map(|place| Temperature::from_celsius(GRID_START_CELSIUS + place))
}

/// Where a rising function is zero, to about 1e-6, by bisection with a secant guess in every other step; `None` when it
/// does not change sign.
fn root_of_rising(mut low: f64, mut high: f64, function: impl Fn(f64) -> f64) -> Option<f64> {
    let (mut at_low, mut at_high) = (function(low), function(high));
    if !(at_low <= 0.0 && at_high >= 0.0) {
        return None;
    }
    for round in 0..60 {
        if high - low < 1e-6 {
            break;
        }
        let secant = low - at_low * (high - low) / (at_high - at_low);
        let place = if round % 3 != 2 && secant > low && secant < high { secant } else { 0.5 * (low + high) };
        let value = function(place);
        if value.abs() < 1e-12 {
            return Some(place);
        }
        if value < 0.0 {
            (low, at_low) = (place, value);
        } else {
            (high, at_high) = (place, value);
        }
    }
    Some(0.5 * (low + high))
}
