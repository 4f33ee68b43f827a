//! Whole-system tests, in one binary.

mod database;
mod embedded;
mod identity;
mod v1;
