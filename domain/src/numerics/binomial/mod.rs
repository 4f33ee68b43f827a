//! Counts of successes: what they say of a share ([`clopper_pearson`]), and regression on them: maximum likelihood, and
//! Firth's penalty for data that are separated.
//!
//! Where every failure lies on one side and every success on the other, the likelihood has no maximum: the slope runs to
//! infinity. Adding half the logarithm of the determinant of the information (the logarithm of Jeffreys' prior) keeps it
//! finite (Firth, *Bias reduction of maximum likelihood estimates*, Biometrika 80, 1993, for the logit; Kosmidis and
//! Firth, *Jeffreys-prior penalty, finiteness and shrinkage in binomial-response generalized linear models*, Biometrika
//! 108, 2021, for the probit and others).

mod beta;
mod exact;
mod fit;
mod interval;
mod link;
mod matrix;

pub use exact::{CountError, at_least, at_most, clopper_pearson};
pub use fit::{Fit, FitError, Group, Penalty, fit};
pub use interval::{fieller, half_point, half_point_profile_interval, profile_interval};
pub use link::Link;
