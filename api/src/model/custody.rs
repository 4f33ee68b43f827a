//! Items that arrived and could not be accepted.

use chrono::{DateTime, Utc};
use lapwatch_domain::coded_enum;
use uuid::Uuid;

use super::{Principal, SubjectKind};

coded_enum! {
    /// What an item is held as.
    pub enum HeldAs {
        /// It breaks a rule.
        Quarantined = "quarantined",
        /// Its id was accepted with other content.
        Conflict = "conflict",
    }
}

coded_enum! {
    /// What a person did about a held item.
    pub enum Settled {
        /// It was accepted, as it was or corrected.
        Released = "released",
        /// It was put aside for good.
        Discarded = "discarded",
    }
}

coded_enum! {
    /// What is the matter with an item now.
    pub enum Disposition {
        /// Its content is an accepted record.
        Accepted = "accepted",
        /// Held, because it breaks a rule.
        Quarantined = "quarantined",
        /// Held, because its id was accepted with other content.
        Conflict = "conflict",
        /// A person put it aside for good.
        Discarded = "discarded",
        /// Accepted; a correction has taken its place.
        Superseded = "superseded",
        /// Accepted; it was withdrawn since, or the record that it corrects was.
        Retracted = "retracted",
    }
}

coded_enum! {
    /// Where a held item stands.
    pub enum CustodyState {
        /// Nobody has settled it.
        Open = "open",
        /// Accepted since.
        Accepted = "accepted",
        /// Put aside for good.
        Discarded = "discarded",
    }
}

/// Who did something.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Actor {
    /// Person or app.
    pub kind: SubjectKind,
    /// Its id.
    pub id: Uuid,
}

impl Actor {
    /// Who a caller is.
    pub fn of(caller: &Principal) -> Self {
        Self { kind: caller.kind, id: caller.id }
    }
}

/// What a person did about a held item.
#[derive(Debug, Clone, PartialEq)]
pub struct Settlement {
    /// What.
    pub outcome: Settled,
    /// Why.
    pub reason: Option<String>,
    /// The JSON Patch that corrected it, as JSON.
    pub patch: Option<Vec<u8>>,
    /// The record it became.
    pub record_id: Option<Uuid>,
    /// When.
    pub at: DateTime<Utc>,
    /// Who.
    pub by: Actor,
}

/// An item that arrived and could not be accepted, without its bytes.
#[derive(Debug, Clone, PartialEq)]
pub struct Held {
    /// Id.
    pub id: Uuid,
    /// SHA-256 of its bytes.
    pub digest: [u8; 32],
    /// How many bytes.
    pub size: u64,
    /// As what it is held.
    pub held_as: HeldAs,
    /// The stable code of why.
    pub reason: String,
    /// Every broken rule, as a JSON list of pointer, code and detail.
    pub findings: Vec<u8>,
    /// The schema it claims.
    pub schema: Option<String>,
    /// The id it claims.
    pub record_id: Option<Uuid>,
    /// When it was first received.
    pub received_at: DateTime<Utc>,
    /// Who sent it.
    pub sent_by: Actor,
    /// The crew that the sender acts for.
    pub crew_id: Option<Uuid>,
    /// What a person did about it.
    pub settlement: Option<Settlement>,
    /// Where it stands: accepted also where the same bytes were since.
    pub state: CustodyState,
}

impl Held {
    /// What is the matter with it now.
    pub fn disposition(&self) -> Disposition {
        match (self.state, self.held_as) {
            (CustodyState::Accepted, _) => Disposition::Accepted,
            (CustodyState::Discarded, _) => Disposition::Discarded,
            (CustodyState::Open, HeldAs::Quarantined) => Disposition::Quarantined,
            (CustodyState::Open, HeldAs::Conflict) => Disposition::Conflict,
        }
    }
}
