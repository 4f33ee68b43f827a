//! Trials from spreadsheets.

use actix_web::http::header::CONTENT_DISPOSITION;
use actix_web::web::Json;
use actix_web::{HttpResponse, get, post};
use utoipa_actix_web::service_config::ServiceConfig;

use super::extract::{Body, Caller, TrialsRead, TrialsWrite};
use super::{Reply, Shared};
use crate::problem::Problem;
use crate::service::imports as service;
use crate::view::imports::SheetReport;
use crate::wire::sheet::{TrialSheet, template};

/// Reads trials in a spreadsheet without keeping anything: which trials they come to, and what is wrong, line by line.
#[utoipa::path(
    tag = "imports", security(("bearer" = ["trials:write"])), request_body = TrialSheet,
    responses((status = 200, description = "What it would come to.", body = SheetReport))
)]
#[post("/v1/imports/preview")]
async fn preview_import(
    caller: Caller<TrialsWrite>,
    context: Shared,
    body: Body,
) -> Reply<Json<SheetReport>> {
    let sheet = body.json::<TrialSheet>()?.read().map_err(Problem::invalid)?;
    let seen = service::preview(&context.service, &caller, &sheet, context.clock.now()).await?;
    Ok(Json(SheetReport::preview(&seen)))
}

/// Takes the trials in a spreadsheet in, each as an item of an envelope. A sheet with problems keeps nothing unless `on_problem` is
/// `hold`; the report says what to mend. Sending the same sheet again adds nothing.
#[utoipa::path(
    tag = "imports", security(("bearer" = ["trials:write"])), request_body = TrialSheet,
    responses((status = 200, description = "What became of it; see `imported`.", body = SheetReport))
)]
#[post("/v1/imports")]
async fn import_trials(caller: Caller<TrialsWrite>, context: Shared, body: Body) -> Reply<Json<SheetReport>> {
    let sheet = body.json::<TrialSheet>()?.read().map_err(Problem::invalid)?;
    let imported = service::import(&context.service, &caller, &sheet, context.clock.now()).await?;
    Ok(Json(SheetReport::of(&imported)))
}

/// A sheet to begin with: the names of all columns, with units of measure that may be changed, and a coupon as an example. Columns that
/// are not needed may be left out.
#[utoipa::path(
    tag = "imports", security(("bearer" = ["trials:read"])),
    responses((status = 200, description = "The sheet.", body = String, content_type = "text/csv"))
)]
#[get("/v1/imports/template")]
async fn get_import_template(_caller: Caller<TrialsRead>) -> HttpResponse {
    HttpResponse::Ok()
        .content_type("text/csv; charset=utf-8; header=present")
        .insert_header((CONTENT_DISPOSITION, "attachment; filename=\"trials.csv\""))
        .body(template())
}

/// Registers the operations of this file.
pub(super) fn register(config: &mut ServiceConfig<'_>) {
    config.service(preview_import).service(import_trials).service(get_import_template);
}
