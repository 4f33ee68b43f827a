//! Rechecks that are not due, or were not.

use actix_web::post;
use actix_web::web::Json;
use utoipa_actix_web::service_config::ServiceConfig;

use super::extract::{Body, Caller, ConfigurationRead, RechecksRead};
use super::{Reply, Shared};
use crate::problem::Problem;
use crate::service::scheduling as service;
use crate::view::scheduling::{Foreseen, PolicyPreview};
use crate::wire::Page;
use crate::wire::scheduling::{PolicyQuestion, WeatherQuestion};

/// What would be due on a day if the sheet were colder or warmer, or the wind stronger: every unit that is in use then, by
/// label, with what the weather adds. Nothing is stored.
#[utoipa::path(
    tag = "fleet", security(("bearer" = ["rechecks:read"])), request_body = WeatherQuestion,
    responses((status = 200, description = "What would be due.", body = Page<Foreseen>))
)]
#[post("/v1/rechecks/what-if")]
async fn ask_what_if(
    caller: Caller<RechecksRead>,
    context: Shared,
    body: Body,
) -> Reply<Json<Page<Foreseen>>> {
    let now = context.clock.now();
    let question = body.json::<WeatherQuestion>()?.read(now).map_err(Problem::invalid)?;
    let found = service::in_other_weather(&context.service, &caller, &question, now).await?;
    Ok(Json(Page::whole(found.iter().map(Foreseen::from).collect())))
}

/// What a policy would have asked for in the past, beside the policy in force now: how many rechecks and why, how many were
/// late, how many flags. Nothing is stored.
#[utoipa::path(
    tag = "configuration", security(("bearer" = ["configuration:read"])), request_body = PolicyQuestion,
    responses((status = 200, description = "What both would have asked for.", body = PolicyPreview))
)]
#[post("/v1/policies/preview")]
async fn preview_policy(
    caller: Caller<ConfigurationRead>,
    context: Shared,
    body: Body,
) -> Reply<Json<PolicyPreview>> {
    let now = context.clock.now();
    let question = body.json::<PolicyQuestion>()?.read(now).map_err(Problem::invalid)?;
    let preview = service::by_other_policy(&context.service, &caller, &question, now).await?;
    Ok(Json(PolicyPreview::of(&question, &preview)))
}

/// Registers the operations of this file.
pub(super) fn register(config: &mut ServiceConfig<'_>) {
    config.service(ask_what_if).service(preview_policy);
}
