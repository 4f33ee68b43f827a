//! Sites, crews, membranes, lots, units, criteria and policy.

use chrono::{DateTime, Utc};
use uuid::Uuid;

use super::{ChartCache, Error, Result, Service, change, derive, keyed, open, open_to_read};
use crate::model::{
    Crew, CriteriaException, CriteriaSet, KeyedRequest, Lot, Made, Membrane, Policy, Principal, Revision,
    Site, Unit, Version,
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

/// A change that is to follow a revision: looked at before anything is stored, and again at the end, when the organization's
/// place in the change feed is held and no other change of configuration can come between.
struct Following<'s> {
    name: &'static str,
    since: Option<&'s [Revision]>,
    before: Revision,
}

impl<'s> Following<'s> {
    fn begin(name: &'static str, since: Option<&'s [Revision]>, before: Revision) -> Result<Self> {
        if since.is_some_and(|since| !since.contains(&before)) {
            return Err(Error::Stale(name));
        }
        Ok(Self { name, since, before })
    }

    fn end(self, after: Revision) -> Result<Revision> {
        if self.since.is_some() && after.versions != self.before.versions + 1 {
            return Err(Error::Stale(self.name));
        }
        Ok(after)
    }
}

/// Adds a subject, or a version of one that is there. Where the same keyed request came before, stores nothing and answers
/// what it made then.
///
/// # Errors
/// [`Error::Invalid`]; [`Error::KeyReused`]; [`Error::Storage`].
pub async fn add<T: Kept>(
    service: &Service,
    caller: &Principal,
    version: &Version<T>,
    request: Option<&KeyedRequest>,
    now: DateTime<Utc>,
) -> Result<Option<Made>> {
    let mut client = service.store.client().await?;
    let tenant = open(&mut client, caller).await?;
    let before = keyed::claim(&tenant, caller, request, version.id, now).await?;
    if before.is_none() {
        put(&tenant, service, version, now).await?;
        tenant.commit().await?;
    }
    Ok(before)
}

/// Adds a version of a subject that is there; if `since` is given, only while it stands at one of those revisions. Answers
/// where it stands now.
///
/// # Errors
/// [`Error::NotFound`]; [`Error::Stale`] when it has moved on; [`Error::Invalid`]; [`Error::Storage`].
pub async fn change<T: Kept>(
    service: &Service,
    caller: &Principal,
    version: &Version<T>,
    since: Option<&[Revision]>,
    now: DateTime<Utc>,
) -> Result<Revision> {
    let mut client = service.store.client().await?;
    let tenant = open(&mut client, caller).await?;
    let (_, before) = get_in::<T>(&tenant, version.id, now).await?;
    let following = Following::begin(T::NAME, since, before)?;
    put(&tenant, service, version, now).await?;
    let (_, after) = get_in::<T>(&tenant, version.id, now).await?;
    let after = following.end(after)?;
    tenant.commit().await?;
    Ok(after)
}

async fn put<T: Kept>(
    tenant: &Tenant<'_>,
    service: &Service,
    version: &Version<T>,
    now: DateTime<Utc>,
) -> Result<()> {
    version.value.check(tenant, version.effective_from).await?;
    store::insert(tenant, version, now).await?;
    T::follow(tenant, &service.charts, version.id, now).await?;
    change::append(tenant, &[(T::KIND, version.id)], now).await
}

async fn get_in<T: Subject>(
    tenant: &Tenant<'_>,
    id: Uuid,
    now: DateTime<Utc>,
) -> Result<(Version<T>, Revision)> {
    let versions = store::versions::<T>(tenant, id).await?;
    let version = store::in_force::<T>(tenant, id, now).await?.ok_or(Error::NotFound(T::NAME))?;
    let revision = Revision { versions, in_force_from: version.effective_from };
    Ok((version, revision))
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
) -> Result<(Version<T>, Revision)> {
    let mut client = service.store.client().await?;
    let tenant = open_to_read(&mut client, caller).await?;
    get_in(&tenant, id, now).await
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

/// The criteria in force now.
///
/// # Errors
/// [`Error::Storage`].
pub async fn criteria(
    service: &Service,
    caller: &Principal,
    now: DateTime<Utc>,
) -> Result<(CriteriaSet, Revision)> {
    let mut client = service.store.client().await?;
    let tenant = open_to_read(&mut client, caller).await?;
    criteria_in(&tenant, now).await
}

async fn criteria_in(tenant: &Tenant<'_>, now: DateTime<Utc>) -> Result<(CriteriaSet, Revision)> {
    let versions = store::criteria_versions(tenant).await?;
    let (in_force_from, criteria) = store::criteria(tenant, now).await?;
    Ok((criteria, Revision { versions, in_force_from }))
}

/// Adds a version of the criteria; if `since` is given, only while they stand at one of those revisions. Answers where they
/// stand now.
///
/// # Errors
/// [`Error::Stale`] when they have moved on; [`Error::Storage`].
pub async fn put_criteria(
    service: &Service,
    caller: &Principal,
    (effective_from, criteria): (DateTime<Utc>, &CriteriaSet),
    since: Option<&[Revision]>,
    now: DateTime<Utc>,
) -> Result<Revision> {
    let mut client = service.store.client().await?;
    let tenant = open(&mut client, caller).await?;
    let following = Following::begin("criteria", since, criteria_in(&tenant, now).await?.1)?;
    store::insert_criteria(&tenant, criteria, effective_from, now).await?;
    change::append(&tenant, &[("criteria", caller.organization)], now).await?;
    let after = following.end(criteria_in(&tenant, now).await?.1)?;
    tenant.commit().await?;
    Ok(after)
}

/// The policy in force now.
///
/// # Errors
/// [`Error::Storage`].
pub async fn policy(service: &Service, caller: &Principal, now: DateTime<Utc>) -> Result<(Policy, Revision)> {
    let mut client = service.store.client().await?;
    let tenant = open_to_read(&mut client, caller).await?;
    policy_in(&tenant, now).await
}

async fn policy_in(tenant: &Tenant<'_>, now: DateTime<Utc>) -> Result<(Policy, Revision)> {
    let versions = store::policy_versions(tenant).await?;
    let (in_force_from, policy) = store::policy(tenant, now).await?;
    Ok((policy, Revision { versions, in_force_from }))
}

/// Adds a version of the policy; if `since` is given, only while it stands at one of those revisions. Answers where it stands
/// now.
///
/// # Errors
/// [`Error::Stale`] when it has moved on; [`Error::Storage`].
pub async fn put_policy(
    service: &Service,
    caller: &Principal,
    (effective_from, policy): (DateTime<Utc>, &Policy),
    since: Option<&[Revision]>,
    now: DateTime<Utc>,
) -> Result<Revision> {
    let mut client = service.store.client().await?;
    let tenant = open(&mut client, caller).await?;
    let following = Following::begin("policy", since, policy_in(&tenant, now).await?.1)?;
    store::insert_policy(&tenant, policy, effective_from, now).await?;
    change::append(&tenant, &[("policy", caller.organization)], now).await?;
    let after = following.end(policy_in(&tenant, now).await?.1)?;
    tenant.commit().await?;
    Ok(after)
}
