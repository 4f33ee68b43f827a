//! Service events, day plans, production spans and decisions.

use actix_web::http::StatusCode;
use actix_web::web::{Json, Query};
use actix_web::{Responder, get, post};
use chrono::{DateTime, NaiveDate, TimeDelta, Utc};
use serde::Deserialize;
use utoipa::IntoParams;
use utoipa_actix_web::service_config::ServiceConfig;
use uuid::Uuid;

use super::extract::{
    Body, Caller, DecisionsWrite, Needs, PlansRead, PlansWrite, RechecksRead, UnitsRead, UnitsWrite,
};
use super::{Reply, Shared};
use crate::problem::Problem;
use crate::service::records as service;
use crate::wire::Page;
use crate::wire::records::{DayPlan, Decision, ProductionSpan, RecordForm};
use crate::wire::service::{SentServiceEvent, ServiceEvent};

/// Reads a record, takes it in and shows it: 201 when it is new, 200 when it had been accepted before.
pub(super) async fn take_in<F, S>(
    caller: &Caller<S>,
    context: &Shared,
    body: &Body,
) -> Reply<impl Responder + use<F, S>>
where
    F: RecordForm + serde::Serialize + 'static,
    F::Record: service::Event,
    S: Needs,
{
    let now = context.clock.now();
    let record = body.read(F::parse)?.read(now).map_err(Problem::invalid)?;
    let new = service::receive(&context.service, caller, &body.0, &record, now).await?;
    let status = if new { StatusCode::CREATED } else { StatusCode::OK };
    Ok((Json(F::show(&record)), status))
}

/// Takes a service event in. Work that affects heat starts the unit's histories again.
#[utoipa::path(
    tag = "records", security(("bearer" = ["units:write"])), request_body = inline(SentServiceEvent),
    responses(
        (status = 201, description = "Accepted.", body = ServiceEvent),
        (status = 200, description = "It had been accepted before.", body = ServiceEvent),
    )
)]
#[post("/v1/service-events")]
async fn send_service_event(
    caller: Caller<UnitsWrite>,
    context: Shared,
    body: Body,
) -> Reply<impl Responder> {
    take_in::<SentServiceEvent, _>(&caller, &context, &body).await
}

/// Which records of a unit to list.
#[derive(Debug, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
struct UnitQuery {
    /// Of this unit.
    unit_id: Option<Uuid>,
}

/// Service events, in order of time.
#[utoipa::path(
    tag = "records", security(("bearer" = ["units:read"])), params(UnitQuery),
    responses((status = 200, description = "The service events.", body = Page<ServiceEvent>))
)]
#[get("/v1/service-events")]
async fn list_service_events(
    caller: Caller<UnitsRead>,
    context: Shared,
    query: Query<UnitQuery>,
) -> Reply<Json<Page<ServiceEvent>>> {
    let now = context.clock.now();
    let events = service::service_events(&context.service, &caller, query.unit_id, now).await?;
    Ok(Json(Page::whole(events.iter().map(ServiceEvent::show).collect())))
}

/// Takes a day plan in.
#[utoipa::path(
    tag = "records", security(("bearer" = ["plans:write"])), request_body = DayPlan,
    responses(
        (status = 201, description = "Accepted.", body = DayPlan),
        (status = 200, description = "It had been accepted before.", body = DayPlan),
    )
)]
#[post("/v1/day-plans")]
async fn send_day_plan(caller: Caller<PlansWrite>, context: Shared, body: Body) -> Reply<impl Responder> {
    take_in::<DayPlan, _>(&caller, &context, &body).await
}

/// Which day plans to list.
#[derive(Debug, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
struct DayPlanQuery {
    /// Of this crew.
    crew_id: Option<Uuid>,
    /// From this local day on; default a week ago.
    from: Option<NaiveDate>,
}

/// Day plans, in order of day and of writing.
#[utoipa::path(
    tag = "records", security(("bearer" = ["plans:read"])), params(DayPlanQuery),
    responses((status = 200, description = "The day plans.", body = Page<DayPlan>))
)]
#[get("/v1/day-plans")]
async fn list_day_plans(
    caller: Caller<PlansRead>,
    context: Shared,
    query: Query<DayPlanQuery>,
) -> Reply<Json<Page<DayPlan>>> {
    let from = query.from.unwrap_or_else(|| (context.clock.now() - TimeDelta::days(7)).date_naive());
    let plans = service::day_plans(&context.service, &caller, query.crew_id, from).await?;
    Ok(Json(Page::whole(plans.iter().map(DayPlan::show).collect())))
}

/// Takes a production span in: what was welded with a unit, from–to, where.
#[utoipa::path(
    tag = "records", security(("bearer" = ["plans:write"])), request_body = ProductionSpan,
    responses(
        (status = 201, description = "Accepted.", body = ProductionSpan),
        (status = 200, description = "It had been accepted before.", body = ProductionSpan),
    )
)]
#[post("/v1/production-spans")]
async fn send_production_span(
    caller: Caller<PlansWrite>,
    context: Shared,
    body: Body,
) -> Reply<impl Responder> {
    take_in::<ProductionSpan, _>(&caller, &context, &body).await
}

/// Which production spans to list.
#[derive(Debug, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
struct SpanQuery {
    /// Of this unit.
    unit_id: Option<Uuid>,
    /// Ending at or after; default a week ago.
    from: Option<DateTime<Utc>>,
}

/// Production spans, in order of their start.
#[utoipa::path(
    tag = "records", security(("bearer" = ["plans:read"])), params(SpanQuery),
    responses((status = 200, description = "The production spans.", body = Page<ProductionSpan>))
)]
#[get("/v1/production-spans")]
async fn list_production_spans(
    caller: Caller<PlansRead>,
    context: Shared,
    query: Query<SpanQuery>,
) -> Reply<Json<Page<ProductionSpan>>> {
    let now = context.clock.now();
    let from = query.from.unwrap_or_else(|| now - TimeDelta::days(7));
    let spans = service::production_spans(&context.service, &caller, query.unit_id, from, now).await?;
    Ok(Json(Page::whole(spans.iter().map(ProductionSpan::show).collect())))
}

/// Takes a decision in: what a person did about a flag, a recheck or a unit.
#[utoipa::path(
    tag = "records", security(("bearer" = ["decisions:write"])), request_body = Decision,
    responses(
        (status = 201, description = "Accepted.", body = Decision),
        (status = 200, description = "It had been accepted before.", body = Decision),
    )
)]
#[post("/v1/decisions")]
async fn send_decision(caller: Caller<DecisionsWrite>, context: Shared, body: Body) -> Reply<impl Responder> {
    take_in::<Decision, _>(&caller, &context, &body).await
}

/// Decisions, in order of time.
#[utoipa::path(
    tag = "records", security(("bearer" = ["rechecks:read"])), params(UnitQuery),
    responses((status = 200, description = "The decisions.", body = Page<Decision>))
)]
#[get("/v1/decisions")]
async fn list_decisions(
    caller: Caller<RechecksRead>,
    context: Shared,
    query: Query<UnitQuery>,
) -> Reply<Json<Page<Decision>>> {
    let now = context.clock.now();
    let decisions = service::decisions(&context.service, &caller, query.unit_id, now).await?;
    Ok(Json(Page::whole(decisions.iter().map(Decision::show).collect())))
}

/// Registers the operations of this file.
pub(super) fn register(config: &mut ServiceConfig<'_>) {
    config
        .service(send_service_event)
        .service(list_service_events)
        .service(send_day_plan)
        .service(list_day_plans)
        .service(send_production_span)
        .service(list_production_spans)
        .service(send_decision)
        .service(list_decisions);
}
