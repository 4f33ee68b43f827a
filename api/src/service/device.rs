//! What a crew's phone has to know before it goes up on the roof, from one moment, with the place in the feed from where to go
//! on.

use chrono::{DateTime, Utc};
use uuid::Uuid;

use super::fleet::{FleetRow, rows};
use super::{Error, Result, Service, open_to_read};
use crate::model::{
    Crew, CriteriaException, CriteriaSet, Lot, Membrane, Place, Policy, Principal, Scope, Site, Unit, Version,
};
use crate::storage::configuration::{self, Subject};
use crate::storage::derived::{Recheck, pending_rechecks};
use crate::storage::{Tenant, changes};

/// What was so at one moment.
#[derive(Debug)]
pub struct Snapshot {
    /// The end of the change feed at that moment.
    pub place: Place,
    /// When some configuration comes into force that is known already.
    pub fresh_until: Option<DateTime<Utc>>,
    /// The crew; `None` for the whole organization.
    pub crew: Option<Version<Crew>>,
    /// Its site, or all.
    pub sites: Vec<Version<Site>>,
    /// Its units, by label.
    pub units: Vec<FleetRow>,
    /// Their rechecks that wait for a trial, the latest due first.
    pub rechecks: Vec<Recheck>,
    /// Every membrane in use.
    pub membranes: Vec<Version<Membrane>>,
    /// Every lot in use.
    pub lots: Vec<Version<Lot>>,
    /// Exceptions to the criteria that may hold at the sites.
    pub exceptions: Vec<Version<CriteriaException>>,
    /// The criteria, and since when.
    pub criteria: (DateTime<Utc>, CriteriaSet),
    /// The policy, and since when.
    pub policy: (DateTime<Utc>, Policy),
}

/// What a caller reads in one of these.
const SCOPES: [Scope; 3] = [Scope::UnitsRead, Scope::RechecksRead, Scope::ConfigurationRead];

/// The snapshot of a crew, or of the organization.
///
/// # Errors
/// [`Error::MissingScope`]; [`Error::OtherCrew`]; [`Error::NotFound`] for the crew; [`Error::Storage`].
pub async fn snapshot(
    service: &Service,
    caller: &Principal,
    crew: Option<Uuid>,
    now: DateTime<Utc>,
) -> Result<Snapshot> {
    if let Some(missing) = SCOPES.iter().find(|scope| !caller.scopes.contains(scope)) {
        return Err(Error::MissingScope(missing.code()));
    }
    if crew.is_some() && !caller.acts_for(crew) {
        return Err(Error::OtherCrew);
    }
    let mut client = service.store.client().await?;
    let tenant = open_to_read(&mut client, caller).await?;
    let crew = match caller.crew.or(crew) {
        Some(id) => {
            Some(configuration::in_force::<Crew>(&tenant, id, now).await?.ok_or(Error::NotFound("crew"))?)
        }
        None => None,
    };
    let its = |unit: &Version<Unit>| crew.as_ref().is_none_or(|crew| unit.value.crew_id == Some(crew.id));
    let units = rows(&tenant, its, now).await?;
    let has = |id: Uuid| units.iter().any(|row| row.unit.id == id);
    let mut rechecks = pending_rechecks(&tenant).await?;
    rechecks.retain(|recheck| has(recheck.unit_id));
    let mut sites = in_use::<Site>(&tenant, now).await?;
    sites.retain(|site| crew.as_ref().is_none_or(|crew| crew.value.site_id == site.id));
    Ok(Snapshot {
        place: changes::head(&tenant).await?,
        fresh_until: configuration::next_in_force(&tenant, now).await?,
        sites,
        rechecks,
        membranes: in_use(&tenant, now).await?,
        lots: in_use(&tenant, now).await?,
        exceptions: in_use(&tenant, now).await?,
        criteria: configuration::criteria(&tenant, now).await?,
        policy: configuration::policy(&tenant, now).await?,
        crew,
        units,
    })
}

async fn in_use<T: Subject>(tenant: &Tenant<'_>, now: DateTime<Utc>) -> Result<Vec<Version<T>>> {
    let mut all = configuration::all_in_force::<T>(tenant, now).await?;
    all.retain(|version| !version.retired);
    Ok(all)
}
