//! One unit: its history, where it stands, what is suspect.

use std::sync::Arc;

use chrono::{DateTime, Utc};
use lapwatch_domain::drift::UnitSeries;
use uuid::Uuid;

use super::derive::UnitFacts;
use super::trials::Suspect;
use super::{Error, Result, Service, open_to_read, reach};
use crate::model::{Principal, ServiceEvent, Unit, Version};
use crate::storage;
use crate::storage::derived::{Flag, FlagFilter, Recheck, RecheckFilter, UnitState};
use crate::storage::records::HistoryRow;

/// The whole history of a unit.
#[derive(Debug)]
pub struct History {
    /// The unit as it is now.
    pub unit: Version<Unit>,
    /// Its trials with what each says alone, in order of time.
    pub trials: Vec<HistoryRow>,
    /// Its charts, one set a sheet class.
    pub series: Arc<[UnitSeries]>,
    /// What was done to it.
    pub service_events: Vec<ServiceEvent>,
}

/// Where a unit stands and what follows.
#[derive(Debug)]
pub struct Situation {
    /// The unit as it is now.
    pub unit: Version<Unit>,
    /// Its standing.
    pub state: UnitState,
    /// Its flags, the latest first.
    pub flags: Vec<Flag>,
    /// Its rechecks, the latest due first.
    pub rechecks: Vec<Recheck>,
    /// Every span to look at, by start.
    pub suspects: Vec<Suspect>,
}

/// The history of a unit, computed from its stored evidence.
///
/// # Errors
/// [`Error::NotFound`]; [`Error::Storage`].
pub async fn history(service: &Service, caller: &Principal, id: Uuid, now: DateTime<Utc>) -> Result<History> {
    let mut client = service.store.client().await?;
    let tenant = open_to_read(&mut client, caller).await?;
    let unit = reach::unit(&tenant, caller, id, now).await?;
    let facts = UnitFacts::load(&tenant, id, now).await?;
    let derived = facts.derive(&tenant, &service.charts, now).await?;
    let series = Arc::clone(derived.charts.series());
    let service_events = storage::records::service_events(&tenant, Some(id)).await?;
    Ok(History { unit, trials: facts.history, series, service_events })
}

/// Where a unit stands, with its flags, rechecks and suspect spans.
///
/// # Errors
/// [`Error::NotFound`]; [`Error::Storage`].
pub async fn situation(
    service: &Service,
    caller: &Principal,
    id: Uuid,
    now: DateTime<Utc>,
) -> Result<Situation> {
    let mut client = service.store.client().await?;
    let tenant = open_to_read(&mut client, caller).await?;
    let unit = reach::unit(&tenant, caller, id, now).await?;
    let state = storage::derived::unit_states(&tenant, Some(id)).await?.pop();
    let state = state.ok_or(Error::NotFound("unit"))?;
    let facts = UnitFacts::load(&tenant, id, now).await?;
    let suspects = Suspect::list(&facts, &facts.derive(&tenant, &service.charts, now).await?, |_| true);
    let flags =
        storage::derived::flags(&tenant, FlagFilter { unit_id: Some(id), ..Default::default() }).await?;
    let filter = RecheckFilter { unit_id: Some(id), ..Default::default() };
    let rechecks = storage::derived::rechecks(&tenant, filter, now).await?;
    Ok(Situation { unit, state, flags, rechecks, suspects })
}
