//! Day events and seam checks: how they are checked, kept and followed up.

use chrono::{DateTime, Utc};
use futures_util::TryFutureExt;
use tokio::try_join;
use uuid::Uuid;

use super::configuration::{known, known_if_named};
use super::reach::Reach;
use super::records::{Event, check_unit, require_crew, units_of};
use super::{Error, Result, Service, derive, open_to_read};
use crate::model::{Crew, DayEvent, Lot, Membrane, Principal, SeamCheck, Unit};
use crate::storage::{Tenant, records as store};

impl Event for DayEvent {
    async fn check(&self, tenant: &Tenant<'_>, caller: &Principal, now: DateTime<Utc>) -> Result<()> {
        require_crew(caller, Some(self.crew_id))?;
        try_join!(
            known::<Crew>(tenant, "/crew_id", self.crew_id, now).map_ok(drop),
            known_if_named::<Unit>(tenant, "/unit_id", self.unit_id, now),
            known_if_named::<Membrane>(tenant, "/membrane_id", self.membrane_id, now),
            known_if_named::<Lot>(tenant, "/lot_id", self.lot_id, now),
        )?;
        Ok(())
    }

    async fn keep(&self, tenant: &Tenant<'_>, _caller: &Principal) -> Result<()> {
        Ok(store::insert_day_event(tenant, self).await?)
    }

    /// The unit it names, or those the crew has. None when it lies before anything that is still scheduled.
    async fn bears_on(&self, tenant: &Tenant<'_>, now: DateTime<Utc>) -> Result<Vec<Uuid>> {
        match self.unit_id {
            _ if self.at < now - derive::LOOK_BACK => Ok(Vec::new()),
            Some(unit) => Ok(vec![unit]),
            None => units_of(tenant, self.crew_id, now).await,
        }
    }
}

impl Event for SeamCheck {
    async fn check(&self, tenant: &Tenant<'_>, caller: &Principal, now: DateTime<Utc>) -> Result<()> {
        check_unit(tenant, caller, self.unit_id, now).await?;
        match store::unit_of_span(tenant, self.span_id).await? {
            Some(unit) if unit == self.unit_id => Ok(()),
            Some(_) => {
                let detail = "The span was welded with another unit; name that one.";
                Err(Error::invalid("/unit_id", "wrong_unit", detail))
            }
            None => {
                let detail = format!(
                    "No production span of this organization has the id {}. Send it first, or correct the id.",
                    self.span_id
                );
                Err(Error::invalid("/span_id", "unknown_id", detail))
            }
        }
    }

    async fn keep(&self, tenant: &Tenant<'_>, _caller: &Principal) -> Result<()> {
        Ok(store::insert_seam_check(tenant, self).await?)
    }

    /// None: what is suspect is worked out when it is read.
    async fn bears_on(&self, _tenant: &Tenant<'_>, _now: DateTime<Utc>) -> Result<Vec<Uuid>> {
        Ok(Vec::new())
    }
}

/// Day events of a crew, or of all, from a time on.
///
/// # Errors
/// [`Error::Storage`].
pub async fn day_events(
    service: &Service,
    caller: &Principal,
    crew: Option<Uuid>,
    from: DateTime<Utc>,
) -> Result<Vec<DayEvent>> {
    let mut client = service.store.client().await?;
    let tenant = open_to_read(&mut client, caller).await?;
    Ok(store::day_events(&tenant, caller.crew.or(crew), from).await?)
}

/// Seam checks of a unit's spans, or of all, from a time on.
///
/// # Errors
/// [`Error::Storage`].
pub async fn seam_checks(
    service: &Service,
    caller: &Principal,
    unit: Option<Uuid>,
    from: DateTime<Utc>,
    now: DateTime<Utc>,
) -> Result<Vec<SeamCheck>> {
    let mut client = service.store.client().await?;
    let tenant = open_to_read(&mut client, caller).await?;
    let reach = Reach::of(&tenant, caller, now).await?;
    Ok(reach.only(store::seam_checks(&tenant, unit, from).await?, |check| check.unit_id))
}
