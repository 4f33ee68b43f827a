//! Versioned configuration. One trait gives all kinds of subject the same statements.

mod subjects;

use chrono::{DateTime, NaiveTime, Utc};
use tokio_postgres::Row;
use tokio_postgres::types::ToSql;
use uuid::Uuid;

use super::si::{Stored, optional, quantity};
use super::{Error, Result, Tenant};
use crate::model::{CriteriaSet, Policy, Version};

/// A kind of subject with versions in a table of its own.
pub trait Subject: Sized {
    /// What the subject is called in messages.
    const NAME: &'static str;
    /// What it is called in entries of the change feed.
    const KIND: &'static str = Self::NAME;
    /// Adds a version: `$1` organization, `$2` id, `$3` effective_from, `$4` recorded_at, `$5` retired, `$6`… the
    /// [`Subject::params`].
    const INSERT: &'static str;
    /// How many versions the subject `$2` has.
    const VERSIONS: &'static str;
    /// The version of every subject in force at `$2`; of the subject `$3` alone unless it is NULL.
    const IN_FORCE: &'static str;

    /// The columns of this version.
    fn params(&self) -> Vec<Box<dyn ToSql + Sync + Send>>;

    /// The version in a row of [`Subject::IN_FORCE`].
    ///
    /// # Errors
    /// [`Error::Corrupt`] when a stored value is not of its form.
    fn from_row(row: &Row) -> Result<Self>;
}

/// Adds a version.
pub async fn insert<T: Subject>(tenant: &Tenant<'_>, version: &Version<T>, now: DateTime<Utc>) -> Result<()> {
    let columns = version.value.params();
    let mut params: Vec<&(dyn ToSql + Sync)> =
        vec![&version.id, &version.effective_from, &now, &version.retired];
    params.extend(columns.iter().map(|column| -> &(dyn ToSql + Sync) { column.as_ref() }));
    add_version(tenant, T::INSERT, &params).await
}

/// Runs a statement that adds a version. Where another transaction adds one with the same two times at the same moment, the
/// statement waits for it and adds nothing: the next one sees that version, and comes after it.
async fn add_version(tenant: &Tenant<'_>, sql: &str, params: &[&(dyn ToSql + Sync)]) -> Result<()> {
    const TRIES: usize = 100;
    for _ in 0..TRIES {
        if tenant.execute(sql, params).await? == 1 {
            return Ok(());
        }
    }
    Err(Error::Corrupt(format!("{TRIES} versions came between")))
}

/// The version of `id` in force at `at`. Before the first version the first one holds: a trial from before its unit
/// was entered is better judged by what is known than refused.
pub async fn in_force<T: Subject>(
    tenant: &Tenant<'_>,
    id: Uuid,
    at: DateTime<Utc>,
) -> Result<Option<Version<T>>> {
    let rows = tenant.rows(T::IN_FORCE, &[&at, &id, &id]).await?;
    rows.first().map(version_from).transpose()
}

/// The version in force at `at` of every subject of the kind, by id.
pub async fn all_in_force<T: Subject>(tenant: &Tenant<'_>, at: DateTime<Utc>) -> Result<Vec<Version<T>>> {
    tenant.rows(T::IN_FORCE, &[&at, &Uuid::nil(), &Uuid::max()]).await?.iter().map(version_from).collect()
}

/// How many versions a subject has.
pub async fn versions<T: Subject>(tenant: &Tenant<'_>, id: Uuid) -> Result<i64> {
    Ok(tenant.row(T::VERSIONS, &[&id]).await?.map_or(0, |row| row.get(0)))
}

/// The first time after `at` at which something that is recorded already comes into force.
pub async fn next_in_force(tenant: &Tenant<'_>, at: DateTime<Utc>) -> Result<Option<DateTime<Utc>>> {
    let row = tenant.row(include_str!("configuration/next_in_force.sql"), &[&at]).await?;
    Ok(row.and_then(|row| row.get("at")))
}

/// What has come into force by `now` without having been told of since: its kind and id.
pub async fn came_into_force(tenant: &Tenant<'_>, now: DateTime<Utc>) -> Result<Vec<(String, Uuid)>> {
    let rows = tenant.rows(include_str!("configuration/came_into_force.sql"), &[&now]).await?;
    Ok(rows.iter().map(|row| (row.get("kind"), row.get("id"))).collect())
}

fn version_from<T: Subject>(row: &Row) -> Result<Version<T>> {
    Ok(Version {
        id: row.get("id"),
        effective_from: row.get("effective_from"),
        retired: row.get("retired"),
        value: T::from_row(row)?,
    })
}

/// Adds a version of the criteria.
pub async fn insert_criteria(
    tenant: &Tenant<'_>,
    criteria: &CriteriaSet,
    effective_from: DateTime<Utc>,
    now: DateTime<Utc>,
) -> Result<()> {
    let params: [&(dyn ToSql + Sync); 9] = [
        &effective_from,
        &now,
        &criteria.bond_width_automatic.si(),
        &criteria.bond_width_hand.si(),
        &i16::from(criteria.minimum_strips),
        &criteria.share_limit,
        &criteria.cold_weight,
        &criteria.hot_weight,
        &criteria.ceiling.map(Stored::si),
    ];
    add_version(tenant, include_str!("configuration/insert_criteria.sql"), &params).await
}

/// How many versions the criteria have.
pub async fn criteria_versions(tenant: &Tenant<'_>) -> Result<i64> {
    let sql = "SELECT count(*) FROM criteria WHERE organization_id = $1";
    Ok(tenant.row(sql, &[]).await?.map_or(0, |row| row.get(0)))
}

/// The criteria in force at `at`, with the time they came into force.
pub async fn criteria(tenant: &Tenant<'_>, at: DateTime<Utc>) -> Result<(DateTime<Utc>, CriteriaSet)> {
    let row = tenant
        .row(include_str!("configuration/criteria.sql"), &[&at])
        .await?
        .ok_or_else(|| missing("criteria"))?;
    let minimum_strips: i16 = row.get("minimum_strips");
    let criteria = CriteriaSet {
        bond_width_automatic: quantity(&row, "bond_width_automatic_mm")?,
        bond_width_hand: quantity(&row, "bond_width_hand_mm")?,
        minimum_strips: u8::try_from(minimum_strips).map_err(|_| missing("minimum_strips"))?,
        share_limit: row.get("share_limit"),
        cold_weight: row.get("cold_weight"),
        hot_weight: row.get("hot_weight"),
        ceiling: optional(&row, "ceiling_c")?,
    };
    Ok((row.get("effective_from"), criteria))
}

/// Adds a version of the policy.
pub async fn insert_policy(
    tenant: &Tenant<'_>,
    policy: &Policy,
    effective_from: DateTime<Utc>,
    now: DateTime<Utc>,
) -> Result<()> {
    let small = |value: u16| i16::try_from(value).unwrap_or(i16::MAX);
    let days: Vec<i16> = policy.working_days.iter().map(|day| i16::from(*day)).collect();
    let params: [&(dyn ToSql + Sync); 15] = [
        &effective_from,
        &now,
        &days,
        &policy.shift_start,
        &small(policy.trial_due_after_min),
        &small(policy.in_use_days),
        &small(policy.edge_finding_interval_days),
        &policy.promise_arl_trials,
        &small(policy.least_edge_finding_interval_days),
        &small(policy.most_edge_finding_interval_days),
        &small(policy.limit_lead_days),
        &policy.carry_share.si(),
        &policy.wind_from.si(),
        &policy.operator_checks,
        &policy.closed_days,
    ];
    add_version(tenant, include_str!("configuration/insert_policy.sql"), &params).await
}

/// How many versions the policy has.
pub async fn policy_versions(tenant: &Tenant<'_>) -> Result<i64> {
    let sql = "SELECT count(*) FROM policy WHERE organization_id = $1";
    Ok(tenant.row(sql, &[]).await?.map_or(0, |row| row.get(0)))
}

/// The policy in force at `at`, with the time it came into force.
pub async fn policy(tenant: &Tenant<'_>, at: DateTime<Utc>) -> Result<(DateTime<Utc>, Policy)> {
    let row = tenant
        .row(include_str!("configuration/policy.sql"), &[&at])
        .await?
        .ok_or_else(|| missing("policy"))?;
    let small = |column: &str| u16::try_from(row.get::<_, i16>(column)).unwrap_or(0);
    let interval = small("edge_finding_interval_days");
    let bound = |column: &str| row.get::<_, Option<i16>>(column).and_then(|days| u16::try_from(days).ok());
    let policy = Policy {
        working_days: row
            .get::<_, Vec<i16>>("working_days")
            .iter()
            .filter_map(|day| u8::try_from(*day).ok())
            .collect(),
        shift_start: row.get::<_, NaiveTime>("shift_start"),
        trial_due_after_min: small("trial_due_after_min"),
        in_use_days: small("in_use_days"),
        edge_finding_interval_days: interval,
        least_edge_finding_interval_days: bound("least_edge_finding_interval_days").unwrap_or(interval),
        most_edge_finding_interval_days: bound("most_edge_finding_interval_days").unwrap_or(interval),
        limit_lead_days: small("limit_lead_days"),
        carry_share: quantity(&row, "carry_share_percent")?,
        wind_from: quantity(&row, "wind_from_m_per_s")?,
        operator_checks: row.get("operator_checks"),
        closed_days: row.get("closed_days"),
        promise_arl_trials: row.get("promise_arl_trials"),
    };
    Ok((row.get("effective_from"), policy))
}

fn missing(what: &str) -> Error {
    Error::Corrupt(format!("the organization has no {what}"))
}
