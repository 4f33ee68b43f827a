//! Received bytes and the records read from them. Append-only.

mod day;
mod events;
mod history;
mod open_trials;
mod readings;
mod retraction;
mod trials;

pub use day::{
    checks_of_spans, day_events, insert_day_event, insert_seam_check, seam_checks, unit_day_events,
    unit_of_span,
};
pub use events::{
    day_plans, decisions, insert_day_plan, insert_decision, insert_production_span, insert_service_event,
    production_spans, service_events,
};
pub use history::{HistoryRow, Profiles, history, probes, trial_profiles, unit_profiles};
pub use open_trials::{
    OpenTrialFilter, OpenTrialRow, closed_as, coupons_named, coupons_of, insert_open_trial,
    insert_sent_coupon, insert_trial_close, open_trial, unfinished,
};
pub use readings::{ReadAgain, ReadingFilter, TrialStrips, insert_second_reading, second_readings, strips};
pub use retraction::{
    chain, competing, disposition, insert_correction, insert_retraction, retracted_by, retractions,
};
pub use trials::{Judgement, TrialFilter, TrialRow, insert_trial, trial, trials};

use std::collections::{HashMap, HashSet};

use chrono::{DateTime, Utc};
use tokio_postgres::types::ToSql;
use uuid::Uuid;

use super::access::coded;
use super::{Error, Result, Tenant};
use crate::model::{Actor, Disposition, RecordKind};

/// Received bytes that were accepted.
#[derive(Debug, Clone)]
pub struct Submission {
    /// What kind of record they are.
    pub kind: RecordKind,
    /// SHA-256 of the bytes.
    pub digest: [u8; 32],
    /// The bytes, as they were sent.
    pub bytes: Vec<u8>,
    /// When they were first received.
    pub received_at: DateTime<Utc>,
    /// Who sent them.
    pub sent_by: Actor,
}

/// Keeps the bytes of an accepted record; `false` when its id was accepted before.
pub async fn insert_submission(tenant: &Tenant<'_>, id: Uuid, submission: &Submission) -> Result<bool> {
    let sql = include_str!("records/insert_submission.sql");
    let params: [&(dyn ToSql + Sync); 7] = [
        &id,
        &submission.digest.as_slice(),
        &submission.kind.code(),
        &submission.bytes,
        &submission.received_at,
        &submission.sent_by.kind.code(),
        &submission.sent_by.id,
    ];
    Ok(tenant.execute(sql, &params).await? == 1)
}

/// The accepted bytes of records, by id; those that are not there are left out.
pub async fn bytes_of(tenant: &Tenant<'_>, ids: &[Uuid]) -> Result<HashMap<Uuid, Vec<u8>>> {
    let rows = tenant.rows(include_str!("records/bytes_of.sql"), &[&ids]).await?;
    Ok(rows.iter().map(|row| (row.get("record_id"), row.get("bytes"))).collect())
}

/// How many bytes accepted records have, by id; those that are not there are left out.
pub async fn sizes_of(tenant: &Tenant<'_>, ids: &[Uuid]) -> Result<HashMap<Uuid, usize>> {
    let rows = tenant.rows(include_str!("records/sizes_of.sql"), &[&ids]).await?;
    let size = |row: &tokio_postgres::Row| usize::try_from(row.get::<_, i32>("size")).unwrap_or_default();
    Ok(rows.iter().map(|row| (row.get("record_id"), size(row))).collect())
}

/// Which of these ids are of accepted records.
pub async fn known(tenant: &Tenant<'_>, ids: &[Uuid]) -> Result<HashSet<Uuid>> {
    let rows = tenant.rows(include_str!("records/known.sql"), &[&ids]).await?;
    Ok(rows.iter().map(|row| row.get("record_id")).collect())
}

/// Of accepted records: the number of the first entry of the change feed that tells of it, and whether it counts.
pub async fn receipts(
    tenant: &Tenant<'_>,
    ids: &[Uuid],
) -> Result<HashMap<Uuid, (Option<i64>, Disposition)>> {
    let rows = tenant.rows(include_str!("records/receipts.sql"), &[&ids]).await?;
    rows.iter()
        .map(|row| {
            let counts = row.get::<_, Option<&str>>("disposition").is_none();
            let disposition = if counts { Disposition::Accepted } else { coded(row, "disposition")? };
            Ok((row.get("id"), (row.get("seq"), disposition)))
        })
        .collect()
}

/// The accepted bytes of a record.
pub async fn submission(tenant: &Tenant<'_>, id: Uuid) -> Result<Option<Submission>> {
    let row = tenant.row(include_str!("records/submission.sql"), &[&id]).await?;
    row.map(|row| {
        let digest = row
            .get::<_, &[u8]>("digest")
            .try_into()
            .map_err(|_| Error::Corrupt("a digest's length".into()))?;
        Ok(Submission {
            kind: coded(&row, "kind")?,
            digest,
            bytes: row.get("bytes"),
            received_at: row.get("received_at"),
            sent_by: Actor { kind: coded(&row, "actor_kind")?, id: row.get("actor_id") },
        })
    })
    .transpose()
}
