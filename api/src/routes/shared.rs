//! What the units of a fleet share.

use actix_web::web::{Json, Path};
use actix_web::{HttpResponse, get, post};
use utoipa_actix_web::service_config::ServiceConfig;
use uuid::Uuid;

use super::extract::{Caller, UnitsRead, UnitsWrite};
use super::{Reply, Shared};
use crate::service::shared;
use crate::view::shared::{SharedFit, WholeSharedFit};
use crate::wire::Page;

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
    Ok(Json(WholeSharedFit::from(&fit)))
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
    Ok(reply.json(WholeSharedFit::from(&fit)))
}

/// Registers the operations of this file.
pub(super) fn register(config: &mut ServiceConfig<'_>) {
    config.service(list_shared_fits).service(get_shared_fit).service(make_shared_fit);
}
