//! What is given out as tables, a page at a time: each page is read by itself, so that none keeps a transaction or the whole in
//! memory, and what arrives while a table is read may or may not be in it.

use std::collections::HashMap;

use chrono::{DateTime, Utc};
use uuid::Uuid;

use super::{Error, Result, Service, open_to_read};
use crate::model::{Crew, Principal, Unit};
use crate::storage::configuration::all_in_force;
use crate::storage::derived::{self, Recheck, RecheckFilter};
use crate::storage::records::{self as store, TrialFilter, TrialRow};
use crate::wire;

/// What units and crews are called.
#[derive(Debug, Default)]
pub struct Names {
    units: HashMap<Uuid, String>,
    crews: HashMap<Uuid, String>,
}

impl Names {
    /// What is painted on a unit.
    pub fn unit(&self, id: Uuid) -> Option<&str> {
        self.units.get(&id).map(String::as_str)
    }

    /// The name of a crew.
    pub fn crew(&self, id: Uuid) -> Option<&str> {
        self.crews.get(&id).map(String::as_str)
    }
}

/// Today's names of units and crews.
///
/// # Errors
/// [`Error::Storage`].
pub async fn names(service: &Service, caller: &Principal, now: DateTime<Utc>) -> Result<Names> {
    let mut client = service.store.client().await?;
    let tenant = open_to_read(&mut client, caller).await?;
    let units = all_in_force::<Unit>(&tenant, now).await?;
    let crews = all_in_force::<Crew>(&tenant, now).await?;
    Ok(Names {
        units: units.into_iter().map(|unit| (unit.id, unit.value.label)).collect(),
        crews: crews.into_iter().map(|crew| (crew.id, crew.value.name)).collect(),
    })
}

/// A trial with its record as it was sent.
#[derive(Debug)]
pub struct ExportedTrial {
    /// What is kept of it.
    pub row: TrialRow,
    /// The record.
    pub record: wire::trial::Trial,
}

/// A page of records ends behind so many bytes of them, however many they are: one that carries much takes little memory all the same.
const PAGE_BYTES: usize = 4 * 1024 * 1024;

/// A page of trials, the latest first, and whether it was the last; a caller that acts for one crew gets its own.
///
/// # Errors
/// [`Error::Storage`].
pub async fn trials(
    service: &Service,
    caller: &Principal,
    filter: &TrialFilter,
) -> Result<(Vec<ExportedTrial>, bool)> {
    let mut client = service.store.client().await?;
    let tenant = open_to_read(&mut client, caller).await?;
    let filter = TrialFilter { crew_id: caller.crew.or(filter.crew_id), ..filter.clone() };
    let mut rows = store::trials(&tenant, &filter).await?;
    let mut ids: Vec<Uuid> = rows.iter().map(|row| row.id).collect();
    let mut last = i64::try_from(rows.len()).is_ok_and(|found| found < filter.limit);
    let sizes = store::sizes_of(&tenant, &ids).await?;
    let mut before = 0;
    let beyond = ids.iter().position(|id| {
        let full = before >= PAGE_BYTES;
        before += sizes.get(id).copied().unwrap_or_default();
        full
    });
    if let Some(beyond) = beyond {
        rows.truncate(beyond);
        ids.truncate(beyond);
        last = false;
    }
    let mut bytes = store::bytes_of(&tenant, &ids).await?;
    let page: Result<Vec<ExportedTrial>> = rows
        .into_iter()
        .map(|row| {
            let bytes = bytes.remove(&row.id).unwrap_or_default();
            let record = wire::parse(&bytes)
                .map_err(|error| Error::Internal(format!("a stored trial cannot be parsed: {error:?}")))?;
            Ok(ExportedTrial { row, record })
        })
        .collect();
    Ok((page?, last))
}

/// The units whose histories a caller sees, or the one among them that is asked for, in order of label.
///
/// # Errors
/// [`Error::Storage`].
pub async fn units(
    service: &Service,
    caller: &Principal,
    only: Option<Uuid>,
    now: DateTime<Utc>,
) -> Result<Vec<Uuid>> {
    let mut client = service.store.client().await?;
    let tenant = open_to_read(&mut client, caller).await?;
    let mut units = all_in_force::<Unit>(&tenant, now).await?;
    units.retain(|unit| caller.acts_for(unit.value.crew_id) && only.is_none_or(|only| only == unit.id));
    units.sort_by(|a, b| (&a.value.label, a.id).cmp(&(&b.value.label, b.id)));
    Ok(units.into_iter().map(|unit| unit.id).collect())
}

/// The rechecks of a unit, the latest due first; a caller that acts for one crew gets its own.
///
/// # Errors
/// [`Error::Storage`].
pub async fn rechecks(
    service: &Service,
    caller: &Principal,
    unit: Uuid,
    now: DateTime<Utc>,
) -> Result<Vec<Recheck>> {
    let mut client = service.store.client().await?;
    let tenant = open_to_read(&mut client, caller).await?;
    let filter = RecheckFilter { unit_id: Some(unit), crew_id: caller.crew, ..RecheckFilter::default() };
    Ok(derived::rechecks(&tenant, filter, now).await?)
}
