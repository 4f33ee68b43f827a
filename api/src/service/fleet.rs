//! The organization's units at a glance, flags, rechecks, and the turn of the day.

use std::collections::HashMap;

use chrono::{DateTime, TimeDelta, Utc};
use uuid::Uuid;

use super::reach::Reach;
use super::steps::{WithSteps, with_steps};
use super::{Error, Result, Service, derive, open_to_read};
use crate::model::{Crew, Principal, Site, Unit, Version};
use crate::storage::derived::{Flag, FlagFilter, Recheck, RecheckFilter, UnitState};
use crate::storage::records::{OpenTrialFilter, OpenTrialRow};
use crate::storage::{self, Tenant, configuration};

/// One unit on the fleet's board.
#[derive(Debug)]
pub struct FleetRow {
    /// The unit.
    pub unit: Version<Unit>,
    /// The crew that has it.
    pub crew: Option<Version<Crew>>,
    /// Its site.
    pub site: Option<Version<Site>>,
    /// Where it stands.
    pub state: UnitState,
    /// Its recheck that waits for a trial, if there is one.
    pub next_recheck: Option<Recheck>,
    /// Its flags that are not settled.
    pub flags: Vec<Flag>,
    /// Its trials that were begun piece by piece and are not closed, the latest first.
    pub unfinished: Vec<OpenTrialRow>,
}

/// So many unfinished trials of an organization are looked at, the latest: a crew that never closes any hides no other unit's for
/// long.
const UNFINISHED: i64 = 500;

/// Every unit that is not retired, by label; a caller that acts for one crew sees its own.
///
/// # Errors
/// [`Error::Storage`].
pub async fn board(service: &Service, caller: &Principal, now: DateTime<Utc>) -> Result<Vec<FleetRow>> {
    let mut client = service.store.client().await?;
    let tenant = open_to_read(&mut client, caller).await?;
    rows(&tenant, |unit| caller.acts_for(unit.value.crew_id), now).await
}

/// Every unit that is not retired and of these, by label.
pub(super) async fn rows(
    tenant: &Tenant<'_>,
    of_these: impl Fn(&Version<Unit>) -> bool,
    now: DateTime<Utc>,
) -> Result<Vec<FleetRow>> {
    let units = configuration::all_in_force::<Unit>(tenant, now).await?;
    let crews = by_id(configuration::all_in_force::<Crew>(tenant, now).await?);
    let sites = by_id(configuration::all_in_force::<Site>(tenant, now).await?);
    let mut states: HashMap<Uuid, UnitState> = storage::derived::unit_states(tenant, None)
        .await?
        .into_iter()
        .map(|state| (state.unit_id, state))
        .collect();
    let mut pending: HashMap<Uuid, Recheck> = HashMap::new();
    // The latest due comes first, so the earliest pending one of a unit is the last that is entered.
    for recheck in storage::derived::pending_rechecks(tenant).await? {
        pending.insert(recheck.unit_id, recheck);
    }
    let mut flags: HashMap<Uuid, Vec<Flag>> = HashMap::new();
    for flag in
        storage::derived::flags(tenant, FlagFilter::default()).await?.into_iter().filter(Flag::is_unsettled)
    {
        flags.entry(flag.unit_id).or_default().push(flag);
    }
    let mut unfinished: HashMap<Uuid, Vec<OpenTrialRow>> = HashMap::new();
    let latest = OpenTrialFilter { limit: UNFINISHED, ..Default::default() };
    for open in storage::records::unfinished(tenant, &latest).await? {
        unfinished.entry(open.unit_id).or_default().push(open);
    }
    let mut rows: Vec<FleetRow> = units
        .into_iter()
        .filter(|unit| !unit.retired && of_these(unit))
        .filter_map(|unit| {
            let crew = unit.value.crew_id.and_then(|id| crews.get(&id)).cloned();
            let site = crew.as_ref().and_then(|crew| sites.get(&crew.value.site_id)).cloned();
            Some(FleetRow {
                state: states.remove(&unit.id)?,
                next_recheck: pending.remove(&unit.id),
                flags: flags.remove(&unit.id).unwrap_or_default(),
                unfinished: unfinished.remove(&unit.id).unwrap_or_default(),
                crew,
                site,
                unit,
            })
        })
        .collect();
    rows.sort_by(|a, b| a.unit.value.label.cmp(&b.unit.value.label).then(a.unit.id.cmp(&b.unit.id)));
    Ok(rows)
}

fn by_id<T>(versions: Vec<Version<T>>) -> HashMap<Uuid, Version<T>> {
    versions.into_iter().map(|version| (version.id, version)).collect()
}

/// Flags, the latest first; a caller that acts for one crew sees those of its units.
///
/// # Errors
/// [`Error::Storage`].
pub async fn flags(
    service: &Service,
    caller: &Principal,
    filter: FlagFilter,
    now: DateTime<Utc>,
) -> Result<Vec<Flag>> {
    let mut client = service.store.client().await?;
    let tenant = open_to_read(&mut client, caller).await?;
    let reach = Reach::of(&tenant, caller, now).await?;
    Ok(reach.only(storage::derived::flags(&tenant, filter).await?, |flag| flag.unit_id))
}

/// One flag.
///
/// # Errors
/// [`Error::NotFound`]; [`Error::Storage`].
pub async fn flag(service: &Service, caller: &Principal, id: Uuid, now: DateTime<Utc>) -> Result<Flag> {
    let filter = FlagFilter { id: Some(id), ..Default::default() };
    flags(service, caller, filter, now).await?.pop().ok_or(Error::NotFound("flag"))
}

/// Rechecks with what to weld for them, the latest due first; a caller that acts for one crew sees its own.
///
/// # Errors
/// [`Error::Storage`].
pub async fn rechecks(
    service: &Service,
    caller: &Principal,
    filter: RecheckFilter,
    now: DateTime<Utc>,
) -> Result<Vec<WithSteps>> {
    let mut client = service.store.client().await?;
    let tenant = open_to_read(&mut client, caller).await?;
    let filter = RecheckFilter { crew_id: caller.crew.or(filter.crew_id), ..filter };
    let rechecks = storage::derived::rechecks(&tenant, filter, now).await?;
    with_steps(&tenant, rechecks, now).await
}

/// How old a unit's derived state may grow before the turn of the day is worked out for it again.
const STALE: TimeDelta = TimeDelta::minutes(15);

/// Derives anew an organization's units whose state is older than a quarter of an hour, one transaction a unit: a new local
/// day has brought its rechecks by then, a trial has grown too old for a standing. Answers how many.
///
/// # Errors
/// [`Error::Storage`].
pub async fn turn_of_the_day(service: &Service, organization: Uuid, now: DateTime<Utc>) -> Result<usize> {
    let mut client = service.store.client().await?;
    let tenant = client.tenant(organization).await?;
    let stale = storage::derived::stale_units(&tenant, now - STALE).await?;
    tenant.commit().await?;
    for unit in &stale {
        let tenant = client.tenant(organization).await?;
        derive::units(&tenant, &service.charts, &[*unit], now).await?;
        tenant.commit().await?;
    }
    Ok(stale.len())
}
