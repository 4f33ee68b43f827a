//! What became of the items of an envelope.

use chrono::{DateTime, Utc};
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;

use crate::model::{Disposition, Finding, RecordKind};
use crate::service::envelope::{Handled, Outcome, Reason, Receipt};
use crate::wire::digest;

/// What became of one item. Only `too_large` and `retry` leave it with its sender; after anything else the sender may forget
/// it.
#[derive(Debug, Serialize, ToSchema)]
pub struct ItemResult {
    /// Its place in the envelope, counted from 0.
    #[schema(example = 0)]
    pub index: u64,
    /// The id that it claims, if one could be read.
    pub id: Option<Uuid>,
    /// `created`, `duplicate`, `conflict` (held until a person settles it), `quarantined` (held, see `reason`), `too_large`
    /// (not kept; do not send it again unchanged) or `retry` (not kept; send it again later).
    #[schema(example = "created")]
    pub result: &'static str,
    /// What the service owes for it; null when it was not kept.
    pub receipt: Option<ItemReceipt>,
    /// Whether other bytes of the same JSON value had been accepted before.
    pub reencoded: bool,
    /// Under which id it is held: `/v1/custody/{id}`.
    pub custody_id: Option<Uuid>,
    /// Why it is held or was not kept; null otherwise, and with `Prefer: return=minimal`.
    pub reason: Option<ItemReason>,
}

/// A receipt.
#[derive(Debug, Serialize, ToSchema)]
pub struct ItemReceipt {
    /// When these bytes, or the same JSON value, were first received.
    pub received_at: DateTime<Utc>,
    /// SHA-256 of the item's bytes, from the first to the last octet of its JSON value.
    #[schema(example = "9f86d081884c7d659a2feaa0c55ad015a3bf4f1b2b0b822cd15d6c15b0f00a08")]
    pub digest: String,
    /// Its first entry in the organization's change feed.
    pub change_sequence: Option<i64>,
    /// What is the matter with it now: `accepted`, `quarantined`, `conflict` or `discarded`.
    #[schema(example = "accepted")]
    pub disposition: &'static str,
}

/// Why an item was not accepted.
#[derive(Debug, Serialize, ToSchema)]
pub struct ItemReason {
    /// Stable code.
    #[schema(example = "unknown_id")]
    pub code: String,
    /// Every broken rule, with pointers into the item.
    pub errors: Vec<BrokenRule>,
}

/// A rule that an item breaks.
#[derive(Debug, Serialize, ToSchema)]
pub struct BrokenRule {
    /// JSON Pointer (RFC 6901) into the item.
    #[schema(example = "/unit_id")]
    pub pointer: String,
    /// Stable code of the rule.
    #[schema(example = "unknown_id")]
    pub code: String,
    /// What is wrong and what to do.
    pub detail: String,
}

impl From<&Finding> for BrokenRule {
    fn from(finding: &Finding) -> Self {
        Self {
            pointer: finding.pointer.clone(),
            code: finding.code.to_owned(),
            detail: finding.detail.clone(),
        }
    }
}

impl ItemResult {
    /// The result for the item at a place.
    pub fn of(index: u64, handled: &Handled, minimal: bool) -> Self {
        Self {
            index,
            id: handled.id,
            result: handled.outcome.code(),
            receipt: handled.receipt.as_ref().map(ItemReceipt::from),
            reencoded: handled.reencoded,
            custody_id: handled.custody_id,
            reason: handled.reason.as_ref().filter(|_| !minimal).map(ItemReason::from),
        }
    }

    /// The result for an item past the limit.
    pub fn too_large(index: u64, bytes: u64, limit: usize, minimal: bool) -> Self {
        let reason = (!minimal).then(|| ItemReason {
            code: Outcome::TooLarge.code().to_owned(),
            errors: vec![BrokenRule {
                pointer: String::new(),
                code: Outcome::TooLarge.code().to_owned(),
                detail: format!(
                    "It has {bytes} bytes; one item takes at most {limit}. Keep it, show it to a person, and do not send it \
                     again unchanged."
                ),
            }],
        });
        Self {
            index,
            id: None,
            result: Outcome::TooLarge.code(),
            receipt: None,
            reencoded: false,
            custody_id: None,
            reason,
        }
    }
}

impl From<&Receipt> for ItemReceipt {
    fn from(receipt: &Receipt) -> Self {
        Self {
            received_at: receipt.received_at,
            digest: digest::show(&receipt.digest),
            change_sequence: receipt.change_sequence,
            disposition: receipt.disposition.code(),
        }
    }
}

impl From<&Reason> for ItemReason {
    fn from(reason: &Reason) -> Self {
        Self { code: reason.code.clone(), errors: reason.findings.iter().map(BrokenRule::from).collect() }
    }
}

/// Which of some items the service has.
#[derive(Debug, Serialize, ToSchema)]
pub struct KnownDigest {
    /// SHA-256 of the item's bytes.
    pub digest: String,
    /// `accepted`, `quarantined`, `conflict` or `discarded`; null when these bytes were never received.
    #[schema(example = "accepted")]
    pub disposition: Option<&'static str>,
    /// When they were first received.
    pub received_at: Option<DateTime<Utc>>,
}

impl KnownDigest {
    /// What is known of a digest.
    pub fn of(digest: &[u8; 32], known: Option<(Disposition, DateTime<Utc>)>) -> Self {
        Self {
            digest: digest::show(digest),
            disposition: known.map(|(disposition, _)| disposition.code()),
            received_at: known.map(|(_, received_at)| received_at),
        }
    }
}

/// What envelopes may hold.
#[derive(Debug, Serialize, ToSchema)]
pub struct EnvelopeLimits {
    /// Most bytes of one item.
    pub item_bytes: usize,
    /// Most items of an envelope.
    pub items: u64,
    /// Most bytes of an envelope, decompressed.
    pub bytes: u64,
    /// How many times as long as it travelled a compressed envelope may be.
    pub expansion: u64,
    /// Most digests of one question.
    pub digests: usize,
    /// The schemas of items that are read.
    pub schemas: Vec<String>,
}

impl EnvelopeLimits {
    /// The schemas of all kinds of records.
    pub fn schemas() -> Vec<String> {
        RecordKind::ALL.iter().flat_map(|kind| kind.schemas()).collect()
    }
}
