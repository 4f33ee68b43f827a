//! Held items and their settlements, append-only; and which of them are open.

use chrono::{DateTime, Utc};
use tokio_postgres::Row;
use tokio_postgres::types::ToSql;
use uuid::Uuid;

use super::access::coded;
use super::{Error, Result, Tenant};
use crate::model::{Actor, CustodyState, Disposition, Held, Settlement};

/// Holds an item; `false` when its bytes are held already.
pub async fn insert(tenant: &Tenant<'_>, held: &Held, bytes: &[u8]) -> Result<bool> {
    let params: [&(dyn ToSql + Sync); 12] = [
        &held.id,
        &held.digest.as_slice(),
        &bytes,
        &held.held_as.code(),
        &held.reason,
        &held.findings,
        &held.schema,
        &held.record_id,
        &held.received_at,
        &held.sent_by.kind.code(),
        &held.sent_by.id,
        &held.crew_id,
    ];
    Ok(tenant.execute(include_str!("custody/insert.sql"), &params).await? == 1)
}

/// The held item with these bytes.
pub async fn by_digest(tenant: &Tenant<'_>, digest: &[u8; 32]) -> Result<Option<Held>> {
    let row = tenant.row(include_str!("custody/by_digest.sql"), &[&digest.as_slice()]).await?;
    row.as_ref().map(held_from).transpose()
}

/// One held item.
pub async fn one(tenant: &Tenant<'_>, id: Uuid) -> Result<Option<Held>> {
    tenant.row(include_str!("custody/one.sql"), &[&id]).await?.as_ref().map(held_from).transpose()
}

/// The bytes of a held item.
pub async fn bytes(tenant: &Tenant<'_>, id: Uuid) -> Result<Option<Vec<u8>>> {
    let row = tenant.row(include_str!("custody/bytes.sql"), &[&id]).await?;
    Ok(row.map(|row| row.get("bytes")))
}

/// Which held items to list.
#[derive(Debug, Clone, Default)]
pub struct HeldFilter {
    /// In this state.
    pub state: Option<CustodyState>,
    /// Only what this caller, who acts for one crew, may see: what the crew or the caller itself sent.
    pub crew_of: Option<(Uuid, Uuid)>,
    /// Only those that come after this (time, id) in the list.
    pub after: Option<(DateTime<Utc>, Uuid)>,
    /// At most so many.
    pub limit: i64,
}

/// Held items, the latest first.
pub async fn list(tenant: &Tenant<'_>, filter: &HeldFilter) -> Result<Vec<Held>> {
    let (crew, actor) = filter.crew_of.unzip();
    let (after_at, after_id) = filter.after.unzip();
    let state = filter.state.map(CustodyState::code);
    let rows = if filter.state == Some(CustodyState::Open) {
        let params: [&(dyn ToSql + Sync); 5] = [&crew, &actor, &after_at, &after_id, &filter.limit];
        tenant.rows(include_str!("custody/list_open.sql"), &params).await?
    } else {
        let params: [&(dyn ToSql + Sync); 6] = [&state, &crew, &actor, &after_at, &after_id, &filter.limit];
        tenant.rows(include_str!("custody/list.sql"), &params).await?
    };
    rows.iter().map(held_from).collect()
}

/// How many held items nobody has settled, counted up to `most`; for a caller who acts for one crew, of those that it may see.
pub async fn waiting(tenant: &Tenant<'_>, crew_of: Option<(Uuid, Uuid)>, most: u32) -> Result<u64> {
    let (crew, actor) = crew_of.unzip();
    let row = tenant.row(include_str!("custody/waiting.sql"), &[&crew, &actor, &i64::from(most)]).await?;
    Ok(row.and_then(|row| u64::try_from(row.get::<_, i64>("waiting")).ok()).unwrap_or_default())
}

/// Notes what a person did about a held item; `false` when it was settled before.
pub async fn settle(tenant: &Tenant<'_>, held: Uuid, settlement: &Settlement) -> Result<bool> {
    let params: [&(dyn ToSql + Sync); 8] = [
        &held,
        &settlement.outcome.code(),
        &settlement.reason,
        &settlement.patch,
        &settlement.record_id,
        &settlement.at,
        &settlement.by.kind.code(),
        &settlement.by.id,
    ];
    let first = tenant.execute(include_str!("custody/settle.sql"), &params).await? == 1;
    close(tenant, held).await?;
    Ok(first)
}

/// A held item is not open any more.
pub async fn close(tenant: &Tenant<'_>, held: Uuid) -> Result<()> {
    tenant.execute(include_str!("custody/close.sql"), &[&held]).await?;
    Ok(())
}

/// A held item that may have become acceptable by itself.
#[derive(Debug)]
pub struct Resolvable {
    /// Its bytes.
    pub bytes: Vec<u8>,
    /// When it was first received.
    pub received_at: DateTime<Utc>,
    /// Who sent it.
    pub sent_by: Actor,
    /// The crew that the sender acts for.
    pub crew_id: Option<Uuid>,
}

/// Up to `limit` open items that are held for this reason, behind this one, in order of id.
pub async fn open_behind(
    tenant: &Tenant<'_>,
    reason: &str,
    behind: Option<Uuid>,
    limit: i64,
) -> Result<Vec<Uuid>> {
    let rows = tenant.rows(include_str!("custody/open_behind.sql"), &[&reason, &behind, &limit]).await?;
    Ok(rows.iter().map(|row| row.get("custody_id")).collect())
}

/// A quarantined item, if it is open.
pub async fn resolvable(tenant: &Tenant<'_>, held: Uuid) -> Result<Option<Resolvable>> {
    let row = tenant.row(include_str!("custody/one_open.sql"), &[&held]).await?;
    row.map(|row| {
        Ok(Resolvable {
            bytes: row.get("bytes"),
            received_at: row.get("received_at"),
            sent_by: Actor { kind: coded(&row, "actor_kind")?, id: row.get("actor_id") },
            crew_id: row.get("crew_id"),
        })
    })
    .transpose()
}

/// What is the matter with bytes of these digests, and when they were first received; those never received are left out.
pub async fn dispositions(
    tenant: &Tenant<'_>,
    digests: &[&[u8]],
) -> Result<Vec<([u8; 32], Disposition, DateTime<Utc>)>> {
    let rows = tenant.rows(include_str!("custody/dispositions.sql"), &[&digests]).await?;
    rows.iter().map(|row| Ok((digest_of(row)?, coded(row, "disposition")?, row.get("received_at")))).collect()
}

fn held_from(row: &Row) -> Result<Held> {
    let settlement = match row.get::<_, Option<&str>>("outcome") {
        None => None,
        Some(_) => Some(Settlement {
            outcome: coded(row, "outcome")?,
            reason: row.get("settled_because"),
            patch: row.get("patch"),
            record_id: row.get("released_as"),
            at: row.get("settled_at"),
            by: Actor { kind: coded(row, "settled_by_kind")?, id: row.get("settled_by_id") },
        }),
    };
    Ok(Held {
        id: row.get("id"),
        digest: digest_of(row)?,
        size: u64::try_from(row.get::<_, i32>("size")).unwrap_or_default(),
        held_as: coded(row, "held_as")?,
        reason: row.get("reason"),
        findings: row.get("findings"),
        schema: row.get("schema"),
        record_id: row.get("record_id"),
        received_at: row.get("received_at"),
        sent_by: Actor { kind: coded(row, "actor_kind")?, id: row.get("actor_id") },
        crew_id: row.get("crew_id"),
        settlement,
        state: coded(row, "state")?,
    })
}

fn digest_of(row: &Row) -> Result<[u8; 32]> {
    row.get::<_, &[u8]>("digest").try_into().map_err(|_| Error::Corrupt("a digest's length".into()))
}
