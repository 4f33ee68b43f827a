//! The harness of the whole-system tests.

pub mod harness;
