//! The harness of the whole-system tests, and what they hold the contract to.

pub mod harness;
pub mod promises;
