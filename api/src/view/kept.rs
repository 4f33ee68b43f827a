//! A record of any kind as it is kept.

use chrono::{DateTime, Utc};
use serde::Serialize;
use serde_json::value::RawValue;
use utoipa::ToSchema;
use uuid::Uuid;

use super::custody::ActorName;
use crate::service::kept;
use crate::wire::digest;

/// A record as it was sent, with what became of it.
#[derive(Debug, Serialize, ToSchema)]
pub struct KeptRecord {
    /// Id.
    pub id: Uuid,
    /// Its kind, as schemas and the change feed name it.
    #[schema(example = "service_event")]
    pub kind: &'static str,
    /// `accepted`: it counts. `superseded`: a correction stands in its place. `retracted`: it was withdrawn, itself or with the
    /// first of its chain.
    #[schema(example = "accepted")]
    pub disposition: &'static str,
    /// When it was first received.
    pub received_at: DateTime<Utc>,
    /// SHA-256 of the bytes as they were sent, hexadecimal.
    pub digest: String,
    /// Who sent it.
    pub sent_by: ActorName,
    /// Number of its first entry in the change feed.
    pub change_sequence: Option<i64>,
    /// The record that was corrected first, and all corrections of it and of each other, in the order they were written; only the
    /// record itself, if nobody corrected anything. At most one of them counts.
    pub chain: Vec<ChainLink>,
    /// Other corrections of the same record that were not made from this one: the one written last counts, and a person should look
    /// at them.
    pub competing: Vec<Uuid>,
    /// The record, every literal as it was sent.
    #[schema(value_type = Object)]
    pub record: Box<RawValue>,
}

/// A record in a chain of corrections.
#[derive(Debug, Serialize, ToSchema)]
pub struct ChainLink {
    /// Id.
    pub id: Uuid,
    /// The record whose place it takes; null for the first.
    pub supersedes: Option<Uuid>,
    /// When it was written, by its own bytes; where they do not say so, when what it tells of happened. Null for kinds that are never
    /// corrected.
    pub recorded_at: Option<DateTime<Utc>>,
    /// `accepted`, `superseded` or `retracted`.
    #[schema(example = "superseded")]
    pub disposition: &'static str,
}

impl KeptRecord {
    /// A kept record whose bytes are `record`.
    pub fn of(kept: &kept::Kept, record: Box<RawValue>) -> Self {
        let link = |link: &kept::Link| ChainLink {
            id: link.id,
            supersedes: link.written.and_then(|written| written.supersedes),
            recorded_at: link.written.map(|written| written.at),
            disposition: link.disposition.code(),
        };
        let submission = &kept.submission;
        Self {
            id: kept.id,
            kind: submission.kind.code(),
            disposition: kept.disposition.code(),
            received_at: submission.received_at,
            digest: digest::show(&submission.digest),
            sent_by: ActorName::from(submission.sent_by),
            change_sequence: kept.change_sequence,
            chain: kept.chain.iter().map(link).collect(),
            competing: kept.competing.clone(),
            record,
        }
    }
}
