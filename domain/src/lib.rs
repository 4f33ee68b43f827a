//! The calculation core of Lapwatch: what a trial of test welds says about the range of temperatures in which a
//! hot-air welder makes good seams, and what follows from it.
//!
//! The crate is pure. It reads no clock, draws no random numbers, does no input or output and knows nothing of JSON,
//! SQL or HTTP. The same input gives the same output on every machine; that is what allows a standing to be worked
//! out again years later.
#![deny(missing_docs)]

pub mod numerics;
pub mod drift;
