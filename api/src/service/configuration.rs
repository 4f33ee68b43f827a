//! Sites, crews, membranes, lots, units, criteria and policy.

use chrono::{DateTime, Utc};
use uuid::Uuid;

use super::{ChartCache, Error, Result, Service, change, derive, open, open_to_read};
use crate::model::{
    Crew, CriteriaException, CriteriaSet, Lot, Membrane, Policy, Principal, Site, Unit, Version,
};
use crate::storage::configuration::{self as store, Subject};
use crate::storage::{self, Tenant};

/// What a kind of subject refers to, and what its new version sets off.
pub trait Kept: Subject {
    /// Checks that everything the version names is there.
    ///
    /// # Errors
    /// [`Error::Invalid`] with the pointer of the id that is not; [`Error::Storage`].
    #[expect(async_fn_in_trait, reason = "only this crate implements and calls it, on one thread")]
    async fn check(&self, tenant: &Tenant<'_>, at: DateTime<Utc>) -> Result<()>;

    /// What follows from a new version of `id`.
    ///
    /// # Errors
    /// [`Error::Storage`].
    #[expect(async_fn_in_trait, reason = "only this crate implements and calls it, on one thread")]
    async fn follow(
        _tenant: &Tenant<'_>,
        _charts: &ChartCache,
        _id: Uuid,
        _now: DateTime<Utc>,
    ) -> Result<()> {
        Ok(())
    }
}

impl Kept for Site {
    async fn check(&self, _tenant: &Tenant<'_>, _at: DateTime<Utc>) -> Result<()> {
        Ok(())
    }
}

impl Kept for Crew {
    async fn check(&self, tenant: &Tenant<'_>, at: DateTime<Utc>) -> Result<()> {
        known::<Site>(tenant, "/site_id", self.site_id, at).await.map(drop)
    }
}

impl Kept for Membrane {
    async fn check(&self, _tenant: &Tenant<'_>, _at: DateTime<Utc>) -> Result<()> {
        Ok(())
    }
}

impl Kept for Lot {
    async fn check(&self, tenant: &Tenant<'_>, at: DateTime<Utc>) -> Result<()> {
        known::<Membrane>(tenant, "/membrane_id", self.membrane_id, at).await.map(drop)
    }
}

impl Kept for Unit {
    async fn check(&self, tenant: &Tenant<'_>, at: DateTime<Utc>) -> Result<()> {
        known_if_named::<Crew>(tenant, "/crew_id", self.crew_id, at).await
    }

    async fn follow(tenant: &Tenant<'_>, charts: &ChartCache, id: Uuid, now: DateTime<Utc>) -> Result<()> {
        storage::derived::ensure_unit_state(tenant, id).await?;
        derive::units(tenant, charts, &[id], now).await
    }
}

impl Kept for CriteriaException {
    async fn check(&self, tenant: &Tenant<'_>, at: DateTime<Utc>) -> Result<()> {
        known_if_named::<Site>(tenant, "/site_id", self.site_id, at).await?;
        known_if_named::<Membrane>(tenant, "/membrane_id", self.membrane_id, at).await
    }
}

/// The subject of kind `T` that a member names.
///
/// # Errors
/// [`Error::Invalid`] when there is none; [`Error::Storage`].
pub(super) async fn known<T: Subject>(
    tenant: &Tenant<'_>,
    pointer: &str,
    id: Uuid,
    at: DateTime<Utc>,
) -> Result<Version<T>> {
    let found = store::in_force::<T>(tenant, id, at).await?;
    found.ok_or_else(|| Error::invalid(pointer, "unknown_id", unknown::<T>(id)))
}

/// What a caller is told of an id under which there is nothing.
pub(super) fn unknown<T: Subject>(id: Uuid) -> String {
    format!("No {} of this organization has the id {id}. Add it first, or correct the id.", T::NAME)
}

/// As [`known`], where the member may be absent.
///
/// # Errors
/// As [`known`].
pub(super) async fn known_if_named<T: Subject>(
    tenant: &Tenant<'_>,
    pointer: &str,
    id: Option<Uuid>,
    at: DateTime<Utc>,
) -> Result<()> {
    match id {
        Some(id) => known::<T>(tenant, pointer, id, at).await.map(drop),
        None => Ok(()),
    }
}

/// Adds a version of a subject; `expected` says whether the subject must be there already. Answers whether it is new.
///
/// # Errors
/// [`Error::NotFound`] when a version of an unknown subject was meant; [`Error::Invalid`]; [`Error::Storage`].
pub async fn put<T: Kept>(
    service: &Service,
    caller: &Principal,
    version: &Version<T>,
    expected: bool,
    now: DateTime<Utc>,
) -> Result<bool> {
    let mut client = service.store.client().await?;
    let tenant = open(&mut client, caller).await?;
    let there = store::in_force::<T>(&tenant, version.id, version.effective_from).await?.is_some();
    if expected && !there {
        return Err(Error::NotFound(T::NAME));
    }
    version.value.check(&tenant, version.effective_from).await?;
    store::insert(&tenant, version, now).await?;
    T::follow(&tenant, &service.charts, version.id, now).await?;
    change::append(&tenant, &[(T::KIND, version.id)], now).await?;
    tenant.commit().await?;
    Ok(!there)
}

/// The version of a subject in force now.
///
/// # Errors
/// [`Error::NotFound`]; [`Error::Storage`].
pub async fn get<T: Subject>(
    service: &Service,
    caller: &Principal,
    id: Uuid,
    now: DateTime<Utc>,
) -> Result<Version<T>> {
    let mut client = service.store.client().await?;
    let tenant = open_to_read(&mut client, caller).await?;
    store::in_force(&tenant, id, now).await?.ok_or(Error::NotFound(T::NAME))
}

/// The version in force now of every subject of a kind.
///
/// # Errors
/// [`Error::Storage`].
pub async fn list<T: Subject>(
    service: &Service,
    caller: &Principal,
    now: DateTime<Utc>,
) -> Result<Vec<Version<T>>> {
    let mut client = service.store.client().await?;
    let tenant = open_to_read(&mut client, caller).await?;
    Ok(store::all_in_force(&tenant, now).await?)
}

/// The criteria in force now, with the time they came into force.
///
/// # Errors
/// [`Error::Storage`].
pub async fn criteria(
    service: &Service,
    caller: &Principal,
    now: DateTime<Utc>,
) -> Result<(DateTime<Utc>, CriteriaSet)> {
    let mut client = service.store.client().await?;
    let tenant = open_to_read(&mut client, caller).await?;
    Ok(store::criteria(&tenant, now).await?)
}

/// Adds a version of the criteria.
///
/// # Errors
/// [`Error::Storage`].
pub async fn put_criteria(
    service: &Service,
    caller: &Principal,
    effective_from: DateTime<Utc>,
    criteria: &CriteriaSet,
    now: DateTime<Utc>,
) -> Result<()> {
    let mut client = service.store.client().await?;
    let tenant = open(&mut client, caller).await?;
    store::insert_criteria(&tenant, criteria, effective_from, now).await?;
    change::append(&tenant, &[("criteria", caller.organization)], now).await?;
    Ok(tenant.commit().await?)
}

/// The policy in force now, with the time it came into force.
///
/// # Errors
/// [`Error::Storage`].
pub async fn policy(
    service: &Service,
    caller: &Principal,
    now: DateTime<Utc>,
) -> Result<(DateTime<Utc>, Policy)> {
    let mut client = service.store.client().await?;
    let tenant = open_to_read(&mut client, caller).await?;
    Ok(store::policy(&tenant, now).await?)
}

/// Adds a version of the policy.
///
/// # Errors
/// [`Error::Storage`].
pub async fn put_policy(
    service: &Service,
    caller: &Principal,
    effective_from: DateTime<Utc>,
    policy: &Policy,
    now: DateTime<Utc>,
) -> Result<()> {
    let mut client = service.store.client().await?;
    let tenant = open(&mut client, caller).await?;
    store::insert_policy(&tenant, policy, effective_from, now).await?;
    change::append(&tenant, &[("policy", caller.organization)], now).await?;
    Ok(tenant.commit().await?)
}
