//! The calculation core of Lapwatch: what a trial of test welds says about the range of temperatures in which a
//! hot-air welder makes good seams, and what follows from it.
//!
//! The crate is pure. It reads no clock, draws no random numbers, does no input or output and knows nothing of JSON,
//! SQL or HTTP. The same input gives the same output on every machine; that is what allows a standing to be worked
//! out again years later.
//!
//! # A trial, step by step
//!
//! 1. [`quantity`]: numbers with units become temperatures, speeds, widths.
//! 2. [`acceptance`]: each peeled strip is read as cold, sound, hot or something else, with reasons.
//! 3. [`edges`]: the readings of all coupons become two edges with honest uncertainty.
//! 4. [`band`]: the edges become a band, and the band a set point, inside limits that no calculation overrides.
//! 5. [`plan`]: what to weld next, or why to stop.
//! 6. [`trial`]: all of it in one call, with outcome, cautions and plain sentences.
//!
//! # About the strips
//!
//! - [`peel`]: force–displacement traces of peeled strips, and the force per width over a named region.
//! - [`readers`]: how far two people agree who read the same strips.
//!
//! # A unit, over time
//!
//! - [`heat`] brings trials at different sheet temperatures and speeds to common terms.
//! - [`carried`]: what the unit's history adds to today's trial, and where the unit should begin; advice only, never fed back.
//! - [`drift`]: has an edge moved, since when, how far, and what may have done it.
//! - [`series`]: a series of measured edges, looked at with textbook methods.
//! - [`standing`]: what all of it says of the unit, and the flags it raises.
//! - [`recheck`]: which trial is due when.
//! - [`suspect`]: which seams to look at when something was wrong.
//!
//! # A fleet
//!
//! - [`fleet`]: what many units' trials say of numbers that a single trial has to assume.
//!
//! # Around the weld
//!
//! - [`supply`]: what a cord and a weak source leave of a welder's heat.
//! - [`weather`]: how far a sheet lies above the dew point.
//!
//! [`membrane`], [`policy`] and [`caution`] hold what those steps need to know; [`numerics`] is the mathematics
//! underneath; [`coded`] ties enums to their text codes.
#![deny(missing_docs)]

pub mod acceptance;
pub mod band;
pub mod carried;
pub mod caution;
pub mod coded;
pub mod drift;
pub mod edges;
pub mod fleet;
pub mod heat;
pub mod membrane;
pub mod numerics;
pub mod peel;
pub mod plan;
pub mod policy;
pub mod quantity;
pub mod readers;
pub mod recheck;
pub mod series;
pub mod standing;
pub mod supply;
pub mod suspect;
pub mod trial;
pub mod weather;

pub use coded::Coded;
