//! Held items.

use chrono::{DateTime, Utc};
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;

use super::envelope::BrokenRule;
use crate::model::{Actor, Held, Settlement};
use crate::service::custody;
use crate::wire::digest;

/// An item that arrived in an envelope and could not be accepted. Its bytes are at `/v1/custody/{id}/content`.
#[derive(Debug, Serialize, ToSchema)]
pub struct HeldItem {
    /// Id.
    pub id: Uuid,
    /// `quarantined`, or `conflict`: its id was accepted with other content.
    #[schema(example = "quarantined")]
    pub held_as: &'static str,
    /// `open`, `accepted` (since) or `discarded`.
    #[schema(example = "open")]
    pub state: &'static str,
    /// Stable code of why it is held.
    #[schema(example = "unknown_id")]
    pub reason: String,
    /// Every broken rule, with pointers into the item.
    pub errors: Vec<BrokenRule>,
    /// The schema that it claims.
    #[schema(example = "trial/1")]
    pub schema: Option<String>,
    /// The id that it claims.
    pub record_id: Option<Uuid>,
    /// SHA-256 of its bytes.
    pub digest: String,
    /// How many bytes it has.
    pub bytes: u64,
    /// When it was first received.
    pub received_at: DateTime<Utc>,
    /// Who sent it.
    pub sent_by: ActorName,
    /// What a person did about it.
    pub settled: Option<SettledItem>,
}

/// Who did something.
#[derive(Debug, Serialize, ToSchema)]
pub struct ActorName {
    /// `person` or `app`.
    #[schema(example = "app")]
    pub kind: &'static str,
    /// Its id.
    pub id: Uuid,
}

/// What a person did about a held item.
#[derive(Debug, Serialize, ToSchema)]
pub struct SettledItem {
    /// `released` or `discarded`.
    #[schema(example = "released")]
    pub outcome: &'static str,
    /// Why.
    pub reason: Option<String>,
    /// The JSON Patch (RFC 6902) that corrected it.
    #[schema(value_type = Option<Vec<Object>>)]
    pub patch: Option<serde_json::Value>,
    /// The record that it became.
    pub record_id: Option<Uuid>,
    /// When.
    pub at: DateTime<Utc>,
    /// Who.
    pub by: ActorName,
}

impl From<&Held> for HeldItem {
    fn from(held: &Held) -> Self {
        let error = |(pointer, code, detail)| BrokenRule { pointer, code, detail };
        Self {
            id: held.id,
            held_as: held.held_as.code(),
            state: held.state.code(),
            reason: held.reason.clone(),
            errors: custody::findings(held).into_iter().map(error).collect(),
            schema: held.schema.clone(),
            record_id: held.record_id,
            digest: digest::show(&held.digest),
            bytes: held.size,
            received_at: held.received_at,
            sent_by: ActorName::from(held.sent_by),
            settled: held.settlement.as_ref().map(SettledItem::from),
        }
    }
}

impl From<Actor> for ActorName {
    fn from(actor: Actor) -> Self {
        Self { kind: actor.kind.code(), id: actor.id }
    }
}

impl From<&Settlement> for SettledItem {
    fn from(settlement: &Settlement) -> Self {
        Self {
            outcome: settlement.outcome.code(),
            reason: settlement.reason.clone(),
            patch: settlement.patch.as_deref().and_then(|patch| serde_json::from_slice(patch).ok()),
            record_id: settlement.record_id,
            at: settlement.at,
            by: ActorName::from(settlement.by),
        }
    }
}
