//! Peel traces: what the force did while a strip was pulled apart, and its force per width over a named region.
//!
//! A trace is a list of readings, displacement of the grips and force. What is done with it, in this order:
//!
//! 1. [`Trace::new`] refuses what cannot be trusted and repairs what is harmless, and names each repair in its
//!    [`Remark`]s. *Refused*: a number that is not finite; a displacement that goes back by more than 0.5 mm (a return
//!    stroke, rows in the wrong order); fewer than two places; a force that never rises. *Repaired*: steps back of up
//!    to 0.5 mm (play of the machine) are put in order; readings at one and the same place (grips at rest, a sensor
//!    coarser than the sampling) become one with the median of their forces.
//! 2. The zero of the load cell is subtracted: the median force before the load ([`Zero`]).
//! 3. The pull is from where the load begins to the last place at which the force is at least 5 % of its maximum; what
//!    was recorded after the strip had let go does not count.
//! 4. The initial peak is the first local maximum that is followed by a fall of at least 10 %
//!    ([`Trace::initial_peak`]). Maxima below 10 % of the greatest force are noise.
//! 5. A [`Region`] is cut out, with interpolated ends, and its [`Forces`] are taken from the *line through the
//!    readings*, never from the readings themselves, so that the sampling does not matter: mean = ∫ F dx ÷ length by
//!    trapezoids, median = the force below which the line runs over half of the length.
//! 6. Divided by the actual width of the strip they become forces per width.
//!
//! The limits (0.5 mm; 5 % and 10 % of the maximum; a fall of 10 %) are our own choice: no source gives them.
//!
//! A strip cut across a weld 38 mm wide is far too short for any of the lengths that standards average over. Its
//! result is still useful beside others of its kind and carries the label "short-length peel, not standard"
//! ([`PeelLabel`]). No result claims conformity with a standard.

mod curve;
mod error;
mod extent;
mod forces;
mod region;
#[cfg(test)]
mod tests;
mod trace;

pub use error::PeelError;
pub use forces::{Forces, ForcesPerWidth};
pub use region::{Peel, PeelLabel, Region, Strip};
pub use trace::{Peak, Remark, Trace, Zero};
