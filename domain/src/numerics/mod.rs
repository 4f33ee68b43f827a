//! Special functions and quadrature rules that the calculations rest on.
//!
//! This is the one module of the crate whose functions speak in bare numbers: they are mathematics and have no unit.
//!
//! - [`erfcx`]: the scaled complementary error function, for heat conduction and for the tails of the normal law.
//! - [`binomial`]: exact intervals of a share; regression on counts of successes, with Firth's penalty where the likelihood
//!   has no maximum.
//! - [`chi_square_tail`]: how rarely chance alone gives a sum of squares as large.
//! - [`normal`]: the standard normal distribution, accurate in both tails.
//! - [`quadrature`]: Gauss rules for averages over a normal variable and for integrals over an interval.
//! - [`series`]: control charts, levels and trends of a series of measurements.

pub mod binomial;
mod chi_square;
mod erfcx;
mod exp;
pub mod normal;
pub mod quadrature;
pub mod series;
mod table;

pub use chi_square::chi_square_tail;
pub use erfcx::erfcx;
pub(crate) use exp::exp_moderate;
pub(crate) use table::HermiteTable;
