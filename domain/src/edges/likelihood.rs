//! Likelihood.
