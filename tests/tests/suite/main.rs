//! Whole-system tests, in one binary.

mod embedded;
