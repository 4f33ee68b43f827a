//! Which units a caller sees.

use std::collections::HashSet;

use chrono::{DateTime, Utc};
use uuid::Uuid;

use super::{Error, Result};
use crate::model::{Principal, Unit, Version};
use crate::storage::{Tenant, configuration};

/// The units whose histories, standings, flags and events a caller sees: all, or those that its crew has now.
pub(super) enum Reach {
    /// The caller acts for the organization.
    All,
    /// The caller acts for one crew, which has these.
    Units(HashSet<Uuid>),
}

impl Reach {
    /// What `caller` reaches at `now`.
    pub async fn of(tenant: &Tenant<'_>, caller: &Principal, now: DateTime<Utc>) -> Result<Self> {
        if caller.crew.is_none() {
            return Ok(Self::All);
        }
        let units = configuration::all_in_force::<Unit>(tenant, now).await?;
        let its = |unit: &Version<Unit>| unit.value.crew_id == caller.crew;
        Ok(Self::Units(units.into_iter().filter(its).map(|unit| unit.id).collect()))
    }

    /// What the caller sees of `items`, each about one unit.
    pub fn only<T>(&self, mut items: Vec<T>, unit: impl Fn(&T) -> Uuid) -> Vec<T> {
        if let Self::Units(units) = self {
            items.retain(|item| units.contains(&unit(item)));
        }
        items
    }
}

/// The unit in force, if the caller sees it.
pub(super) async fn unit(
    tenant: &Tenant<'_>,
    caller: &Principal,
    id: Uuid,
    now: DateTime<Utc>,
) -> Result<Version<Unit>> {
    configuration::in_force::<Unit>(tenant, id, now)
        .await?
        .filter(|unit| caller.acts_for(unit.value.crew_id))
        .ok_or(Error::NotFound("unit"))
}
