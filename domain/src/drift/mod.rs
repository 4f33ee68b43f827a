//! Drift.
pub mod arl;
