//! Records that withdraw others, or take their place.

use chrono::{DateTime, Utc};
use uuid::Uuid;

/// A record that withdraws another.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Retraction {
    /// Id.
    pub id: Uuid,
    /// The record that no longer counts.
    pub record_id: Uuid,
    /// When it was withdrawn.
    pub at: DateTime<Utc>,
    /// Why.
    pub reason: String,
}

/// A record that takes the place of another.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Correction {
    /// The record.
    pub record_id: Uuid,
    /// The one whose place it takes.
    pub supersedes: Uuid,
    /// The first of the chain: the one that itself supersedes nothing.
    pub root_id: Uuid,
    /// When it was written down.
    pub recorded_at: DateTime<Utc>,
}
