//! Calculators: a question in, an answer out, nothing stored.

use actix_web::post;
use actix_web::web::Json;
use utoipa_actix_web::service_config::ServiceConfig;

use super::extract::{Body, Caller, TrialsRead, TrialsWrite};
use super::{Reply, Shared};
use crate::problem::Problem;
use crate::service::calculations as service;
use crate::view::calculations::{
    CarryAnswer, DewPointAnswer, PeelAnswer, ReaderAnswer, SeriesAnswer, SupplyAnswer,
};
use crate::view::evaluation::TrialEvaluation;
use crate::wire::calculations::{
    CarryQuestion, DewPointQuestion, PeelQuestion, ReaderQuestion, SeriesQuestion, SupplyQuestion,
};
use crate::wire::trial::Trial;

/// What a trial says, and what to weld next, while it is still going on or before it is sent. Nothing is stored: the same
/// record can be sent to `/v1/trials` afterwards, with more coupons under the same id.
#[utoipa::path(
    tag = "calculations", security(("bearer" = ["trials:write"])), request_body = Trial,
    responses((status = 200, description = "The evaluation.", body = TrialEvaluation))
)]
#[post("/v1/calculations/trial")]
async fn evaluate_trial(
    caller: Caller<TrialsWrite>,
    context: Shared,
    body: Body,
) -> Reply<Json<TrialEvaluation>> {
    let trial = body.json::<Trial>()?.read().map_err(Problem::invalid)?;
    let (judged_by, evaluation) = service::trial(&context.service, &caller, &trial).await?;
    let units = (trial.temperature_unit, trial.speed_unit);
    Ok(Json(TrialEvaluation::of(&evaluation, judged_by.prior.as_ref(), units)))
}

/// Set temperatures at another sheet temperature and speed: where to begin when the weather has changed or the welder is
/// to run faster.
#[utoipa::path(
    tag = "calculations", security(("bearer" = ["trials:read"])), request_body = CarryQuestion,
    responses((status = 200, description = "The temperatures.", body = CarryAnswer))
)]
#[post("/v1/calculations/carried-temperatures")]
async fn carry_temperatures(
    caller: Caller<TrialsRead>,
    context: Shared,
    body: Body,
) -> Reply<Json<CarryAnswer>> {
    let question = body.json::<CarryQuestion>()?.read().map_err(Problem::invalid)?;
    let found = service::of_carry(&context.service, &caller, &question).await?;
    Ok(Json(CarryAnswer::of(&question, &found)))
}

/// What a cord leaves of a unit's voltage, how hot the unit can still get, and which cord would do.
#[utoipa::path(
    tag = "calculations", security(("bearer" = ["trials:read"])), request_body = SupplyQuestion,
    responses((status = 200, description = "The supply.", body = SupplyAnswer))
)]
#[post("/v1/calculations/supply")]
async fn find_supply(caller: Caller<TrialsRead>, context: Shared, body: Body) -> Reply<Json<SupplyAnswer>> {
    let question = body.json::<SupplyQuestion>()?.read().map_err(Problem::invalid)?;
    let found = service::of_supply(&context.service, &caller, &question).await?;
    Ok(Json(SupplyAnswer::of(&question, &found)))
}

/// The dew point, and how far a sheet lies above it.
#[utoipa::path(
    tag = "calculations", security(("bearer" = ["trials:read"])), request_body = DewPointQuestion,
    responses((status = 200, description = "The dew point.", body = DewPointAnswer))
)]
#[post("/v1/calculations/dew-point")]
async fn find_dew_point(
    caller: Caller<TrialsRead>,
    context: Shared,
    body: Body,
) -> Reply<Json<DewPointAnswer>> {
    let question = body.json::<DewPointQuestion>()?.read().map_err(Problem::invalid)?;
    let found = service::of_dew_point(&context.service, &caller, &question).await?;
    Ok(Json(DewPointAnswer::of(&question, &found)))
}

/// The forces of a peeled strip: over a named stretch of its trace, and over the strip's width.
#[utoipa::path(
    tag = "calculations", security(("bearer" = ["trials:read"])), request_body = PeelQuestion,
    responses((status = 200, description = "The forces.", body = PeelAnswer))
)]
#[post("/v1/calculations/peel")]
async fn read_peel_trace(caller: Caller<TrialsRead>, context: Shared, body: Body) -> Reply<Json<PeelAnswer>> {
    let question = body.json::<PeelQuestion>()?.read().map_err(Problem::invalid)?;
    let (trace, peel) = service::of_peel(&context.service, &caller, &question).await?;
    Ok(Json(PeelAnswer::of(&question, &trace, &peel)))
}

/// How far two people agree who read the same strips, beyond chance: for training, and to see who reads differently.
#[utoipa::path(
    tag = "calculations", security(("bearer" = ["trials:read"])), request_body = ReaderQuestion,
    responses((status = 200, description = "The agreement.", body = ReaderAnswer))
)]
#[post("/v1/calculations/reader-agreement")]
async fn compare_readers(
    caller: Caller<TrialsRead>,
    context: Shared,
    body: Body,
) -> Reply<Json<ReaderAnswer>> {
    let sessions = body.json::<ReaderQuestion>()?.read().map_err(Problem::invalid)?;
    let pooled = service::of_readers(&context.service, &caller, &sessions).await?;
    Ok(Json(ReaderAnswer::of(&sessions, &pooled)))
}

/// Chart, level and trend of a series of measured edges, by textbook methods: for edges that were worked out elsewhere.
#[utoipa::path(
    tag = "calculations", security(("bearer" = ["trials:read"])), request_body = SeriesQuestion,
    responses((status = 200, description = "Chart, level and trend.", body = SeriesAnswer))
)]
#[post("/v1/calculations/series")]
async fn chart_series(caller: Caller<TrialsRead>, context: Shared, body: Body) -> Reply<Json<SeriesAnswer>> {
    let question = body.json::<SeriesQuestion>()?.read().map_err(Problem::invalid)?;
    let found = service::of_series(&context.service, &caller, &question).await?;
    Ok(Json(SeriesAnswer::of(&question, &found)))
}

/// Registers the operations.
pub fn register(config: &mut ServiceConfig<'_>) {
    config
        .service(evaluate_trial)
        .service(carry_temperatures)
        .service(find_supply)
        .service(find_dew_point)
        .service(read_peel_trace)
        .service(compare_readers)
        .service(chart_series);
}
