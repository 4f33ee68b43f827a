//! Held items that become acceptable by themselves.

use std::collections::HashMap;
use std::panic::AssertUnwindSafe;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

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

/// So many items are tried again at a time.
const TRIED_AT_A_TIME: usize = 1000;

/// Why held items are tried again.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
enum Occasion {
    /// Something has arrived.
    Arrivals,
    /// This process has begun, which may be newer than what held them.
    Beginning,
}

impl Occasion {
    const ALL: [Self; 2] = [Self::Arrivals, Self::Beginning];

    /// Reasons that may have gone: what an item names has come to be there, the trial was withdrawn that an open trial had become,
    /// or what failed does not fail any more; a newer service knows a schema or a member.
    const fn reasons(self) -> &'static [&'static str] {
        match self {
            Self::Arrivals => &["unknown_id", "already_closed", "internal_error"],
            Self::Beginning => &["schema_unknown", "unknown_field"],
        }
    }
}

/// How far the held items of each organization have been tried again by this process.
#[derive(Debug, Clone, Default)]
pub struct Passes(Arc<Mutex<HashMap<(Uuid, Occasion), Pass>>>);

/// Once through everything that is open for the reasons of an occasion.
#[derive(Debug, Clone, Copy)]
struct Pass {
    /// Where the change feed ended when it began.
    began_at: i64,
    /// Which of the reasons is being gone through, and behind which item; beyond the last of them it is through.
    reason: usize,
    behind: Option<Uuid>,
}

impl Passes {
    /// The pass to go on with; `None` while there is nothing to do.
    fn under_way(&self, organization: Uuid, occasion: Occasion, head: i64) -> Option<Pass> {
        let began = Pass { began_at: head, reason: 0, behind: None };
        match self.lock().get(&(organization, occasion)) {
            None => Some(began),
            Some(pass) if pass.reason < occasion.reasons().len() => Some(*pass),
            // While the feed ends where it did, nothing has arrived that could resolve anything.
            Some(pass) if occasion == Occasion::Beginning || pass.began_at == head => None,
            Some(_) => Some(began),
        }
    }

    fn note(&self, organization: Uuid, occasion: Occasion, pass: Pass) {
        self.lock().insert((organization, occasion), pass);
    }

    fn lock(&self) -> MutexGuard<'_, HashMap<(Uuid, Occasion), Pass>> {
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
    let head = changes::head(&client.tenant(organization).await?).await?;
    drop(client);
    let mut released = None;
    for occasion in Occasion::ALL {
        if let Some(more) = go_on(service, (organization, head.seq), occasion, now).await? {
            released = Some(released.unwrap_or(0) + more);
        }
    }
    Ok(released)
}

/// Goes on with the pass of an occasion; the change feed ended at `head`.
async fn go_on(
    service: &Service,
    (organization, head): (Uuid, i64),
    occasion: Occasion,
    now: DateTime<Utc>,
) -> Result<Option<usize>> {
    let Some(mut pass) = service.passes.under_way(organization, occasion, head) else { return Ok(None) };
    let (mut left, mut released) = (TRIED_AT_A_TIME, 0);
    while let Some(reason) = occasion.reasons().get(pass.reason).filter(|_| left > 0) {
        let mut client = service.store.client().await?;
        let tenant = client.tenant(organization).await?;
        let limit = i64::try_from(left).unwrap_or(i64::MAX);
        let open = store::open_behind(&tenant, reason, pass.behind, limit).await?;
        drop(tenant);
        drop(client);
        let last = open.len() < left;
        for id in open {
            match AssertUnwindSafe(try_again(service, organization, id, now)).catch_unwind().await {
                Ok(Ok(accepted)) => released += usize::from(accepted),
                Ok(Err(Error::Storage(error))) if error.is_unavailable() => {
                    return Err(Error::Storage(error));
                }
                // Still not acceptable: it stays where it is.
                Ok(Err(_)) | Err(_) => {}
            }
            pass.behind = Some(id);
            left -= 1;
        }
        if last {
            (pass.reason, pass.behind) = (pass.reason + 1, None);
        }
    }
    service.passes.note(organization, occasion, pass);
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
