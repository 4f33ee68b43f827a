//! Fits of the fleet.

use actix_web::web::{Json, Path};
use actix_web::{HttpResponse, get, post};
use utoipa_actix_web::service_config::ServiceConfig;
use uuid::Uuid;

use super::extract::{Caller, UnitsRead, UnitsWrite};
use super::{Reply, Shared};
use crate::service::fits;
use crate::view::fits::{FleetFit, WholeFleetFit};
use crate::wire::Page;

/// How many fits are listed: two years of weekly ones.
const LISTED: i64 = 104;

/// What the fleet's own trials say of the numbers behind bands and charts, the latest fit first: up to 104 of them. One is
/// made once a week, while at least 30 trials were performed since the last.
#[utoipa::path(
    tag = "fleet", security(("bearer" = ["units:read"])),
    responses((status = 200, description = "The fits.", body = Page<FleetFit>))
)]
#[get("/v1/fleet-fits")]
async fn list_fleet_fits(caller: Caller<UnitsRead>, context: Shared) -> Reply<Json<Page<FleetFit>>> {
    let fits = fits::latest(&context.service, &caller, LISTED).await?;
    Ok(Json(Page::whole(fits.iter().map(FleetFit::from).collect())))
}

/// One fit with the heat shares of the units.
#[utoipa::path(
    tag = "fleet", security(("bearer" = ["units:read"])),
    params(("id" = Uuid, Path, description = "Id of the fit.")),
    responses((status = 200, description = "The fit.", body = WholeFleetFit))
)]
#[get("/v1/fleet-fits/{id}")]
async fn get_fleet_fit(
    caller: Caller<UnitsRead>,
    context: Shared,
    id: Path<Uuid>,
) -> Reply<Json<WholeFleetFit>> {
    let fit = fits::get(&context.service, &caller, *id, context.clock.now()).await?;
    Ok(Json(WholeFleetFit::from(&fit)))
}

/// Make a fit now instead of waiting for the weekly one. It holds for trials performed 25 hours later and after. While the
/// latest fit is less than an hour old, that one is answered.
#[utoipa::path(
    tag = "fleet", security(("bearer" = ["units:write"])),
    responses(
        (status = 201, description = "The fit that was made.", body = FleetFit),
        (status = 200, description = "The latest fit, less than an hour old.", body = FleetFit),
    )
)]
#[post("/v1/fleet-fits")]
async fn make_fleet_fit(caller: Caller<UnitsWrite>, context: Shared) -> Reply<HttpResponse> {
    let (fit, made_now) = fits::make(&context.service, &caller, context.clock.now()).await?;
    let mut reply = if made_now { HttpResponse::Created() } else { HttpResponse::Ok() };
    Ok(reply.json(FleetFit::from(&fit)))
}

/// Registers the operations of this file.
pub(super) fn register(config: &mut ServiceConfig<'_>) {
    config.service(list_fleet_fits).service(get_fleet_fit).service(make_fleet_fit);
}
