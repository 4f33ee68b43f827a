//! Trials that are sent piece by piece.

use chrono::{DateTime, Utc};
use tokio_postgres::Row;
use tokio_postgres::types::ToSql;
use uuid::Uuid;

use crate::model::{OpenState, OpenTrial, SentCoupon, TrialClose};
use crate::storage::access::coded;
use crate::storage::{Result, Tenant};

/// Adds the beginning of a trial by this crew.
pub async fn insert_open_trial(tenant: &Tenant<'_>, open: &OpenTrial, crew: Option<Uuid>) -> Result<()> {
    let params: [&(dyn ToSql + Sync); 4] = [&open.id, &open.trial.unit_id, &crew, &open.trial.performed_at];
    tenant.execute(include_str!("insert_open_trial.sql"), &params).await?;
    Ok(())
}

/// Adds a coupon.
pub async fn insert_sent_coupon(tenant: &Tenant<'_>, coupon: &SentCoupon) -> Result<()> {
    let params: [&(dyn ToSql + Sync); 3] = [&coupon.id, &coupon.open_trial_id, &coupon.recorded_at];
    tenant.execute(include_str!("insert_sent_coupon.sql"), &params).await?;
    Ok(())
}

/// Adds a close.
pub async fn insert_trial_close(tenant: &Tenant<'_>, close: &TrialClose) -> Result<()> {
    let params: [&(dyn ToSql + Sync); 3] = [&close.id, &close.open_trial_id, &close.trial_id];
    tenant.execute(include_str!("insert_trial_close.sql"), &params).await?;
    Ok(())
}

/// An open trial, without its content.
#[derive(Debug, Clone, PartialEq)]
pub struct OpenTrialRow {
    /// Its id.
    pub id: Uuid,
    /// The unit.
    pub unit_id: Uuid,
    /// The crew that welds.
    pub crew_id: Option<Uuid>,
    /// When it began, by the client's clock.
    pub performed_at: DateTime<Utc>,
    /// What became of it.
    pub state: OpenState,
    /// The trial that it became.
    pub closed_as: Option<Uuid>,
    /// How many coupons were sent, those withdrawn not among them.
    pub coupons: i64,
}

/// Which open trials to list.
#[derive(Debug, Clone, Default)]
pub struct OpenTrialFilter {
    /// Of this unit.
    pub unit_id: Option<Uuid>,
    /// Of this crew.
    pub crew_id: Option<Uuid>,
    /// Behind this one.
    pub after: Option<(DateTime<Utc>, Uuid)>,
    /// At most so many.
    pub limit: i64,
}

/// Unfinished trials, the latest first.
pub async fn unfinished(tenant: &Tenant<'_>, filter: &OpenTrialFilter) -> Result<Vec<OpenTrialRow>> {
    let (after_at, after_id) = filter.after.unzip();
    let params: [&(dyn ToSql + Sync); 5] =
        [&filter.unit_id, &filter.crew_id, &after_at, &after_id, &filter.limit];
    tenant.rows(include_str!("unfinished.sql"), &params).await?.iter().map(row_from).collect()
}

/// One open trial.
pub async fn open_trial(tenant: &Tenant<'_>, id: Uuid) -> Result<Option<OpenTrialRow>> {
    tenant.row(include_str!("open_trial.sql"), &[&id]).await?.as_ref().map(row_from).transpose()
}

fn row_from(row: &Row) -> Result<OpenTrialRow> {
    Ok(OpenTrialRow {
        id: row.get("id"),
        unit_id: row.get("unit_id"),
        crew_id: row.get("crew_id"),
        performed_at: row.get("performed_at"),
        state: coded(row, "state")?,
        closed_as: row.get("closed_as"),
        coupons: row.get("coupons"),
    })
}

/// The bytes of the coupons of an open trial that are not withdrawn, in the order in which they were written down.
pub async fn coupons_of(tenant: &Tenant<'_>, open_trial: Uuid) -> Result<Vec<Vec<u8>>> {
    let rows = tenant.rows(include_str!("coupons_of.sql"), &[&open_trial]).await?;
    Ok(rows.iter().map(|row| row.get("bytes")).collect())
}

/// Which of these coupons are there: the id, the open trial of each, and its bytes; in any order.
pub async fn coupons_named(tenant: &Tenant<'_>, ids: &[Uuid]) -> Result<Vec<(Uuid, Uuid, Vec<u8>)>> {
    let rows = tenant.rows(include_str!("coupons_named.sql"), &[&ids]).await?;
    Ok(rows.iter().map(|row| (row.get("id"), row.get("open_trial_id"), row.get("bytes"))).collect())
}

/// The trials that an open trial became and that are not withdrawn.
pub async fn closed_as(tenant: &Tenant<'_>, open_trial: Uuid) -> Result<Vec<Uuid>> {
    let rows = tenant.rows(include_str!("closed_as.sql"), &[&open_trial]).await?;
    Ok(rows.iter().map(|row| row.get("trial_id")).collect())
}
