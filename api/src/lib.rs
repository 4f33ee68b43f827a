//! Lapwatch.
pub mod embedded;
