//! Lapwatch.
