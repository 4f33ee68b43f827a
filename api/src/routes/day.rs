//! Day events and seam checks.

use actix_web::web::{Json, Query};
use actix_web::{Responder, get, post};
use chrono::{DateTime, TimeDelta, Utc};
use serde::Deserialize;
use utoipa::IntoParams;
use utoipa_actix_web::service_config::ServiceConfig;
use uuid::Uuid;

use super::extract::{Body, Caller, PlansRead, PlansWrite};
use super::records::take_in;
use super::{Reply, Shared};
use crate::service::day as service;
use crate::wire::Page;
use crate::wire::day::{DayEvent, SeamCheck};
use crate::wire::records::RecordForm;

/// Takes a day event in: a break, a loss of power, another cord or sheet, a reading of the sheet's temperature. What touches a
/// welder or its margin asks for a new trial the same day.
#[utoipa::path(
    tag = "records", security(("bearer" = ["plans:write"])), request_body = DayEvent,
    responses(
        (status = 201, description = "Accepted.", body = DayEvent),
        (status = 200, description = "It had been accepted before.", body = DayEvent),
    )
)]
#[post("/v1/day-events")]
async fn send_day_event(caller: Caller<PlansWrite>, context: Shared, body: Body) -> Reply<impl Responder> {
    take_in::<DayEvent, _>(&caller, &context, &body).await
}

/// Which day events to list.
#[derive(Debug, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
struct DayEventQuery {
    /// Of this crew.
    crew_id: Option<Uuid>,
    /// At or after; default a week ago.
    from: Option<DateTime<Utc>>,
}

/// Day events, in order of time.
#[utoipa::path(
    tag = "records", security(("bearer" = ["plans:read"])), params(DayEventQuery),
    responses((status = 200, description = "The day events.", body = Page<DayEvent>))
)]
#[get("/v1/day-events")]
async fn list_day_events(
    caller: Caller<PlansRead>,
    context: Shared,
    query: Query<DayEventQuery>,
) -> Reply<Json<Page<DayEvent>>> {
    let from = query.from.unwrap_or_else(|| context.clock.now() - TimeDelta::days(7));
    let events = service::day_events(&context.service, &caller, query.crew_id, from).await?;
    Ok(Json(Page::whole(events.iter().map(DayEvent::show).collect())))
}

/// Takes a seam check in: what was found when a production span was probed or cut. A sound or patched seam takes the span off the
/// list of suspects; a defect makes it urgent.
#[utoipa::path(
    tag = "records", security(("bearer" = ["plans:write"])), request_body = SeamCheck,
    responses(
        (status = 201, description = "Accepted.", body = SeamCheck),
        (status = 200, description = "It had been accepted before.", body = SeamCheck),
    )
)]
#[post("/v1/seam-checks")]
async fn send_seam_check(caller: Caller<PlansWrite>, context: Shared, body: Body) -> Reply<impl Responder> {
    take_in::<SeamCheck, _>(&caller, &context, &body).await
}

/// Which seam checks to list.
#[derive(Debug, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
struct SeamCheckQuery {
    /// Of this unit's spans.
    unit_id: Option<Uuid>,
    /// Made at or after; default a week ago.
    from: Option<DateTime<Utc>>,
}

/// Seam checks, in order of time.
#[utoipa::path(
    tag = "records", security(("bearer" = ["plans:read"])), params(SeamCheckQuery),
    responses((status = 200, description = "The seam checks.", body = Page<SeamCheck>))
)]
#[get("/v1/seam-checks")]
async fn list_seam_checks(
    caller: Caller<PlansRead>,
    context: Shared,
    query: Query<SeamCheckQuery>,
) -> Reply<Json<Page<SeamCheck>>> {
    let now = context.clock.now();
    let from = query.from.unwrap_or_else(|| now - TimeDelta::days(7));
    let checks = service::seam_checks(&context.service, &caller, query.unit_id, from, now).await?;
    Ok(Json(Page::whole(checks.iter().map(SeamCheck::show).collect())))
}

/// Registers the operations of this file.
pub(super) fn register(config: &mut ServiceConfig<'_>) {
    config
        .service(send_day_event)
        .service(list_day_events)
        .service(send_seam_check)
        .service(list_seam_checks);
}
