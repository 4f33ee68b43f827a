//! Day events and seam checks.

use chrono::{DateTime, Utc};
use tokio_postgres::Row;
use tokio_postgres::types::ToSql;
use uuid::Uuid;

use crate::model::{DayEvent, SeamCheck};
use crate::storage::access::coded;
use crate::storage::si::{Stored, optional};
use crate::storage::{Result, Tenant};

/// Adds a day event.
pub async fn insert_day_event(tenant: &Tenant<'_>, event: &DayEvent) -> Result<()> {
    let params: [&(dyn ToSql + Sync); 13] = [
        &event.id,
        &event.crew_id,
        &event.unit_id,
        &event.at,
        &event.kind.code(),
        &event.sheet_temperature.map(Stored::si),
        &event.wind_speed.map(Stored::si),
        &event.membrane_id,
        &event.lot_id,
        &event.operator,
        &event.remarks,
        &event.supersedes,
        &event.recorded_at,
    ];
    tenant.execute(include_str!("insert_day_event.sql"), &params).await?;
    Ok(())
}

/// Day events of a crew, or of all, from `from` on, in order of time.
pub async fn day_events(
    tenant: &Tenant<'_>,
    crew: Option<Uuid>,
    from: DateTime<Utc>,
) -> Result<Vec<DayEvent>> {
    let rows = match crew {
        Some(crew) => tenant.rows(include_str!("crew_day_events.sql"), &[&crew, &from]).await?,
        None => tenant.rows(include_str!("day_events.sql"), &[&from]).await?,
    };
    rows.iter().map(event_from).collect()
}

/// Day events from `from` on that name a unit, whoever noted them, in order of time.
pub async fn unit_day_events(tenant: &Tenant<'_>, unit: Uuid, from: DateTime<Utc>) -> Result<Vec<DayEvent>> {
    let rows = tenant.rows(include_str!("unit_day_events.sql"), &[&unit, &from]).await?;
    rows.iter().map(event_from).collect()
}

fn event_from(row: &Row) -> Result<DayEvent> {
    Ok(DayEvent {
        id: row.get("id"),
        crew_id: row.get("crew_id"),
        unit_id: row.get("unit_id"),
        at: row.get("happened_at"),
        kind: coded(row, "kind")?,
        sheet_temperature: optional(row, "sheet_temperature_c")?,
        wind_speed: optional(row, "wind_m_per_s")?,
        membrane_id: row.get("membrane_id"),
        lot_id: row.get("lot_id"),
        operator: row.get("operator"),
        remarks: row.get("remarks"),
        supersedes: row.get("supersedes"),
        recorded_at: row.get("recorded_at"),
    })
}

/// Adds a seam check.
pub async fn insert_seam_check(tenant: &Tenant<'_>, check: &SeamCheck) -> Result<()> {
    let params: [&(dyn ToSql + Sync); 11] = [
        &check.id,
        &check.span_id,
        &check.unit_id,
        &check.at,
        &check.method.code(),
        &check.result.code(),
        &check.place,
        &check.checked_by,
        &check.remarks,
        &check.supersedes,
        &check.recorded_at,
    ];
    tenant.execute(include_str!("insert_seam_check.sql"), &params).await?;
    Ok(())
}

/// Seam checks of a unit's spans, or of all, from `from` on, in order of time.
pub async fn seam_checks(
    tenant: &Tenant<'_>,
    unit: Option<Uuid>,
    from: DateTime<Utc>,
) -> Result<Vec<SeamCheck>> {
    let rows = match unit {
        Some(unit) => tenant.rows(include_str!("unit_seam_checks.sql"), &[&unit, &from]).await?,
        None => tenant.rows(include_str!("seam_checks.sql"), &[&from]).await?,
    };
    rows.iter().map(check_from).collect()
}

/// Checks of a unit's spans that end at or after `from`, in order of time, each under the span that stands now in the place of the
/// one it names.
pub async fn checks_of_spans(tenant: &Tenant<'_>, unit: Uuid, from: DateTime<Utc>) -> Result<Vec<SeamCheck>> {
    let rows = tenant.rows(include_str!("checks_of_spans.sql"), &[&unit, &from]).await?;
    rows.iter().map(check_from).collect()
}

fn check_from(row: &Row) -> Result<SeamCheck> {
    Ok(SeamCheck {
        id: row.get("id"),
        span_id: row.get("span_id"),
        unit_id: row.get("unit_id"),
        at: row.get("checked_at"),
        method: coded(row, "method")?,
        result: coded(row, "result")?,
        place: row.get("place"),
        checked_by: row.get("checked_by"),
        remarks: row.get("remarks"),
        supersedes: row.get("supersedes"),
        recorded_at: row.get("recorded_at"),
    })
}

/// The unit that a production span was welded with; `None` when there is no such span.
pub async fn unit_of_span(tenant: &Tenant<'_>, span: Uuid) -> Result<Option<Uuid>> {
    let row = tenant.row(include_str!("unit_of_span.sql"), &[&span]).await?;
    Ok(row.map(|row| row.get("unit_id")))
}
