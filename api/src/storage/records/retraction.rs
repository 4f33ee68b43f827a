//! Retractions and corrections.

use chrono::{DateTime, Utc};
use tokio_postgres::types::ToSql;
use uuid::Uuid;

use crate::model::{Correction, Disposition, Principal, RecordKind, Retraction};
use crate::storage::access::coded;
use crate::storage::{Result, Tenant};

/// Adds a retraction of a record of this kind.
pub async fn insert_retraction(
    tenant: &Tenant<'_>,
    retraction: &Retraction,
    kind: RecordKind,
    actor: &Principal,
) -> Result<()> {
    let params: [&(dyn ToSql + Sync); 7] = [
        &retraction.id,
        &retraction.record_id,
        &kind.code(),
        &retraction.at,
        &retraction.reason,
        &actor.kind.code(),
        &actor.id,
    ];
    tenant.execute(include_str!("insert_retraction.sql"), &params).await?;
    Ok(())
}

/// The record that a retraction withdraws; `None` when there is no such retraction.
pub async fn retracted_by(tenant: &Tenant<'_>, retraction: Uuid) -> Result<Option<Uuid>> {
    let row = tenant.row(include_str!("retracted_by.sql"), &[&retraction]).await?;
    Ok(row.map(|row| row.get("record_id")))
}

/// Retractions of a record, or all, from `from` on, in order of time.
pub async fn retractions(
    tenant: &Tenant<'_>,
    record: Option<Uuid>,
    from: DateTime<Utc>,
) -> Result<Vec<Retraction>> {
    let rows = tenant.rows(include_str!("retractions.sql"), &[&record, &from]).await?;
    let retraction = |row: &tokio_postgres::Row| Retraction {
        id: row.get("id"),
        record_id: row.get("record_id"),
        at: row.get("retracted_at"),
        reason: row.get("reason"),
    };
    Ok(rows.iter().map(retraction).collect())
}

/// Adds a correction.
pub async fn insert_correction(tenant: &Tenant<'_>, correction: &Correction) -> Result<()> {
    let params: [&(dyn ToSql + Sync); 4] =
        [&correction.record_id, &correction.supersedes, &correction.root_id, &correction.recorded_at];
    tenant.execute(include_str!("insert_correction.sql"), &params).await?;
    Ok(())
}

/// Every record of the chain that a record is in, its root and itself included, from the first to the latest.
pub async fn chain(tenant: &Tenant<'_>, record: Uuid) -> Result<Vec<Uuid>> {
    let root =
        tenant.row(include_str!("root.sql"), &[&record]).await?.map_or(record, |row| row.get("root_id"));
    let rows = tenant.rows(include_str!("chain.sql"), &[&root]).await?;
    Ok(std::iter::once(root).chain(rows.iter().map(|row| row.get("record_id"))).collect())
}

/// Corrections of the same record that stand beside this one, in order of their writing: neither takes the place of the other.
pub async fn competing(tenant: &Tenant<'_>, record: Uuid) -> Result<Vec<Uuid>> {
    let rows = tenant.rows(include_str!("competing.sql"), &[&record]).await?;
    Ok(rows.iter().map(|row| row.get("record_id")).collect())
}

/// Whether an accepted record counts.
pub async fn disposition(tenant: &Tenant<'_>, record: Uuid) -> Result<Disposition> {
    let row = tenant.row(include_str!("disposition.sql"), &[&record]).await?;
    row.map_or(Ok(Disposition::Accepted), |row| coded(&row, "disposition"))
}
