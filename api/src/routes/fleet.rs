//! The fleet, units' histories and standings, flags and rechecks.

use actix_web::web::{Json, Path, Query};
use actix_web::{get, post};
use serde::Deserialize;
use utoipa::IntoParams;
use utoipa_actix_web::service_config::ServiceConfig;
use uuid::Uuid;

use super::extract::{Body, Caller, RechecksRead, UnitsRead};
use super::trials::code;
use super::{Reply, Shared};
use crate::problem::Problem;
use crate::service::{fleet, starting, units};
use crate::storage::derived::{FlagFilter, RecheckFilter};
use crate::view::fleet::{Flag, Fleet, Recheck, UnitStanding};
use crate::view::history::History;
use crate::view::starting::StartingSteps;
use crate::wire::Page;
use crate::wire::starting::StartConditions;

/// The fleet at a glance: where every unit stands, its margin, last trial, next recheck and open flags.
#[utoipa::path(
    tag = "fleet", security(("bearer" = ["units:read"])),
    responses((status = 200, description = "The fleet as it is now.", body = Fleet))
)]
#[get("/v1/fleet")]
async fn get_fleet(caller: Caller<UnitsRead>, context: Shared) -> Reply<Json<Fleet>> {
    let now = context.clock.now();
    let rows = fleet::board(&context.service, &caller, now).await?;
    Ok(Json(Fleet::of(&rows, now)))
}

/// The history of a unit: both edges at reference conditions, trial by trial, with their charts and signals.
#[utoipa::path(
    tag = "fleet", security(("bearer" = ["units:read"])),
    params(("id" = Uuid, Path, description = "Id of the unit.")),
    responses((status = 200, description = "The history.", body = History))
)]
#[get("/v1/units/{id}/history")]
async fn get_history(caller: Caller<UnitsRead>, context: Shared, id: Path<Uuid>) -> Reply<Json<History>> {
    let history = units::history(&context.service, &caller, *id, context.clock.now()).await?;
    Ok(Json(History::of(&history)))
}

/// Where a unit stands and why, with its flags, rechecks and the spans to probe.
#[utoipa::path(
    tag = "fleet", security(("bearer" = ["units:read"])),
    params(("id" = Uuid, Path, description = "Id of the unit.")),
    responses((status = 200, description = "The standing.", body = UnitStanding))
)]
#[get("/v1/units/{id}/standing")]
async fn get_standing(
    caller: Caller<UnitsRead>,
    context: Shared,
    id: Path<Uuid>,
) -> Reply<Json<UnitStanding>> {
    let now = context.clock.now();
    let situation = units::situation(&context.service, &caller, *id, now).await?;
    Ok(Json(UnitStanding::of(&situation, now)))
}

/// Where to begin today: the settings to weld coupons at, from what the unit's history lets expect under these conditions, with
/// the band, how old that knowledge is, and the advice to weld slower where the set point would lie at a limit. Nothing is
/// stored.
#[utoipa::path(
    tag = "fleet", security(("bearer" = ["units:read"])), request_body = StartConditions,
    params(("id" = Uuid, Path, description = "Id of the unit.")),
    responses((status = 200, description = "The steps, or the advice to make a full sweep.", body = StartingSteps))
)]
#[post("/v1/units/{id}/starting-steps")]
async fn get_starting_steps(
    caller: Caller<UnitsRead>,
    context: Shared,
    id: Path<Uuid>,
    body: Body,
) -> Reply<Json<StartingSteps>> {
    let conditions = body.json::<StartConditions>()?.read().map_err(Problem::invalid)?;
    let now = context.clock.now();
    let start = starting::steps(&context.service, &caller, *id, &conditions, now).await?;
    Ok(Json(StartingSteps::from(&start)))
}

/// Which flags to list.
#[derive(Debug, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
struct FlagQuery {
    /// Of this unit.
    unit_id: Option<Uuid>,
    /// `open`, `acknowledged`, `closed` or `not_confirmed`.
    state: Option<String>,
}

/// Flags, the latest first.
#[utoipa::path(
    tag = "fleet", security(("bearer" = ["rechecks:read"])), params(FlagQuery),
    responses((status = 200, description = "The flags.", body = Page<Flag>))
)]
#[get("/v1/flags")]
async fn list_flags(
    caller: Caller<RechecksRead>,
    context: Shared,
    query: Query<FlagQuery>,
) -> Reply<Json<Page<Flag>>> {
    let filter =
        FlagFilter { unit_id: query.unit_id, state: code(query.state.as_deref(), "state")?, id: None };
    let flags = fleet::flags(&context.service, &caller, filter, context.clock.now()).await?;
    Ok(Json(Page::whole(flags.iter().map(Flag::from).collect())))
}

/// One flag.
#[utoipa::path(
    tag = "fleet", security(("bearer" = ["rechecks:read"])),
    params(("id" = Uuid, Path, description = "Id of the flag.")),
    responses((status = 200, description = "The flag.", body = Flag))
)]
#[get("/v1/flags/{id}")]
async fn get_flag(caller: Caller<RechecksRead>, context: Shared, id: Path<Uuid>) -> Reply<Json<Flag>> {
    Ok(Json(Flag::from(&fleet::flag(&context.service, &caller, *id, context.clock.now()).await?)))
}

/// Which rechecks to list.
#[derive(Debug, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
struct RecheckQuery {
    /// Of this unit.
    unit_id: Option<Uuid>,
    /// Of this crew.
    crew_id: Option<Uuid>,
    /// `open`, `overdue`, `satisfied`, `missed` or `waived`.
    state: Option<String>,
}

/// Rechecks of the last two months and the coming day, the latest due first, each check of a set point with the settings to weld.
#[utoipa::path(
    tag = "fleet", security(("bearer" = ["rechecks:read"])), params(RecheckQuery),
    responses((status = 200, description = "The rechecks.", body = Page<Recheck>))
)]
#[get("/v1/rechecks")]
async fn list_rechecks(
    caller: Caller<RechecksRead>,
    context: Shared,
    query: Query<RecheckQuery>,
) -> Reply<Json<Page<Recheck>>> {
    let now = context.clock.now();
    let filter = RecheckFilter {
        unit_id: query.unit_id,
        crew_id: query.crew_id,
        state: code(query.state.as_deref(), "state")?,
    };
    let rechecks = fleet::rechecks(&context.service, &caller, filter, now).await?;
    Ok(Json(Page::whole(rechecks.iter().map(|recheck| Recheck::with_steps(recheck, now)).collect())))
}

/// Registers the operations of this file.
pub(super) fn register(config: &mut ServiceConfig<'_>) {
    config
        .service(get_fleet)
        .service(get_history)
        .service(get_standing)
        .service(get_starting_steps)
        .service(list_flags)
        .service(get_flag)
        .service(list_rechecks);
}
