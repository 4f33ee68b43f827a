//! What a fleet's own trials say of numbers that otherwise are assumed.
//!
//! Some numbers stand behind every band and chart without a single trial being able to tell them: how alike the strips
//! of one coupon are (ρ), how much strips scatter about an edge (σ), and what share of the air's heat the sheet's
//! surface takes on (φ), how fast welders fade. A new fleet works with usual values. Many trials together do tell:
//!
//! - [`Spread`]: ρ, and the population from which σ comes, from the counts of strips.
//! - [`Surface`]: φ of each unit and of each material class, from trials at different sheet temperatures and speeds.
//! - [`Fades`]: how fast edges go on moving once they have begun to, from what the charts have seen.
//! - [`Fit`]: all of it, with what they were made from and a plain sentence on each.
//!
//! All are shrunk towards the usual value, the more the less there is to go by; and where there is too little, the
//! usual value stays exactly and says why ([`Basis`]). A fit is an immutable value: whoever keeps it keeps its date
//! with it. Nothing here is used by an evaluation unless a caller puts [`Fit::edge_prior`] into a policy or
//! [`Surface::chart_shares`] and [`Fades::rate`] into chart settings.

mod axis;
mod fades;
mod fit;
mod population;
mod sentences;
mod shared;
mod shares;
mod spread;
mod surface;
#[cfg(test)]
mod tests;

pub use fades::{FadeEvidence, Fades};
pub use fit::{Fit, MadeFrom};
pub use sentences::assumed;
pub use shared::{
    Ordinary, Setting, Shared, SharedBy, SharedEvidence, SharedKind, SharedShift, Shift, ShiftDecision,
    ShiftState, Shifts, TrialNoise,
};
pub use spread::{Correlation, Scatter, Spread, SpreadEvidence, TrialSteps};
pub use surface::{ClassShare, Surface, SurfaceEvidence, UnitHistory, UnitShare};

use crate::coded::coded_enum;

coded_enum! {
    /// Where a number of a fit comes from.
    pub enum Basis {
        /// The fleet's trials.
        Fitted = "fitted",
        /// The usual value: too few units inform it.
        FewUnits = "few_units",
        /// The usual value: too few trials inform it.
        FewTrials = "few_trials",
        /// The usual value: the trials hardly narrow down what was assumed before them.
        Vague = "vague",
    }
}

/// At least so many units must inform a number that is said to be the fleet's.
pub const FEWEST_UNITS: usize = 3;

/// An estimate of a ratio.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RatioEstimate {
    /// Posterior mean.
    pub mean: f64,
    /// Posterior standard deviation.
    pub sd: f64,
    /// 2.5 % point of the posterior.
    pub low: f64,
    /// 97.5 % point of the posterior.
    pub high: f64,
}
