//! What the units of a fleet share.

use actix_web::web::{Json, Path, Query};
use actix_web::{HttpResponse, Responder, get, post};
use chrono::{DateTime, TimeDelta, Utc};
use serde::Deserialize;
use utoipa::IntoParams;
use utoipa_actix_web::service_config::ServiceConfig;
use uuid::Uuid;

use super::extract::{Body, Caller, DecisionsWrite, UnitsRead, UnitsWrite};
use super::records::take_in;
use super::{Reply, Shared};
use crate::service::{shared, shared_decisions};
use crate::view::shared::{SharedFit, WholeSharedFit};
use crate::wire::Page;
use crate::wire::records::RecordForm;
use crate::wire::shared::SharedDecision;

/// How many fits are listed: three months of daily ones.
const LISTED: i64 = 92;

/// What the units of the fleet share, the latest fit first: up to 92 of them, without their shifts. One is made once a day, if
/// a trial was performed since the last.
#[utoipa::path(
    tag = "fleet", security(("bearer" = ["units:read"])),
    responses((status = 200, description = "The fits.", body = Page<SharedFit>))
)]
#[get("/v1/shared-fits")]
async fn list_shared_fits(caller: Caller<UnitsRead>, context: Shared) -> Reply<Json<Page<SharedFit>>> {
    let fits = shared::latest(&context.service, &caller, LISTED).await?;
    Ok(Json(Page::whole(fits.iter().map(SharedFit::from).collect())))
}

/// One fit with its shifts: how far each product, production run and day that at least three units inform moves the edges of
/// all welders, what is to be told to people first.
#[utoipa::path(
    tag = "fleet", security(("bearer" = ["units:read"])),
    params(("id" = Uuid, Path, description = "Id of the fit.")),
    responses((status = 200, description = "The fit.", body = WholeSharedFit))
)]
#[get("/v1/shared-fits/{id}")]
async fn get_shared_fit(
    caller: Caller<UnitsRead>,
    context: Shared,
    id: Path<Uuid>,
) -> Reply<Json<WholeSharedFit>> {
    let fit = shared::get(&context.service, &caller, *id).await?;
    let decided = shared_decisions::about(&context.service, &caller, &fit, context.clock.now()).await?;
    Ok(Json(WholeSharedFit::new(&fit, &decided)))
}

/// Make a fit now instead of waiting for the daily one. Charts go by it at once; units are derived anew within a quarter of
/// an hour. While the latest fit is less than an hour old, that one is answered.
#[utoipa::path(
    tag = "fleet", security(("bearer" = ["units:write"])),
    responses(
        (status = 201, description = "The fit that was made.", body = WholeSharedFit),
        (status = 200, description = "The latest fit, less than an hour old.", body = WholeSharedFit),
    )
)]
#[post("/v1/shared-fits")]
async fn make_shared_fit(caller: Caller<UnitsWrite>, context: Shared) -> Reply<HttpResponse> {
    let (fit, made_now) = shared::make(&context.service, &caller, context.clock.now()).await?;
    let mut reply = if made_now { HttpResponse::Created() } else { HttpResponse::Ok() };
    let decided = shared_decisions::about(&context.service, &caller, &fit, context.clock.now()).await?;
    Ok(reply.json(WholeSharedFit::new(&fit, &decided)))
}

/// Takes in a decision about a shift that several units share. One that closes it is the end of telling people of it, until the
/// shift has moved by more than 5 K since. Charts are not changed by it.
#[utoipa::path(
    tag = "fleet", security(("bearer" = ["decisions:write"])), request_body = SharedDecision,
    responses(
        (status = 201, description = "Accepted.", body = SharedDecision),
        (status = 200, description = "It had been accepted before.", body = SharedDecision),
    )
)]
#[post("/v1/shared-decisions")]
async fn send_shared_decision(
    caller: Caller<DecisionsWrite>,
    context: Shared,
    body: Body,
) -> Reply<impl Responder> {
    take_in::<SharedDecision, _>(&caller, &context, &body).await
}

/// Which decisions to list.
#[derive(Debug, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
struct SharedDecisionQuery {
    /// Made at or after; default a year ago.
    from: Option<DateTime<Utc>>,
}

/// Decisions about shifts that several units share, in order of time. Those withdrawn are left out.
#[utoipa::path(
    tag = "fleet", security(("bearer" = ["units:read"])), params(SharedDecisionQuery),
    responses((status = 200, description = "The decisions.", body = Page<SharedDecision>))
)]
#[get("/v1/shared-decisions")]
async fn list_shared_decisions(
    caller: Caller<UnitsRead>,
    context: Shared,
    query: Query<SharedDecisionQuery>,
) -> Reply<Json<Page<SharedDecision>>> {
    let from = query.from.unwrap_or_else(|| context.clock.now() - TimeDelta::days(366));
    let found = shared_decisions::list(&context.service, &caller, from).await?;
    Ok(Json(Page::whole(found.iter().map(SharedDecision::show).collect())))
}

/// Registers the operations of this file.
pub(super) fn register(config: &mut ServiceConfig<'_>) {
    config.service(list_shared_fits).service(get_shared_fit).service(make_shared_fit);
    config.service(send_shared_decision).service(list_shared_decisions);
}
