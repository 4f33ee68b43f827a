//! Service events, day plans, production spans and decisions.
//!
//! What is read for one unit has a statement of its own: a condition such as `$2 IS NULL OR unit_id = $2` would keep a
//! cached plan from using the index, and every derivation would walk the whole organization.

use chrono::{DateTime, NaiveDate, Utc};
use tokio_postgres::Row;
use tokio_postgres::types::ToSql;
use uuid::Uuid;

use crate::model::{DayPlan, Decision, Principal, ProductionSpan, ServiceEvent};
use crate::storage::access::{coded, decode};
use crate::storage::si::{Stored, optional};
use crate::storage::{Result, Tenant};

/// Adds a service event.
pub async fn insert_service_event(tenant: &Tenant<'_>, event: &ServiceEvent) -> Result<()> {
    let work: Vec<&str> = event.work.iter().map(|work| work.code()).collect();
    let params: [&(dyn ToSql + Sync); 11] = [
        &event.id,
        &event.unit_id,
        &event.performed_at,
        &work.first(),
        &event.affects_heat,
        &event.parts,
        &event.performed_by,
        &event.remarks,
        &work,
        &event.supersedes,
        &event.recorded_at,
    ];
    tenant.execute(include_str!("insert_service_event.sql"), &params).await?;
    Ok(())
}

/// Service events of a unit, or of all, in order of time.
pub async fn service_events(tenant: &Tenant<'_>, unit: Option<Uuid>) -> Result<Vec<ServiceEvent>> {
    let rows = match unit {
        Some(unit) => tenant.rows(include_str!("unit_service_events.sql"), &[&unit]).await?,
        None => tenant.rows(include_str!("service_events.sql"), &[]).await?,
    };
    rows.iter().map(event_from).collect()
}

fn event_from(row: &Row) -> Result<ServiceEvent> {
    Ok(ServiceEvent {
        id: row.get("id"),
        unit_id: row.get("unit_id"),
        performed_at: row.get("performed_at"),
        work: row.get::<_, Vec<&str>>("work").into_iter().map(decode).collect::<Result<_>>()?,
        affects_heat: row.get("affects_heat"),
        parts: row.get("parts"),
        performed_by: row.get("performed_by"),
        remarks: row.get("remarks"),
        supersedes: row.get("supersedes"),
        recorded_at: row.get("recorded_at"),
    })
}

/// Adds a day plan.
pub async fn insert_day_plan(tenant: &Tenant<'_>, plan: &DayPlan) -> Result<()> {
    let params: [&(dyn ToSql + Sync); 8] = [
        &plan.id,
        &plan.crew_id,
        &plan.date,
        &plan.welding,
        &plan.unit_ids,
        &plan.reason,
        &plan.recorded_at,
        &plan.supersedes,
    ];
    tenant.execute(include_str!("insert_day_plan.sql"), &params).await?;
    Ok(())
}

/// Day plans of a crew, or of all, from `from` on, in order of day and of writing.
pub async fn day_plans(tenant: &Tenant<'_>, crew: Option<Uuid>, from: NaiveDate) -> Result<Vec<DayPlan>> {
    let rows = match crew {
        Some(crew) => tenant.rows(include_str!("crew_day_plans.sql"), &[&crew, &from]).await?,
        None => tenant.rows(include_str!("day_plans.sql"), &[&from]).await?,
    };
    Ok(rows
        .iter()
        .map(|row| DayPlan {
            id: row.get("id"),
            crew_id: row.get("crew_id"),
            date: row.get("date"),
            welding: row.get("welding"),
            unit_ids: row.get("unit_ids"),
            reason: row.get("reason"),
            recorded_at: row.get("recorded_at"),
            supersedes: row.get("supersedes"),
        })
        .collect())
}

/// Adds a production span.
pub async fn insert_production_span(tenant: &Tenant<'_>, span: &ProductionSpan) -> Result<()> {
    // Seams are long: the one length that is kept in metres.
    let length_m = span.length.map(|length| length.si() / 1000.0);
    let params: [&(dyn ToSql + Sync); 13] = [
        &span.id,
        &span.unit_id,
        &span.crew_id,
        &span.from,
        &span.to,
        &span.place,
        &span.membrane_id,
        &span.lot_id,
        &span.set_temperature.map(Stored::si),
        &span.speed.map(Stored::si),
        &length_m,
        &span.supersedes,
        &span.recorded_at,
    ];
    tenant.execute(include_str!("insert_production_span.sql"), &params).await?;
    Ok(())
}

/// Production spans of a unit, or of all, that end at or after `from`, in order of their start.
pub async fn production_spans(
    tenant: &Tenant<'_>,
    unit: Option<Uuid>,
    from: DateTime<Utc>,
) -> Result<Vec<ProductionSpan>> {
    let rows = match unit {
        Some(unit) => tenant.rows(include_str!("unit_production_spans.sql"), &[&unit, &from]).await?,
        None => tenant.rows(include_str!("production_spans.sql"), &[&from]).await?,
    };
    rows.iter().map(span_from).collect()
}

fn span_from(row: &Row) -> Result<ProductionSpan> {
    Ok(ProductionSpan {
        id: row.get("id"),
        unit_id: row.get("unit_id"),
        crew_id: row.get("crew_id"),
        from: row.get("started_at"),
        to: row.get("ended_at"),
        place: row.get("place"),
        membrane_id: row.get("membrane_id"),
        lot_id: row.get("lot_id"),
        set_temperature: optional(row, "set_temperature_c")?,
        speed: optional(row, "speed_m_per_min")?,
        length: optional(row, "length_mm")?,
        supersedes: row.get("supersedes"),
        recorded_at: row.get("recorded_at"),
    })
}

/// Adds a decision.
pub async fn insert_decision(tenant: &Tenant<'_>, decision: &Decision, actor: &Principal) -> Result<()> {
    let params: [&(dyn ToSql + Sync); 10] = [
        &decision.id,
        &decision.kind.code(),
        &decision.unit_id,
        &decision.series,
        &decision.concern,
        &decision.decided_at,
        &decision.seen_id,
        &decision.remark,
        &actor.kind.code(),
        &actor.id,
    ];
    tenant.execute(include_str!("insert_decision.sql"), &params).await?;
    Ok(())
}

/// Decisions about a unit, or all, in order of time.
pub async fn decisions(tenant: &Tenant<'_>, unit: Option<Uuid>) -> Result<Vec<Decision>> {
    let rows = match unit {
        Some(unit) => tenant.rows(include_str!("unit_decisions.sql"), &[&unit]).await?,
        None => tenant.rows(include_str!("decisions.sql"), &[]).await?,
    };
    rows.iter().map(decision_from).collect()
}

fn decision_from(row: &Row) -> Result<Decision> {
    Ok(Decision {
        id: row.get("id"),
        kind: coded(row, "kind")?,
        unit_id: row.get("unit_id"),
        series: row.get("series"),
        concern: row.get("concern"),
        decided_at: row.get("decided_at"),
        seen_id: row.get("seen_id"),
        remark: row.get("remark"),
    })
}
