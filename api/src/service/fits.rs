//! Fits of the fleet: how alike strips are, how much they scatter, what share of the heat a sheet takes on, how fast welders fade, as the
//! organization's own trials tell it.
//!
//! A fit is made once a week by a job, or when somebody asks. It is kept for ever, with its date, and holds for trials
//! performed 25 hours after it or later ([`FleetFit::HOLDS_AFTER`]): a trial is judged by what was known then, whenever it
//! arrives. Charts start from the fit that holds at present.

use chrono::{DateTime, TimeDelta, Utc};
use lapwatch_domain::drift::ChartSettings;
use lapwatch_domain::fleet::{
    FadeEvidence, Fades, Fit, MadeFrom, Spread, Surface, SurfaceEvidence, TrialSteps, UnitHistory,
};
use uuid::Uuid;

use super::past::{Past, from_nothing};
use super::reach::Reach;
use super::{Error, Result, Service, change, open_to_read};
use crate::model::{FleetFit, Principal};
use crate::storage::fits::{self as store, JudgedSteps};
use crate::storage::{Tenant, derived};

/// How often the job makes one.
const EVERY: TimeDelta = TimeDelta::days(7);

/// The job makes none unless at least so many trials were performed since the last.
const WORTH_IT: i64 = 30;

/// A fit looks back over two years of trials: sheets, crews and machines change.
const REACH: TimeDelta = TimeDelta::days(730);

/// A fit that is younger is answered instead of making another.
const YOUNG: TimeDelta = TimeDelta::hours(1);

/// The latest fits, without the shares of units.
///
/// # Errors
/// [`Error::Storage`].
pub async fn latest(service: &Service, caller: &Principal, limit: i64) -> Result<Vec<FleetFit>> {
    let mut client = service.store.client().await?;
    let tenant = open_to_read(&mut client, caller).await?;
    Ok(store::latest(&tenant, limit).await?)
}

/// One fit; a caller that acts for one crew sees the shares of its own units.
///
/// # Errors
/// [`Error::NotFound`]; [`Error::Storage`].
pub async fn get(service: &Service, caller: &Principal, id: Uuid, now: DateTime<Utc>) -> Result<FleetFit> {
    let mut client = service.store.client().await?;
    let tenant = open_to_read(&mut client, caller).await?;
    let mut found = store::fit(&tenant, id).await?.ok_or(Error::NotFound("fleet fit"))?;
    let reach = Reach::of(&tenant, caller, now).await?;
    let surface = &mut found.fit.surface;
    surface.units = reach.only(std::mem::take(&mut surface.units), |unit| unit.unit);
    Ok(found)
}

/// Makes a fit from the trials there are, unless the latest is younger than an hour: then that. Answers whether it was
/// made now.
///
/// # Errors
/// [`Error::Invalid`] when there are no trials; [`Error::Storage`].
pub async fn make(service: &Service, caller: &Principal, now: DateTime<Utc>) -> Result<(FleetFit, bool)> {
    let mut client = service.store.client().await?;
    let tenant = open_to_read(&mut client, caller).await?;
    let latest = store::latest(&tenant, 1).await?.pop();
    if let Some(young) = latest.filter(|fit| now - fit.made_at < YOUNG) {
        return Ok((young, false));
    }
    drop(tenant);
    drop(client);
    let made = of_organization(service, caller.organization, now).await?;
    made.map(|fit| (fit, true)).ok_or_else(|| {
        Error::invalid("", "no_trials", "There are no trials to make a fit from. Send trials first.")
    })
}

/// Makes an organization's fit if one is due: the latest is a week old, and enough trials were performed since. Answers
/// whether one was made.
///
/// # Errors
/// [`Error::Storage`].
pub async fn make_if_due(service: &Service, organization: Uuid, now: DateTime<Utc>) -> Result<bool> {
    Ok(is_due(service, organization, now).await?
        && of_organization(service, organization, now).await?.is_some())
}

async fn is_due(service: &Service, organization: Uuid, now: DateTime<Utc>) -> Result<bool> {
    let mut client = service.store.client().await?;
    let tenant = client.snapshot(organization).await?;
    let latest = store::latest(&tenant, 1).await?.pop();
    let since = latest.map_or(DateTime::UNIX_EPOCH, |fit| fit.made_at);
    Ok(now - since >= EVERY && store::have_been_performed(&tenant, WORTH_IT, since).await?)
}

/// Makes and keeps a fit; `None` without trials. A connection is held while histories are read, each of which is
/// boiled down before the next, and none while the fit is made from what is left of them.
async fn of_organization(
    service: &Service,
    organization: Uuid,
    now: DateTime<Utc>,
) -> Result<Option<FleetFit>> {
    let mut client = service.store.client().await?;
    let gathered = {
        let tenant = client.snapshot(organization).await?;
        Gathered::load(&tenant, now).await?
    };
    drop(client);
    let Some(gathered) = gathered else { return Ok(None) };
    let fit = tokio::task::spawn_blocking(move || gathered.fit())
        .await
        .map_err(|error| Error::Internal(format!("a fit of the fleet failed: {error}")))?;
    let fit = FleetFit { id: Uuid::now_v7(), made_at: now, effective_from: now + FleetFit::HOLDS_AFTER, fit };
    let mut client = service.store.client().await?;
    let tenant = client.tenant(organization).await?;
    store::insert(&tenant, &fit).await?;
    change::append(&tenant, &[("fleet_fit", fit.id)], now).await?;
    tenant.commit().await?;
    Ok(Some(fit))
}

/// What a fit is made from: of each unit, what is left of its history once its profiles have been read.
struct Gathered {
    made_from: MadeFrom,
    steps: Vec<JudgedSteps>,
    surface: Vec<SurfaceEvidence>,
    fades: Vec<FadeEvidence>,
}

impl Gathered {
    async fn load(tenant: &Tenant<'_>, now: DateTime<Utc>) -> Result<Option<Self>> {
        let mut gathered =
            Self { made_from: from_nothing(now), steps: Vec::new(), surface: Vec::new(), fades: Vec::new() };
        for unit in derived::unit_states(tenant, None).await? {
            gathered.add(tenant, unit.unit_id, now).await?;
        }
        Ok((gathered.made_from.trials > 0).then_some(gathered))
    }

    async fn add(&mut self, tenant: &Tenant<'_>, unit: Uuid, now: DateTime<Utc>) -> Result<()> {
        let since = now - REACH;
        let Some(past) = Past::read(tenant, unit, (since, now)).await? else { return Ok(()) };
        past.count(&mut self.made_from);
        self.steps.extend(store::searches(tenant, unit, (since, now)).await?);
        let boil = |told: &UnitHistory<'_>| {
            let settings = ChartSettings::default();
            (SurfaceEvidence::of(told, &settings), FadeEvidence::of(told, &settings))
        };
        let (surface, fades) = past.boiled_down(boil).await?;
        self.surface.push(surface);
        self.fades.push(fades);
        Ok(())
    }

    fn fit(self) -> Fit {
        let steps = self.steps.iter().map(|trial| TrialSteps {
            unit: trial.unit,
            purpose: trial.purpose,
            steps: &trial.steps,
        });
        Fit {
            made_from: self.made_from,
            spread: Spread::fit(steps),
            surface: Surface::of(self.surface),
            fades: Fades::of(self.fades),
        }
    }
}
