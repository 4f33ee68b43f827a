//! Held items: seen, released, discarded.

mod again;

use chrono::{DateTime, Utc};
use json_patch::Patch;
use uuid::Uuid;

pub use again::{Passes, release_resolvable};

use super::followup::Followup;
use super::records::{Arriving, repeating};
use super::{Error, Result, Service, change, open, open_to_read};
use crate::model::{Actor, CustodyState, Held, Principal, Settled, Settlement};
use crate::storage::Tenant;
use crate::storage::custody::{self as store, HeldFilter};
use crate::wire::envelope::Item;
use crate::wire::sentence;

/// Beyond so many waiting items nobody counts.
pub const MOST_COUNTED: u32 = 1000;

/// Held items, the latest first; a caller that acts for one crew sees what the crew or itself has sent.
///
/// # Errors
/// [`Error::Storage`].
pub async fn list(service: &Service, caller: &Principal, filter: HeldFilter) -> Result<Vec<Held>> {
    let mut client = service.store.client().await?;
    let tenant = open_to_read(&mut client, caller).await?;
    let filter = HeldFilter { crew_of: caller.crew.map(|crew| (crew, caller.id)), ..filter };
    Ok(store::list(&tenant, &filter).await?)
}

/// How many held items wait for somebody, of those that the caller sees; one more than [`MOST_COUNTED`] if there are more.
///
/// # Errors
/// [`Error::Storage`].
pub async fn waiting(service: &Service, caller: &Principal) -> Result<u64> {
    let mut client = service.store.client().await?;
    let tenant = open_to_read(&mut client, caller).await?;
    Ok(store::waiting(&tenant, caller.crew.map(|crew| (crew, caller.id)), MOST_COUNTED + 1).await?)
}

/// One held item.
///
/// # Errors
/// [`Error::NotFound`]; [`Error::Storage`].
pub async fn get(service: &Service, caller: &Principal, id: Uuid) -> Result<Held> {
    let mut client = service.store.client().await?;
    let tenant = open_to_read(&mut client, caller).await?;
    seen(&tenant, caller, id).await
}

/// The bytes of a held item, as they were sent.
///
/// # Errors
/// [`Error::NotFound`]; [`Error::Storage`].
pub async fn bytes(service: &Service, caller: &Principal, id: Uuid) -> Result<Vec<u8>> {
    let mut client = service.store.client().await?;
    let tenant = open_to_read(&mut client, caller).await?;
    seen(&tenant, caller, id).await?;
    store::bytes(&tenant, id).await?.ok_or(Error::NotFound("held item"))
}

async fn seen(tenant: &Tenant<'_>, caller: &Principal, id: Uuid) -> Result<Held> {
    let held = store::one(tenant, id).await?;
    held.filter(|held| {
        caller.crew.is_none() || held.crew_id == caller.crew || held.sent_by == Actor::of(caller)
    })
    .ok_or(Error::NotFound("held item"))
}

/// Accepts a held item, as it is or with a correction: a JSON Patch (RFC 6902). Its bytes stay as they were sent; what is
/// accepted is kept beside them.
///
/// # Errors
/// [`Error::Invalid`] with pointers into the corrected item, and nothing is settled; [`Error::Settled`];
/// [`Error::Conflict`]; [`Error::NotFound`]; [`Error::Storage`].
pub async fn release(
    service: &Service,
    caller: &Principal,
    id: Uuid,
    (patch, reason): (Option<&Patch>, Option<String>),
    now: DateTime<Utc>,
) -> Result<Held> {
    repeating(async || {
        let mut client = service.store.client().await?;
        let tenant = open(&mut client, caller).await?;
        let held = open_item(&tenant, caller, id).await?;
        let sent = store::bytes(&tenant, id).await?.ok_or(Error::NotFound("held item"))?;
        let bytes = match patch {
            Some(patch) => corrected(&sent, patch)?,
            None => sent,
        };
        let item = Item::read(&bytes, now).map_err(Error::Invalid)?;
        if !caller.scopes.contains(&item.scope()) {
            return Err(Error::MissingScope(item.scope().code()));
        }
        let settlement = Settlement {
            outcome: Settled::Released,
            reason: reason.clone(),
            patch: patch.map(|patch| serde_json::to_vec(patch).unwrap_or_default()),
            record_id: Some(item.id()),
            at: now,
            by: Actor::of(caller),
        };
        if !store::settle(&tenant, id, &settlement).await? {
            return Err(Error::Settled);
        }
        let arriving = Arriving { bytes: &bytes, received_at: held.received_at, now };
        let mut followup = Followup::default();
        item.take_in(&tenant, caller, &arriving, &mut followup).await?;
        followup.stored("custody", id, []);
        followup.settle(&tenant, &service.charts, now).await?;
        tenant.commit().await?;
        Ok(Held { settlement: Some(settlement), state: CustodyState::Accepted, ..held })
    })
    .await
}

/// The item after the correction.
fn corrected(bytes: &[u8], patch: &Patch) -> Result<Vec<u8>> {
    let mut value: serde_json::Value = serde_json::from_slice(bytes).map_err(|_| {
        let detail = "The item is not JSON and cannot be corrected so. Discard it and send it anew.";
        Error::invalid("/patch", "malformed_json", detail)
    })?;
    json_patch::patch(&mut value, patch).map_err(|error| {
        Error::invalid(format!("/patch/{}", error.operation), "patch_failed", sentence(&error))
    })?;
    Ok(value.to_string().into_bytes())
}

/// Puts a held item aside for good. Its bytes are kept.
///
/// # Errors
/// [`Error::Settled`]; [`Error::NotFound`]; [`Error::Storage`].
pub async fn discard(
    service: &Service,
    caller: &Principal,
    id: Uuid,
    reason: String,
    now: DateTime<Utc>,
) -> Result<Held> {
    repeating(async || {
        let mut client = service.store.client().await?;
        let tenant = open(&mut client, caller).await?;
        let held = open_item(&tenant, caller, id).await?;
        let settlement = Settlement {
            outcome: Settled::Discarded,
            reason: Some(reason.clone()),
            patch: None,
            record_id: None,
            at: now,
            by: Actor::of(caller),
        };
        if !store::settle(&tenant, id, &settlement).await? {
            return Err(Error::Settled);
        }
        change::append(&tenant, &[("custody", id)], now).await?;
        tenant.commit().await?;
        Ok(Held { settlement: Some(settlement), state: CustodyState::Discarded, ..held })
    })
    .await
}

/// A held item that nobody has settled and whose bytes were not accepted since.
async fn open_item(tenant: &Tenant<'_>, caller: &Principal, id: Uuid) -> Result<Held> {
    let held = seen(tenant, caller, id).await?;
    if held.state == CustodyState::Open { Ok(held) } else { Err(Error::Settled) }
}

/// The findings that are kept with a held item.
pub fn findings(held: &Held) -> Vec<(String, String, String)> {
    let listed: Vec<serde_json::Value> = serde_json::from_slice(&held.findings).unwrap_or_default();
    let text =
        |finding: &serde_json::Value, member: &str| finding[member].as_str().unwrap_or_default().to_owned();
    listed
        .iter()
        .map(|finding| (text(finding, "pointer"), text(finding, "code"), text(finding, "detail")))
        .collect()
}
