//! The change feed.

use chrono::{DateTime, Utc};
use tokio_postgres::Row;
use uuid::Uuid;

use super::access::decode;
use super::{Result, Tenant};
use crate::model::{ChangeKind, Place};

/// An entry as it is stored, with what is known of the thing that it is about.
#[derive(Debug, Clone)]
pub struct Entry {
    /// Its number.
    pub seq: i64,
    /// What it is about.
    pub kind: ChangeKind,
    /// Id of that.
    pub subject: Uuid,
    /// When it was stored.
    pub at: DateTime<Utc>,
    /// The unit that the thing is about.
    pub unit: Option<Uuid>,
    /// The crew that the thing names.
    pub crew: Option<Uuid>,
    /// When what the thing tells of happened, where it is listed by that.
    pub since: Option<DateTime<Utc>>,
    /// Whether the thing was found; false for kinds without unit and crew too.
    pub there: bool,
    /// Whether no entry before is about it.
    pub first: bool,
}

/// Appends entries to the change feed; see the statement for what it promises. Who waits for them hears of it once they are
/// committed.
pub async fn append(tenant: &Tenant<'_>, kinds: &[&str], ids: &[Uuid], now: DateTime<Utc>) -> Result<()> {
    let row = tenant.row(include_str!("changes/append.sql"), &[&kinds, &ids, &now]).await?;
    if let Some(row) = row {
        let (heads, organization, head) = (tenant.heads().clone(), tenant.organization(), place(&row));
        tenant.once_committed(move || heads.moved(organization, head));
    }
    Ok(())
}

/// The end of the feed. Before its first entry it has no epoch yet.
pub async fn head(tenant: &Tenant<'_>) -> Result<Place> {
    let row = tenant.row("SELECT epoch, seq FROM change_counter WHERE organization_id = $1", &[]).await?;
    Ok(row.as_ref().map_or(Place { epoch: Uuid::nil(), seq: 0 }, place))
}

/// At most `limit` entries of these kinds behind number `seq` and up to number `upto`, in order.
pub async fn after(
    tenant: &Tenant<'_>,
    (seq, upto): (i64, i64),
    kinds: &[ChangeKind],
    limit: usize,
) -> Result<Vec<Entry>> {
    let kinds: Vec<&str> = kinds.iter().map(|kind| kind.code()).collect();
    let limit = i64::try_from(limit).unwrap_or(i64::MAX);
    tenant
        .rows(include_str!("changes/after.sql"), &[&seq, &upto, &kinds, &limit])
        .await?
        .iter()
        .map(entry)
        .collect()
}

/// Every unit that the crew has or had.
pub async fn units_ever_of(tenant: &Tenant<'_>, crew: Uuid) -> Result<Vec<Uuid>> {
    let sql = "SELECT DISTINCT id FROM unit WHERE organization_id = $1 AND crew_id = $2";
    Ok(tenant.rows(sql, &[&crew]).await?.iter().map(|row| row.get("id")).collect())
}

/// Begins another epoch.
pub async fn new_epoch(tenant: &Tenant<'_>) -> Result<()> {
    tenant.execute(include_str!("changes/new_epoch.sql"), &[]).await?;
    Ok(())
}

fn place(row: &Row) -> Place {
    Place { epoch: row.get("epoch"), seq: row.get("seq") }
}

fn entry(row: &Row) -> Result<Entry> {
    Ok(Entry {
        seq: row.get("seq"),
        kind: decode(row.get("kind"))?,
        subject: row.get("subject_id"),
        at: row.get("changed_at"),
        unit: row.get("unit_id"),
        crew: row.get("crew_id"),
        since: row.get("since"),
        there: row.get::<_, Option<bool>>("there").unwrap_or(false),
        first: row.get("first"),
    })
}
