//! The joint posterior of an edge and its scatter.

/// The joint posterior of an edge and its scatter.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Posterior {}
