//! What the units of a fleet share: a bad production run, a hard day on a site. A unit's charts take off what the *other*
//! units say of it.
//!
//! A fit is made once a day by a job, or when somebody asks, and kept for ever with its date. Charts go by the latest:
//! whatever was said of a run when it had just been opened, by now more is known of it. Units are derived anew within a
//! quarter of an hour (see [`super::fleet::turn_of_the_day`]).

use std::collections::{BTreeSet, HashMap};

use chrono::{DateTime, TimeDelta, Utc};
use chrono_tz::Tz;
use lapwatch_domain::drift::{ChartSettings, Offsets};
use lapwatch_domain::fleet::{MadeFrom, Setting, Shared, SharedBy, SharedEvidence, SharedShift, ShiftState};
use lapwatch_domain::membrane::MaterialClass;
use lapwatch_domain::recheck::local_day_start;
use uuid::Uuid;

use super::derive::UnitFacts;
use super::past::{Past, from_nothing};
use super::shared_decisions::{Decided, about_shifts};
use super::{Error, Result, Service, change, open_to_read};
use crate::model::{Days, Lot, Membrane, Principal, SharedFit, Site, StartConditions};
use crate::storage::records::HistoryRow;
use crate::storage::shared as store;
use crate::storage::{Tenant, configuration, derived, fits};

/// How often the job makes one.
const EVERY: TimeDelta = TimeDelta::days(1);

/// A fit looks back so far: a production run lasts weeks, and a unit's level wanders.
const REACH: TimeDelta = TimeDelta::days(182);

/// A fit that is younger is answered instead of making another.
const YOUNG: TimeDelta = TimeDelta::hours(1);

/// What single units were told is kept for fits that are younger.
const OWN_KEPT: TimeDelta = TimeDelta::days(35);

/// The latest fits, without shifts.
///
/// # Errors
/// [`Error::Storage`].
pub async fn latest(service: &Service, caller: &Principal, limit: i64) -> Result<Vec<SharedFit>> {
    let mut client = service.store.client().await?;
    let tenant = open_to_read(&mut client, caller).await?;
    Ok(store::latest(&tenant, limit).await?)
}

/// One fit with its shifts.
///
/// # Errors
/// [`Error::NotFound`]; [`Error::Storage`].
pub async fn get(service: &Service, caller: &Principal, id: Uuid) -> Result<SharedFit> {
    let mut client = service.store.client().await?;
    let tenant = open_to_read(&mut client, caller).await?;
    store::fit(&tenant, id).await?.ok_or(Error::NotFound("shared fit"))
}

/// The latest fit with its shifts; `None` before the first.
///
/// # Errors
/// [`Error::Storage`].
pub async fn in_force(service: &Service, caller: &Principal) -> Result<Option<SharedFit>> {
    let mut client = service.store.client().await?;
    let tenant = open_to_read(&mut client, caller).await?;
    let Some(latest) = store::latest(&tenant, 1).await?.pop() else { return Ok(None) };
    Ok(store::fit(&tenant, latest.id).await?)
}

/// A shift that people should know of, while it is met.
#[derive(Debug)]
pub struct Notable {
    /// The lot's code, the product's name, or the site's name and the date.
    pub name: String,
    /// The shift.
    pub shift: SharedShift,
    /// What people have decided about it.
    pub decided: Decided,
}

/// How long after the last trial with it a notable shift is shown.
const NEWS: TimeDelta = TimeDelta::days(14);

/// What of the latest fit people should know now: what is closed they know.
///
/// # Errors
/// [`Error::Storage`].
pub async fn notable(service: &Service, caller: &Principal, now: DateTime<Utc>) -> Result<Vec<Notable>> {
    let mut client = service.store.client().await?;
    let tenant = open_to_read(&mut client, caller).await?;
    let Some(latest) = store::latest(&tenant, 1).await?.pop() else { return Ok(Vec::new()) };
    let shifts = store::fit(&tenant, latest.id).await?.map(|fit| fit.shared.shifts).unwrap_or_default();
    let mut found = Vec::new();
    let shifts: Vec<SharedShift> =
        shifts.into_iter().filter(|shift| shift.is_notable() && now - shift.latest <= NEWS).collect();
    let decided = about_shifts(&tenant, (&shifts, latest.made_at), now).await?;
    for (shift, decided) in shifts.into_iter().zip(decided) {
        if decided.state != ShiftState::Closed {
            found.push(Notable { name: name(&tenant, &shift.by, now).await?, shift, decided });
        }
    }
    Ok(found)
}

async fn name(tenant: &Tenant<'_>, by: &SharedBy, now: DateTime<Utc>) -> Result<String> {
    let name = match by {
        SharedBy::Membrane(id) => {
            configuration::in_force::<Membrane>(tenant, *id, now).await?.map(|membrane| membrane.value.name)
        }
        SharedBy::Lot(id) => configuration::in_force::<Lot>(tenant, *id, now)
            .await?
            .map(|lot| format!("Lot {}", lot.value.code)),
        SharedBy::Day(site, date) => configuration::in_force::<Site>(tenant, *site, now)
            .await?
            .map(|site| format!("{}, {date}", site.value.name)),
    };
    Ok(name.unwrap_or_else(|| "No longer in the configuration".to_owned()))
}

/// Makes a fit from the trials of the last half year, unless the latest is younger than an hour: then that. Answers whether
/// it was made now.
///
/// # Errors
/// [`Error::Invalid`] when there are no trials; [`Error::Storage`].
pub async fn make(service: &Service, caller: &Principal, now: DateTime<Utc>) -> Result<(SharedFit, bool)> {
    let latest = in_force(service, caller).await?;
    if let Some(young) = latest.filter(|fit| now - fit.made_at < YOUNG) {
        return Ok((young, false));
    }
    let made = of_organization(service, caller.organization, now).await?;
    made.map(|fit| (fit, true)).ok_or_else(|| {
        Error::invalid("", "no_trials", "There are no trials to make a fit from. Send trials first.")
    })
}

/// Makes an organization's fit if one is due: the latest is a day old, and a trial was performed since. Answers whether
/// one was made.
///
/// # Errors
/// [`Error::Storage`].
pub async fn make_if_due(service: &Service, organization: Uuid, now: DateTime<Utc>) -> Result<bool> {
    let mut client = service.store.client().await?;
    let tenant = client.snapshot(organization).await?;
    let latest = store::latest(&tenant, 1).await?.pop();
    let since = latest.map_or(DateTime::UNIX_EPOCH, |fit| fit.made_at);
    let due = now - since >= EVERY && fits::have_been_performed(&tenant, 1, since).await?;
    drop(tenant);
    drop(client);
    Ok(due && of_organization(service, organization, now).await?.is_some())
}

/// Makes and keeps a fit; `None` without trials. No connection is held while it is made from what was gathered.
async fn of_organization(
    service: &Service,
    organization: Uuid,
    now: DateTime<Utc>,
) -> Result<Option<SharedFit>> {
    let mut client = service.store.client().await?;
    let gathered = {
        let tenant = client.snapshot(organization).await?;
        Gathered::load(&tenant, now).await?
    };
    drop(client);
    let Some(Gathered { made_from, evidence, zones }) = gathered else { return Ok(None) };
    let shared = tokio::task::spawn_blocking(move || Shared::of(evidence))
        .await
        .map_err(|error| Error::Internal(format!("a fit of what units share failed: {error}")))?;
    let days = days(&shared, &zones);
    let fit = SharedFit { id: Uuid::now_v7(), made_at: now, made_from, shared, days };
    let mut client = service.store.client().await?;
    let tenant = client.tenant(organization).await?;
    store::insert(&tenant, &fit).await?;
    store::forget_own(&tenant, now - OWN_KEPT).await?;
    change::append(&tenant, &[("shared_fit", fit.id)], now).await?;
    tenant.commit().await?;
    Ok(Some(fit))
}

/// Time zone of each site.
type Zones = HashMap<Uuid, Tz>;

/// What a fit is made from.
struct Gathered {
    made_from: MadeFrom,
    evidence: Vec<SharedEvidence>,
    zones: Zones,
}

impl Gathered {
    async fn load(tenant: &Tenant<'_>, now: DateTime<Utc>) -> Result<Option<Self>> {
        let sites = configuration::all_in_force::<Site>(tenant, now).await?;
        let zones: Zones = sites.into_iter().map(|site| (site.id, site.value.time_zone)).collect();
        let mut gathered = Self { made_from: from_nothing(now), evidence: Vec::new(), zones };
        for unit in derived::unit_states(tenant, None).await? {
            let Some(past) = Past::read(tenant, unit.unit_id, (now - REACH, now)).await? else { continue };
            past.count(&mut gathered.made_from);
            let settings: Vec<Setting> = past.history.iter().map(|row| gathered.setting(row)).collect();
            let told = past
                .boiled_down(move |told| SharedEvidence::of(told, &settings, &ChartSettings::default()))
                .await?;
            gathered.evidence.push(told);
        }
        Ok((gathered.made_from.trials > 0).then_some(gathered))
    }

    fn setting(&self, row: &HistoryRow) -> Setting {
        let site = row.site_id.and_then(|site| Some((site, *self.zones.get(&site)?)));
        let day = site.map(|(site, zone)| (site, row.ordered_at.with_timezone(&zone).date_naive()));
        Setting { day, ..sheets(row) }
    }
}

/// What a trial's sheets have in common with those of others.
fn sheets(row: &HistoryRow) -> Setting {
    let ([upper, lower], [upper_lot, lower_lot]) = (row.material.membranes, row.material.lots);
    Setting {
        membrane: (upper == lower).then_some(upper),
        lot: upper_lot.filter(|lot| lower_lot == Some(*lot)),
        day: None,
    }
}

/// When the days among the shifts begin and end.
fn days(shared: &Shared, zones: &Zones) -> Days {
    let day = |by: &SharedBy| match by {
        SharedBy::Day(site, date) => {
            let zone = *zones.get(site)?;
            Some(((*site, *date), (local_day_start(*date, zone), local_day_start(date.succ_opt()?, zone))))
        }
        SharedBy::Membrane(_) | SharedBy::Lot(_) => None,
    };
    shared.shifts.iter().filter_map(|shift| day(&shift.by)).collect()
}

/// What the fit in force takes off each trial of a unit.
///
/// # Errors
/// [`Error::Storage`].
pub(super) async fn offsets(
    tenant: &Tenant<'_>,
    unit: Uuid,
    history: &[HistoryRow],
    as_of: DateTime<Utc>,
) -> Result<Vec<Offsets>> {
    let subjects: BTreeSet<Uuid> = history
        .iter()
        .flat_map(|row| {
            let Setting { membrane, lot, .. } = sheets(row);
            [membrane, lot, row.site_id]
        })
        .flatten()
        .collect();
    let subjects: Vec<Uuid> = subjects.into_iter().collect();
    let fit = store::for_unit(tenant, unit, &subjects, as_of).await?;
    Ok(history
        .iter()
        .map(|row| fit.as_ref().map_or_else(Offsets::default, |fit| taken_off(fit, unit, row)))
        .collect())
}

/// What the fit in force says of sheets that a unit is about to weld. Those of the products of its latest trial are taken to
/// be of the same run.
///
/// # Errors
/// [`Error::Storage`].
pub(super) async fn on_sheets(
    tenant: &Tenant<'_>,
    facts: &UnitFacts,
    conditions: &StartConditions,
    class: MaterialClass,
    as_of: DateTime<Utc>,
) -> Result<Offsets> {
    let asked = [conditions.upper_membrane_id, conditions.lower_membrane_id];
    let last = facts.history.last().map(sheets).unwrap_or_default();
    let membrane = (asked[0] == asked[1]).then_some(asked[0]);
    let setting = Setting { membrane, lot: last.lot.filter(|_| last.membrane == membrane), day: None };
    let subjects: Vec<Uuid> = [setting.membrane, setting.lot].into_iter().flatten().collect();
    let fit = store::for_unit(tenant, facts.id, &subjects, as_of).await?;
    Ok(fit.map_or_else(Offsets::default, |fit| fit.shared.offsets(facts.id, class, &setting)))
}

fn taken_off(fit: &SharedFit, unit: Uuid, row: &HistoryRow) -> Offsets {
    let on = |((site, _), (starts, ends)): &(&(Uuid, _), &(DateTime<Utc>, DateTime<Utc>))| {
        row.site_id == Some(*site) && (*starts..*ends).contains(&row.ordered_at)
    };
    let day = fit.days.iter().find(on).map(|(day, _)| *day);
    fit.shared.offsets(unit, row.material_class, &Setting { day, ..sheets(row) })
}
