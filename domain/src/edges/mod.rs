//! The two edges of a trial: the temperature at which half the strips would open (lower edge) and at which half would
//! scorch (upper edge), with honest uncertainty from a handful of strips.
//!
//! # Model
//!
//! The lower edge is learnt from cold against not cold on all counted strips, the upper edge from hot against sound on
//! the strips that are not cold (a continuation ratio). A strip is beyond an edge `μ` when the welding temperature
//! exceeds a threshold that scatters normally about `μ` with standard deviation `σ`. Strips of one coupon share part of
//! that scatter: the correlation of two of them is `ρ`. For `k` of `n` strips beyond the edge at `T`:
//!
//! ```text
//! L(k | n, T; μ, σ, ρ) = C(n,k) Σⱼ wⱼ pⱼᵏ (1 − pⱼ)ⁿ⁻ᵏ,   pⱼ = Φ((T − μ − σ√ρ zⱼ) / (σ√(1−ρ)))
//! ```
//!
//! over probabilists' Gauss–Hermite nodes. `μ` is flat on a grid of 1 °C, `ln σ` normal on 31 points.
//!
//! # What it is for
//!
//! [`stand_alone`] looks at one trial and nothing else. That is all histories and charts may see: an evaluation that
//! carried over what earlier trials said would hide the very shift a chart is there to find. What combines a trial with its
//! unit's history is therefore another type, [`CarriedEvidence`], that has no likelihood to give to a history.

mod carried;
mod class;
mod firth;
mod lattice;
mod likelihood;
mod mixture;
mod posterior;
mod profile;
mod scatter;
#[cfg(test)]
mod tests;

pub use carried::{CarriedEdge, CarriedEvidence};
pub(crate) use carried::{NormalPart, Prior};
pub use firth::{CrossCheck, DISAGREEMENT_SD, cross_check};
pub use profile::{PROFILE_SPACING_KELVIN, PROFILE_START_CELSIUS, Profile, ProfileError};

use crate::coded::coded_enum;
use crate::quantity::{Temperature, TemperatureDifference};
pub(crate) use class::Tally;
pub(crate) use likelihood::CouponLikelihood;
pub(crate) use mixture::{Grouping, Mixture};
use posterior::EdgeCoupon;
pub(crate) use posterior::Posterior;
pub(crate) use scatter::ln_by_scatter;

coded_enum! {
    /// One of the two edges.
    pub enum Edge {
        /// Between cold and sound.
        Lower = "lower",
        /// Between sound and hot.
        Upper = "upper",
    }
}

/// How far beyond the unit's highest set temperature the upper edge is sought, in kelvin.
const UPPER_EXTENSION_KELVIN: f64 = 50.0;

impl Edge {
    /// The highest temperature at which this edge is sought.
    fn grid_top(self, unit_maximum: Temperature) -> Temperature {
        match self {
            Self::Lower => unit_maximum,
            Self::Upper => unit_maximum + TemperatureDifference::from_kelvin(UPPER_EXTENSION_KELVIN),
        }
    }
}

coded_enum! {
    /// What a trial says of an edge.
    pub enum EdgeClass {
        /// Strips failed on one side and held on the other: the edge lies between.
        Bracketed = "bracketed",
        /// The edge lies above every step tried.
        OpenAbove = "open_above",
        /// The edge lies below every step tried.
        OpenBelow = "open_below",
        /// No strip says anything about this edge.
        None = "none",
    }
}

/// What is known of the scatter of strips before the trial.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EdgePrior {
    /// Median of the scatter σ. Default 17 K, until a fleet fit says otherwise.
    pub sigma_median: TemperatureDifference,
    /// Standard deviation of ln σ. Default 0.9: σ is known to within a factor of 2.5 or so.
    pub ln_sigma_sd: f64,
    /// Correlation ρ of two strips of one coupon, from 0 to below 1. Default 0.5, until a fleet fit says otherwise.
    pub correlation: f64,
}

impl Default for EdgePrior {
    fn default() -> Self {
        Self { sigma_median: TemperatureDifference::from_kelvin(17.0), ln_sigma_sd: 0.9, correlation: 0.5 }
    }
}

impl EdgePrior {
    /// The prior with numbers that no fit can mean brought back into range, so that nothing downstream divides by zero
    /// or meets a NaN.
    fn held_in_range(&self) -> Self {
        let held = |value: f64, low: f64, high: f64, default: f64| {
            if value.is_finite() { value.clamp(low, high) } else { default }
        };
        Self {
            sigma_median: TemperatureDifference::from_kelvin(held(
                self.sigma_median.kelvin(),
                0.1,
                500.0,
                17.0,
            )),
            ln_sigma_sd: held(self.ln_sigma_sd, 0.0, 2.0, 0.9),
            correlation: held(self.correlation, 0.0, 0.95, 0.5),
        }
    }
}

/// What one coupon says about the edges: how many of its strips gave which reading.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Observation {
    /// The setting.
    pub temperature: Temperature,
    /// Cold strips.
    pub cold: usize,
    /// Sound strips.
    pub sound: usize,
    /// Hot strips.
    pub hot: usize,
}

/// What a trial on its own says about both edges.
#[derive(Debug, Clone, PartialEq)]
pub struct TrialEvidence {
    /// The lower edge.
    pub lower: EdgeEvidence,
    /// The upper edge.
    pub upper: EdgeEvidence,
}

impl TrialEvidence {
    /// Whether the trial found an edge: either is bracketed.
    #[must_use]
    pub fn is_edge_finding(&self) -> bool {
        self.lower.class == EdgeClass::Bracketed || self.upper.class == EdgeClass::Bracketed
    }

    /// The evidence on one edge.
    #[must_use]
    pub const fn of(&self, edge: Edge) -> &EdgeEvidence {
        match edge {
            Edge::Lower => &self.lower,
            Edge::Upper => &self.upper,
        }
    }
}

/// What a trial on its own says about one edge.
#[derive(Debug, Clone, PartialEq)]
pub struct EdgeEvidence {
    /// Which edge.
    pub edge: Edge,
    /// Whether it is bracketed or open.
    pub class: EdgeClass,
    /// Where it lies; only when it is bracketed, because an open edge has no honest point estimate.
    pub estimate: Option<Estimate>,
    /// The raw bracket.
    pub bracket: Bracket,
    /// For an open edge: the limit beyond which it lies with 95 % confidence (above it when open above, below it when
    /// open below). The `μ` at which the probability of seeing what was seen, averaged over the prior of σ, is 5 %.
    pub bound: Option<Temperature>,
    /// The likelihood of the edge with σ integrated out, for histories and charts.
    pub profile: Profile,
    posterior: Posterior,
}

/// Both edges as advice sees them, whether from a trial alone or with its unit's history.
pub(crate) trait BothEdges {
    /// What is known of one edge.
    fn posterior(&self, edge: Edge) -> &Posterior;
}

impl BothEdges for TrialEvidence {
    fn posterior(&self, edge: Edge) -> &Posterior {
        &self.of(edge).posterior
    }
}

/// Posterior mean, standard deviation and interval of an edge.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Estimate {
    /// Posterior mean.
    pub mean: Temperature,
    /// Posterior standard deviation.
    pub sd: TemperatureDifference,
    /// The first degree of the grid at which the cumulative probability reaches 2.5 %.
    pub q025: Temperature,
    /// The same for 50 %.
    pub q500: Temperature,
    /// The same for 97.5 %.
    pub q975: Temperature,
}

/// The steps between which the raw readings put an edge, with no model.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Bracket {
    /// The step furthest into the band with a failing strip: the hottest with a cold one (lower edge), the coolest with
    /// a hot one (upper edge).
    pub failing: Option<Temperature>,
    /// The outermost step from which inwards no strip failed on this side: the coolest from which on none was cold
    /// (lower edge), the hottest up to which none was hot (upper edge).
    pub clear: Option<Temperature>,
}

/// What the coupons of one trial, taken on their own, say about both edges.
///
/// The lower edge is sought from 250 °C to the unit's highest set temperature, the upper edge 50 °C further. Never
/// fails: with no counted strips both edges have class [`EdgeClass::None`] and flat profiles.
#[must_use]
pub fn stand_alone(
    observations: &[Observation],
    unit_maximum: Temperature,
    prior: &EdgePrior,
) -> TrialEvidence {
    let prior = prior.held_in_range();
    TrialEvidence {
        lower: evidence(Edge::Lower, observations, unit_maximum, &prior),
        upper: evidence(Edge::Upper, observations, unit_maximum, &prior),
    }
}

fn evidence(
    edge: Edge,
    observations: &[Observation],
    unit_maximum: Temperature,
    prior: &EdgePrior,
) -> EdgeEvidence {
    let mut tallies: Vec<Tally> =
        observations.iter().filter_map(|observation| edge.tally(observation)).collect();
    // Sums of floating point numbers depend on their order; the order of coupons must not matter.
    tallies.sort_by_key(|tally| (tally.temperature, tally.beyond, tally.short));
    let coupons: Vec<EdgeCoupon> = tallies.iter().map(|tally| tally.coupon(prior)).collect();
    let posterior = Posterior::new(&coupons, posterior::grid_points(edge.grid_top(unit_maximum)), prior);
    let class = class::classify(&tallies);
    EdgeEvidence {
        edge,
        class,
        estimate: (class == EdgeClass::Bracketed).then(|| posterior.estimate()),
        bracket: class::bracket(edge, &tallies),
        bound: class::bound(class, &coupons, &posterior, prior),
        profile: Profile::from_marginal(posterior.marginal()),
        posterior,
    }
}
