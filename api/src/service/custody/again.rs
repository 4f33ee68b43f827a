//! Held items that become acceptable by themselves.

use std::collections::HashMap;
use std::panic::AssertUnwindSafe;
use std::sync::{Arc, Mutex, PoisonError};

use chrono::{DateTime, Utc};
use futures_util::FutureExt;
use uuid::Uuid;

use crate::auth::digest;
use crate::model::{Principal, Scope, Settled, Settlement};
use crate::service::followup::Followup;
use crate::service::records::{Arrival, Arriving};
use crate::service::{Error, Result, Service};
use crate::storage::changes;
use crate::storage::custody::{self as store, Resolvable};
use crate::wire::envelope::Item;

/// Reasons that go when something else arrives: what an item names comes to be there, or the trial is withdrawn that an open trial had
/// become; or what failed does not fail any more.
const BY_ARRIVALS: [&str; 3] = ["unknown_id", "already_closed", "internal_error"];
/// Reasons that go when a newer service begins: it knows a schema or a member, or does not fail.
const BY_UPGRADE: [&str; 5] =
    ["unknown_id", "already_closed", "internal_error", "schema_unknown", "unknown_field"];
/// So many items are tried again at a time, of so many that are looked at.
const TRIED_AT_A_TIME: usize = 1000;
const LOOKED_AT_AT_A_TIME: i64 = 20_000;

/// How far the held items of each organization have been tried again by this process.
#[derive(Debug, Clone, Default)]
pub struct Passes(Arc<Mutex<HashMap<Uuid, Pass>>>);

/// Once through everything that is open.
#[derive(Debug, Clone, Copy)]
struct Pass {
    /// Where the change feed ended when it began: while it ends there, nothing has arrived that could resolve anything.
    began_at: i64,
    /// The first of this process, which may be newer than what held the items.
    first: bool,
    /// The item that was looked at last; `None` at the beginning.
    behind: Option<Uuid>,
    through: bool,
}

impl Passes {
    /// The pass to go on with; `None` while there is nothing to do.
    fn under_way(&self, organization: Uuid, head: i64) -> Option<Pass> {
        let began = |first| Pass { began_at: head, first, behind: None, through: false };
        match self.lock().get(&organization) {
            None => Some(began(true)),
            Some(pass) if !pass.through => Some(*pass),
            Some(pass) if pass.began_at == head => None,
            Some(_) => Some(began(false)),
        }
    }

    fn note(&self, organization: Uuid, pass: Pass) {
        self.lock().insert(organization, pass);
    }

    fn lock(&self) -> std::sync::MutexGuard<'_, HashMap<Uuid, Pass>> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// Tries held items again whose reason may be gone, as many as go at a time; the next call goes on behind them. They are accepted as
/// if they had arrived now, under the time of their first receipt. Answers how many were; `None` when there was nothing to do, for all
/// have been tried and nothing has arrived since.
///
/// # Errors
/// [`Error::Storage`].
pub async fn release_resolvable(
    service: &Service,
    organization: Uuid,
    now: DateTime<Utc>,
) -> Result<Option<usize>> {
    let mut client = service.store.client().await?;
    let (mut pass, open) = {
        let tenant = client.snapshot(organization).await?;
        let head = changes::head(&tenant).await?;
        let Some(pass) = service.passes.under_way(organization, head.seq) else { return Ok(None) };
        let reasons: &[&str] = if pass.first { &BY_UPGRADE } else { &BY_ARRIVALS };
        (pass, store::open_behind(&tenant, pass.behind, reasons, LOOKED_AT_AT_A_TIME).await?)
    };
    drop(client);
    let (mut tried, mut released) = (0, 0);
    pass.through = open.len() < usize::try_from(LOOKED_AT_AT_A_TIME).unwrap_or(usize::MAX);
    for (id, wanted) in open {
        if tried == TRIED_AT_A_TIME {
            pass.through = false;
            break;
        }
        pass.behind = Some(id);
        if !wanted {
            continue;
        }
        tried += 1;
        match AssertUnwindSafe(try_again(service, organization, id, now)).catch_unwind().await {
            Ok(Ok(accepted)) => released += usize::from(accepted),
            Ok(Err(Error::Storage(error))) if error.is_unavailable() => return Err(Error::Storage(error)),
            // Still not acceptable: it stays where it is.
            Ok(Err(_)) | Err(_) => {}
        }
    }
    service.passes.note(organization, pass);
    Ok(Some(released))
}

/// Tries an item again; `false` when it does not wait any more.
async fn try_again(service: &Service, organization: Uuid, id: Uuid, now: DateTime<Utc>) -> Result<bool> {
    let mut client = service.store.client().await?;
    let tenant = client.tenant(organization).await?;
    let Some(held) = store::resolvable(&tenant, id).await? else {
        // Accepted by another door, say.
        store::close(&tenant, id).await?;
        tenant.commit().await?;
        return Ok(false);
    };
    let Resolvable { bytes, received_at, sent_by, crew_id } = held;
    let item = Item::read(&bytes, now).map_err(Error::Invalid)?;
    // Whether its sender had the scope was found out when it arrived; the sender may have left since.
    let sender = Principal {
        organization,
        kind: sent_by.kind,
        id: sent_by.id,
        scopes: Scope::ALL.to_vec(),
        crew: crew_id,
    };
    let arriving = Arriving { bytes: &bytes, received_at, now };
    let mut followup = Followup::default();
    if let Arrival::Duplicate(first) = item.take_in(&tenant, &sender, &arriving, &mut followup).await?
        && first.digest != digest(&bytes)
    {
        // Nothing else tells that these bytes wait no longer.
        let settlement = Settlement {
            outcome: Settled::Released,
            reason: Some("The same record was accepted in other bytes.".to_owned()),
            patch: None,
            record_id: Some(item.id()),
            at: now,
            by: sent_by,
        };
        if !store::settle(&tenant, id, &settlement).await? {
            return Err(Error::Settled);
        }
    }
    store::close(&tenant, id).await?;
    followup.stored("custody", id, []);
    followup.settle(&tenant, &service.charts, now).await?;
    tenant.commit().await?;
    Ok(true)
}
