//! Decisions about shifts that units share.

use chrono::{DateTime, Utc};
use lapwatch_domain::fleet::SharedKind;
use tokio_postgres::Row;
use tokio_postgres::types::ToSql;
use uuid::Uuid;

use super::access::{coded, decode};
use super::shared::{columns, subject_from};
use super::{Result, Tenant};
use crate::model::{Principal, SharedDecision};

/// Adds a decision.
pub async fn insert(tenant: &Tenant<'_>, decision: &SharedDecision, actor: &Principal) -> Result<()> {
    let (subject, date) = columns(&decision.by);
    let params: [&(dyn ToSql + Sync); 10] = [
        &decision.id,
        &decision.kind.code(),
        &decision.by.kind().code(),
        &subject,
        &date,
        &decision.class.map(|class| class.code()),
        &decision.at,
        &decision.remark,
        &actor.kind.code(),
        &actor.id,
    ];
    tenant.execute(include_str!("shared_decisions/insert.sql"), &params).await?;
    Ok(())
}

/// Decisions from `from` on that were not withdrawn, in order of time.
pub async fn decisions(tenant: &Tenant<'_>, from: DateTime<Utc>) -> Result<Vec<SharedDecision>> {
    let rows = tenant.rows(include_str!("shared_decisions/decisions.sql"), &[&from]).await?;
    rows.iter().map(decision_from).collect()
}

fn decision_from(row: &Row) -> Result<SharedDecision> {
    let subject: Uuid = row.get("subject_id");
    Ok(SharedDecision {
        id: row.get("id"),
        kind: coded(row, "kind")?,
        by: subject_from(coded::<SharedKind>(row, "shift_kind")?, subject, row),
        class: row.get::<_, Option<&str>>("material_class").map(decode).transpose()?,
        at: row.get("decided_at"),
        remark: row.get("remark"),
    })
}
