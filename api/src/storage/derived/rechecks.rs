//! Rechecks.

use chrono::{DateTime, NaiveDate, Utc};
use lapwatch_domain::quantity::Temperature;
use lapwatch_domain::recheck::{RecheckReason, RecheckState};
use lapwatch_domain::trial::Purpose;
use tokio_postgres::Row;
use tokio_postgres::types::ToSql;
use uuid::Uuid;

use super::{codes, delete};
use crate::storage::access::coded;
use crate::storage::si::quantity;
use crate::storage::{Result, Tenant};

/// A scheduled trial.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Recheck {
    /// Id, derived from the unit and the local day.
    pub id: Uuid,
    /// The unit.
    pub unit_id: Uuid,
    /// The crew that has it.
    pub crew_id: Option<Uuid>,
    /// Why, the weightiest first.
    pub reasons: Vec<RecheckReason>,
    /// What kind of trial.
    pub purpose: Purpose,
    /// The local day.
    pub due_on: NaiveDate,
    /// When it is overdue.
    pub due_at: DateTime<Utc>,
    /// Where it stands.
    pub state: RecheckState,
    /// The trial that satisfied it.
    pub satisfied_by: Option<Uuid>,
}

impl Recheck {
    /// Where it stands at `now`: an open one turns overdue by the passing of time alone.
    pub fn state_at(&self, now: DateTime<Utc>) -> RecheckState {
        match self.state {
            RecheckState::Open | RecheckState::Overdue if self.due_at <= now => RecheckState::Overdue,
            RecheckState::Overdue => RecheckState::Open,
            state => state,
        }
    }

    /// Whether it still waits for a trial.
    pub fn is_pending(&self) -> bool {
        matches!(self.state, RecheckState::Open | RecheckState::Overdue)
    }
}

/// Replaces those rechecks whose ids are `gone` by `rechecks`.
pub async fn replace_rechecks(tenant: &Tenant<'_>, gone: &[Uuid], rechecks: &[&Recheck]) -> Result<()> {
    delete(tenant, "DELETE FROM recheck WHERE organization_id = $1 AND id = $2", gone).await?;
    for recheck in rechecks {
        let reasons: Vec<&str> = recheck.reasons.iter().map(|reason| reason.code()).collect();
        let params: [&(dyn ToSql + Sync); 9] = [
            &recheck.id,
            &recheck.unit_id,
            &recheck.crew_id,
            &reasons,
            &recheck.purpose.code(),
            &recheck.due_on,
            &recheck.due_at,
            &recheck.state.code(),
            &recheck.satisfied_by,
        ];
        tenant.execute(include_str!("insert_recheck.sql"), &params).await?;
    }
    Ok(())
}

/// Which rechecks to list.
#[derive(Debug, Clone, Copy, Default)]
pub struct RecheckFilter {
    /// Of this unit.
    pub unit_id: Option<Uuid>,
    /// Of this crew.
    pub crew_id: Option<Uuid>,
    /// In this state at the time of asking.
    pub state: Option<RecheckState>,
}

/// Rechecks, the latest due first.
pub async fn rechecks(
    tenant: &Tenant<'_>,
    filter: RecheckFilter,
    now: DateTime<Utc>,
) -> Result<Vec<Recheck>> {
    let state = filter.state.map(RecheckState::code);
    let crew = filter.crew_id;
    let rows = match filter.unit_id {
        Some(unit) => tenant.rows(include_str!("unit_rechecks.sql"), &[&unit, &crew, &state, &now]).await?,
        None => tenant.rows(include_str!("rechecks.sql"), &[&crew, &state, &now]).await?,
    };
    rows.iter().map(recheck_from).collect()
}

fn recheck_from(row: &Row) -> Result<Recheck> {
    Ok(Recheck {
        id: row.get("id"),
        unit_id: row.get("unit_id"),
        crew_id: row.get("crew_id"),
        reasons: codes(row, "reasons")?,
        purpose: coded(row, "purpose")?,
        due_on: row.get("due_on"),
        due_at: row.get("due_at"),
        state: coded(row, "state")?,
        satisfied_by: row.get("satisfied_by"),
    })
}

/// What a unit works with: the set point of the last trial that gave one, and the membranes it was found on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Working {
    /// The unit.
    pub unit_id: Uuid,
    /// The temperature to set.
    pub set_point: Temperature,
    /// The products of the two sheets.
    pub membranes: [Uuid; 2],
}

/// What each unit works with that has a set point.
pub async fn working(tenant: &Tenant<'_>) -> Result<Vec<Working>> {
    let working = |row: &Row| {
        Ok(Working {
            unit_id: row.get("unit_id"),
            set_point: quantity(row, "set_point_c")?,
            membranes: [row.get("upper_membrane_id"), row.get("lower_membrane_id")],
        })
    };
    tenant.rows(include_str!("working.sql"), &[]).await?.iter().map(working).collect()
}

/// Every recheck that waits for a trial, the latest due first.
pub async fn pending_rechecks(tenant: &Tenant<'_>) -> Result<Vec<Recheck>> {
    tenant.rows(include_str!("pending_rechecks.sql"), &[]).await?.iter().map(recheck_from).collect()
}
