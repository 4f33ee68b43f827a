//! Requests that carry a key of their client.

use chrono::{DateTime, Utc};
use uuid::Uuid;

/// A request that its client may repeat without making a second thing.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct KeyedRequest {
    /// What the client calls it; unique among the requests of one caller.
    pub key: String,
    /// Keyed digest of what was asked: two requests with one key ask the same or one of them is a mistake.
    pub digest: [u8; 32],
}

/// What a request made when it came first.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Made {
    /// Id of the thing.
    pub id: Uuid,
    /// When it was made.
    pub at: DateTime<Utc>,
}
