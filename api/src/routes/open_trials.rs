//! Trials that are sent piece by piece: a header, coupons as their strips are peeled, a close.

use actix_web::http::StatusCode;
use actix_web::http::header::LOCATION;
use actix_web::web::{Json, Path, Query};
use actix_web::{Responder, get, post};
use serde::Deserialize;
use serde_json::value::RawValue;
use utoipa::IntoParams;
use utoipa_actix_web::service_config::ServiceConfig;
use uuid::Uuid;

use super::extract::{Body, Caller, TrialsRead, TrialsWrite};
use super::paging::Asked;
use super::trials::shown;
use super::{Reply, Shared};
use crate::model::RecordKind;
use crate::problem::Problem;
use crate::service::open_trials as service;
use crate::storage::records::OpenTrialFilter;
use crate::view::answer::TrialAnswer;
use crate::view::open_trials::{OpenTrialProgress, OpenTrialSummary};
use crate::wire::Page;
use crate::wire::records::RecordForm;
use crate::wire::trial::{OpenTrial, SentCoupon, TrialClose};

/// Begins a trial that is sent piece by piece: everything but its coupons. It enters nothing until it is closed, and waits as long
/// as that takes.
#[utoipa::path(
    tag = "trials", security(("bearer" = ["trials:write"])), request_body = OpenTrial,
    responses(
        (status = 201, description = "Accepted; the open trial.", body = OpenTrialProgress,
         headers(("Location" = String, description = "Address of the open trial."))),
        (status = 200, description = "It had been accepted before; the open trial as it is now.", body = OpenTrialProgress),
        (status = 409, description = "The id was accepted with other content.", body = crate::problem::ProblemBody,
         content_type = "application/problem+json"),
    )
)]
#[post("/v1/open-trials")]
async fn send_open_trial(caller: Caller<TrialsWrite>, context: Shared, body: Body) -> Reply<impl Responder> {
    let now = context.clock.now();
    let record = body.read(OpenTrial::parse)?.read().map_err(Problem::invalid)?;
    let (new, progress) =
        service::receive(&context.service, &caller, (&body.0, &record, record.id), now).await?;
    let reply = (Json(progress_shown(&progress)?), status(new)).customize();
    Ok(reply.insert_header((LOCATION, format!("/v1/open-trials/{}", record.id))))
}

/// Takes a coupon of an open trial in, and answers what all its coupons say so far, above all what to weld next.
#[utoipa::path(
    tag = "trials", security(("bearer" = ["trials:write"])), request_body = SentCoupon,
    responses(
        (status = 201, description = "Accepted; the open trial.", body = OpenTrialProgress,
         headers(("Location" = String, description = "Address of the coupon."))),
        (status = 200, description = "It had been accepted before; the open trial as it is now.", body = OpenTrialProgress),
        (status = 409, description = "The id was accepted with other content.", body = crate::problem::ProblemBody,
         content_type = "application/problem+json"),
    )
)]
#[post("/v1/coupons")]
async fn send_coupon(caller: Caller<TrialsWrite>, context: Shared, body: Body) -> Reply<impl Responder> {
    let now = context.clock.now();
    let record = body.json::<SentCoupon>()?.read().map_err(Problem::invalid)?;
    let (new, progress) =
        service::receive(&context.service, &caller, (&body.0, &record, record.open_trial_id), now).await?;
    let reply = (Json(progress_shown(&progress)?), status(new)).customize();
    Ok(reply.insert_header((LOCATION, format!("/v1/coupons/{}", record.id))))
}

/// Closes an open trial: header and the coupons named become a trial like any other, under the id `trial_id`, which is answered
/// as one that is sent whole. It is read, corrected and withdrawn under that id; withdrawn, the open trial is open again.
#[utoipa::path(
    tag = "trials", security(("bearer" = ["trials:write"])), request_body = TrialClose,
    responses(
        (status = 201, description = "Accepted; the answer to the trial.", body = TrialAnswer,
         headers(("Location" = String, description = "Address of the trial."))),
        (status = 200, description = "It had been accepted before; the answer as it is now.", body = TrialAnswer),
        (status = 409, description = "The id of the close or of the trial was accepted with other content.",
         body = crate::problem::ProblemBody, content_type = "application/problem+json"),
    )
)]
#[post("/v1/trial-closes")]
async fn send_trial_close(caller: Caller<TrialsWrite>, context: Shared, body: Body) -> Reply<impl Responder> {
    let now = context.clock.now();
    let close = body.json::<TrialClose>()?.read(now).map_err(Problem::invalid)?;
    let answer = service::close(&context.service, &caller, &body.0, &close, now).await?;
    let reply = (Json(TrialAnswer::of(&answer, now)), status(!answer.duplicate)).customize();
    Ok(reply.insert_header((LOCATION, format!("/v1/trials/{}", close.trial_id))))
}

fn progress_shown(progress: &service::Progress) -> Reply<OpenTrialProgress> {
    let coupons = progress.coupons.iter().map(|bytes| shown(bytes)).collect::<Reply<_>>()?;
    Ok(OpenTrialProgress::of(progress, shown(&progress.header.bytes)?, coupons))
}

fn status(new: bool) -> StatusCode {
    if new { StatusCode::CREATED } else { StatusCode::OK }
}

/// Which open trials to list.
#[derive(Debug, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
struct OpenTrialQuery {
    /// Of this unit.
    unit_id: Option<Uuid>,
    /// Of this crew.
    crew_id: Option<Uuid>,
    /// At most so many, 1 to 200; default 50.
    #[param(minimum = 1, maximum = 200)]
    limit: Option<u16>,
    /// `next_cursor` of the page before.
    cursor: Option<String>,
}

/// Unfinished trials, the latest first.
#[utoipa::path(
    tag = "trials", security(("bearer" = ["trials:read"])), params(OpenTrialQuery),
    responses((status = 200, description = "A page of open trials.", body = Page<OpenTrialSummary>))
)]
#[get("/v1/open-trials")]
async fn list_open_trials(
    caller: Caller<TrialsRead>,
    context: Shared,
    query: Query<OpenTrialQuery>,
) -> Reply<Json<Page<OpenTrialSummary>>> {
    let page = Asked::read(query.limit, query.cursor.as_deref())?;
    let filter = OpenTrialFilter {
        unit_id: query.unit_id,
        crew_id: query.crew_id,
        after: page.after,
        limit: page.rows(),
    };
    let mut rows = service::unfinished(&context.service, &caller, filter).await?;
    let next_cursor = page.cut(&mut rows, |row| (row.performed_at, row.id));
    Ok(Json(Page { items: rows.iter().map(OpenTrialSummary::from).collect(), next_cursor }))
}

/// One open trial: what was sent of it, what its coupons say so far, and what became of it.
#[utoipa::path(
    tag = "trials", security(("bearer" = ["trials:read"])),
    params(("id" = Uuid, Path, description = "Id of the open trial.")),
    responses((status = 200, description = "The open trial.", body = OpenTrialProgress))
)]
#[get("/v1/open-trials/{id}")]
async fn get_open_trial(
    caller: Caller<TrialsRead>,
    context: Shared,
    id: Path<Uuid>,
) -> Reply<Json<OpenTrialProgress>> {
    Ok(Json(progress_shown(&service::get(&context.service, &caller, *id).await?)?))
}

/// A coupon that was sent for an open trial, every literal as it was sent.
#[utoipa::path(
    tag = "trials", security(("bearer" = ["trials:read"])),
    params(("id" = Uuid, Path, description = "Id of the coupon.")),
    responses((status = 200, description = "The coupon.", body = SentCoupon))
)]
#[get("/v1/coupons/{id}")]
async fn get_coupon(
    caller: Caller<TrialsRead>,
    context: Shared,
    id: Path<Uuid>,
) -> Reply<Json<Box<RawValue>>> {
    let found = service::piece(&context.service, &caller, RecordKind::SentCoupon, *id).await?;
    Ok(Json(shown(&found.bytes)?))
}

/// The close of an open trial, every literal as it was sent.
#[utoipa::path(
    tag = "trials", security(("bearer" = ["trials:read"])),
    params(("id" = Uuid, Path, description = "Id of the close.")),
    responses((status = 200, description = "The close.", body = TrialClose))
)]
#[get("/v1/trial-closes/{id}")]
async fn get_trial_close(
    caller: Caller<TrialsRead>,
    context: Shared,
    id: Path<Uuid>,
) -> Reply<Json<Box<RawValue>>> {
    let found = service::piece(&context.service, &caller, RecordKind::TrialClose, *id).await?;
    Ok(Json(shown(&found.bytes)?))
}

/// Registers the operations of this file.
pub(super) fn register(config: &mut ServiceConfig<'_>) {
    config
        .service(send_open_trial)
        .service(send_coupon)
        .service(send_trial_close)
        .service(list_open_trials)
        .service(get_open_trial)
        .service(get_coupon)
        .service(get_trial_close);
}
