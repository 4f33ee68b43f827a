//! Where units stand.

use chrono::{DateTime, Utc};
use lapwatch_domain::quantity::{Temperature, TemperatureDifference};
use lapwatch_domain::standing::{StandingCode, StandingReason};
use lapwatch_domain::trial::Outcome;
use tokio_postgres::Row;
use tokio_postgres::types::ToSql;
use uuid::Uuid;

use super::codes;
use crate::storage::access::coded;
use crate::storage::si::{Stored, optional};
use crate::storage::{Result, Tenant};

/// Where a unit stands.
#[derive(Debug, Clone, PartialEq)]
pub struct UnitState {
    /// The unit.
    pub unit_id: Uuid,
    /// What the evidence says of it.
    pub standing: StandingCode,
    /// Since when.
    pub since: Option<DateTime<Utc>>,
    /// Why.
    pub reasons: Vec<StandingReason>,
    /// Its last trial: id, time, outcome.
    pub last_trial: Option<(Uuid, DateTime<Utc>, Outcome)>,
    /// The set point of the last trial that gave one.
    pub set_point: Option<Temperature>,
    /// Its margins to the ends of the band.
    pub margins: Option<(TemperatureDifference, TemperatureDifference)>,
    /// The instant up to which rechecks were scheduled.
    pub derived_at: Option<DateTime<Utc>>,
}

/// Makes the state row of a unit, if it has none.
pub async fn ensure_unit_state(tenant: &Tenant<'_>, unit: Uuid) -> Result<()> {
    tenant.execute(include_str!("ensure_unit_state.sql"), &[&unit]).await?;
    Ok(())
}

/// Locks units against other derivations, always in the order of their ids so that two transactions cannot wait for
/// each other. What is read after this statement includes everything that was committed before it returned.
pub async fn lock_units(tenant: &Tenant<'_>, units: &[Uuid]) -> Result<()> {
    tenant.rows(include_str!("lock_units.sql"), &[&units]).await?;
    Ok(())
}

/// Writes where a unit stands.
pub async fn update_unit_state(tenant: &Tenant<'_>, state: &UnitState) -> Result<()> {
    let reasons: Vec<&str> = state.reasons.iter().map(|reason| reason.code()).collect();
    let (last_id, last_at, last_outcome) = match state.last_trial {
        Some((id, at, outcome)) => (Some(id), Some(at), Some(outcome.code())),
        None => (None, None, None),
    };
    let params: [&(dyn ToSql + Sync); 11] = [
        &state.unit_id,
        &state.standing.code(),
        &state.since,
        &reasons,
        &last_id,
        &last_at,
        &last_outcome,
        &state.set_point.map(Stored::si),
        &state.margins.map(|(below, _)| below.si()),
        &state.margins.map(|(_, above)| above.si()),
        &state.derived_at,
    ];
    tenant.execute(include_str!("update_unit_state.sql"), &params).await?;
    Ok(())
}

/// Where every unit, or one, stands.
pub async fn unit_states(tenant: &Tenant<'_>, unit: Option<Uuid>) -> Result<Vec<UnitState>> {
    let rows = match unit {
        Some(unit) => tenant.rows(include_str!("unit_state.sql"), &[&unit]).await?,
        None => tenant.rows(include_str!("unit_states.sql"), &[]).await?,
    };
    rows.iter().map(state_from).collect()
}

fn state_from(row: &Row) -> Result<UnitState> {
    let below = optional(row, "margin_below_k")?;
    let above = optional(row, "margin_above_k")?;
    let last_trial = match row.get::<_, Option<Uuid>>("last_trial_id") {
        Some(id) => Some((id, row.get("last_trial_at"), coded(row, "last_outcome")?)),
        None => None,
    };
    Ok(UnitState {
        unit_id: row.get("unit_id"),
        standing: coded(row, "standing")?,
        since: row.get("standing_since"),
        reasons: codes(row, "reasons")?,
        last_trial,
        set_point: optional(row, "set_point_c")?,
        margins: below.zip(above),
        derived_at: row.get("derived_at"),
    })
}

/// Units whose rechecks were last scheduled before `before`.
pub async fn stale_units(tenant: &Tenant<'_>, before: DateTime<Utc>) -> Result<Vec<Uuid>> {
    let rows = tenant.rows(include_str!("stale_units.sql"), &[&before]).await?;
    Ok(rows.iter().map(|row| row.get(0)).collect())
}
