//! What people decide about shifts that units share, and whether that still holds.

use std::collections::BTreeMap;
use std::collections::btree_map::Entry;

use chrono::{DateTime, Utc};
use lapwatch_domain::fleet::{SharedBy, SharedShift, ShiftDecision, ShiftState};
use uuid::Uuid;

use super::configuration::known;
use super::records::{Event, require_crew};
use super::{Result, Service, open_to_read};
use crate::model::{Lot, Membrane, Principal, SharedDecision, SharedFit, Site};
use crate::storage::{Tenant, shared, shared_decisions as store};

impl Event for SharedDecision {
    /// What it is about is there. It bears on every crew: a caller that acts for one does not make it.
    async fn check(&self, tenant: &Tenant<'_>, caller: &Principal, now: DateTime<Utc>) -> Result<()> {
        require_crew(caller, None)?;
        match self.by {
            SharedBy::Lot(lot) => known::<Lot>(tenant, "/lot_id", lot, now).await.map(drop),
            SharedBy::Membrane(membrane) => {
                known::<Membrane>(tenant, "/membrane_id", membrane, now).await.map(drop)
            }
            SharedBy::Day(site, _) => known::<Site>(tenant, "/site_id", site, now).await.map(drop),
        }
    }

    async fn keep(&self, tenant: &Tenant<'_>, caller: &Principal) -> Result<()> {
        Ok(store::insert(tenant, self, caller).await?)
    }

    /// None: charts take off what the fit says, whatever people decide about it.
    async fn bears_on(&self, _tenant: &Tenant<'_>, _now: DateTime<Utc>) -> Result<Vec<Uuid>> {
        Ok(Vec::new())
    }
}

/// Decisions from a time on, in order of time.
///
/// # Errors
/// [`super::Error::Storage`].
pub async fn list(service: &Service, caller: &Principal, from: DateTime<Utc>) -> Result<Vec<SharedDecision>> {
    let mut client = service.store.client().await?;
    let tenant = open_to_read(&mut client, caller).await?;
    Ok(store::decisions(&tenant, from).await?)
}

/// What people have decided about one shift.
#[derive(Debug)]
pub struct Decided {
    /// The decisions, in order of time.
    pub decisions: Vec<SharedDecision>,
    /// What follows.
    pub state: ShiftState,
}

/// What people have decided by `now` about each shift of a fit, in its order.
///
/// # Errors
/// [`super::Error::Storage`].
pub async fn about(
    service: &Service,
    caller: &Principal,
    fit: &SharedFit,
    now: DateTime<Utc>,
) -> Result<Vec<Decided>> {
    let mut client = service.store.client().await?;
    let tenant = open_to_read(&mut client, caller).await?;
    about_shifts(&tenant, (&fit.shared.shifts, fit.made_at), now).await
}

/// As [`about`], of some shifts of a fit that was made then, inside a transaction.
pub(super) async fn about_shifts(
    tenant: &Tenant<'_>,
    (shifts, made_at): (&[SharedShift], DateTime<Utc>),
    now: DateTime<Utc>,
) -> Result<Vec<Decided>> {
    let mut all = store::decisions(tenant, DateTime::UNIX_EPOCH).await?;
    // A clock that is ahead decides nothing yet.
    all.retain(|decision| decision.at <= now);
    // Nobody saw a later fit than this one when it was made.
    let seen_at = |decision: &SharedDecision| decision.at.min(made_at);
    let concerned = |decision: &&SharedDecision| shifts.iter().any(|shift| decision.concerns(shift));
    // What was seen when it was decided; few decisions are about what is met now.
    let mut seen: BTreeMap<DateTime<Utc>, Option<SharedFit>> = BTreeMap::new();
    for decision in all.iter().filter(concerned) {
        if let Entry::Vacant(place) = seen.entry(seen_at(decision)) {
            place.insert(shared::in_force(tenant, seen_at(decision)).await?);
        }
    }
    let decided = |shift: &SharedShift| {
        let decisions: Vec<SharedDecision> =
            all.iter().filter(|decision| decision.concerns(shift)).cloned().collect();
        let judged: Vec<ShiftDecision<'_>> = decisions
            .iter()
            .map(|decision| {
                let fit = seen.get(&seen_at(decision)).and_then(Option::as_ref);
                let same = |other: &&SharedShift| other.by == shift.by && other.class == shift.class;
                let seen = fit.and_then(|fit| fit.shared.shifts.iter().find(same));
                ShiftDecision { kind: decision.kind, at: decision.at, seen }
            })
            .collect();
        let state = shift.state(&judged);
        Decided { decisions, state }
    };
    Ok(shifts.iter().map(decided).collect())
}
