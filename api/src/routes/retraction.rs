//! Retractions.

use actix_web::web::{Json, Query};
use actix_web::{Responder, get, post};
use chrono::{DateTime, TimeDelta, Utc};
use serde::Deserialize;
use utoipa::IntoParams;
use utoipa_actix_web::service_config::ServiceConfig;
use uuid::Uuid;

use super::extract::{Body, Caller, TrialsRead, TrialsWrite};
use super::records::take_in;
use super::{Reply, Shared};
use crate::service::retraction as service;
use crate::wire::Page;
use crate::wire::records::RecordForm;
use crate::wire::retraction::Retraction;

/// Withdraws a record of any kind. Nothing is deleted: it stays as it was sent, no longer counts, and what followed from it is
/// worked out anew. The caller needs the scope to write records of that kind as well.
#[utoipa::path(
    tag = "records", security(("bearer" = ["trials:write"])), request_body = Retraction,
    responses(
        (status = 201, description = "Accepted.", body = Retraction),
        (status = 200, description = "It had been accepted before.", body = Retraction),
    )
)]
#[post("/v1/retractions")]
async fn send_retraction(caller: Caller<TrialsWrite>, context: Shared, body: Body) -> Reply<impl Responder> {
    take_in::<Retraction, _>(&caller, &context, &body).await
}

/// Which retractions to list.
#[derive(Debug, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
struct RetractionQuery {
    /// Of this record.
    record_id: Option<Uuid>,
    /// Made at or after; default a year ago.
    from: Option<DateTime<Utc>>,
}

/// Retractions, in order of time.
#[utoipa::path(
    tag = "records", security(("bearer" = ["trials:read"])), params(RetractionQuery),
    responses((status = 200, description = "The retractions.", body = Page<Retraction>))
)]
#[get("/v1/retractions")]
async fn list_retractions(
    caller: Caller<TrialsRead>,
    context: Shared,
    query: Query<RetractionQuery>,
) -> Reply<Json<Page<Retraction>>> {
    let now = context.clock.now();
    let from = query.from.unwrap_or_else(|| now - TimeDelta::days(366));
    let found = service::retractions(&context.service, &caller, query.record_id, from, now).await?;
    Ok(Json(Page::whole(found.iter().map(Retraction::show).collect())))
}

/// Registers the operations of this file.
pub(super) fn register(config: &mut ServiceConfig<'_>) {
    config.service(send_retraction).service(list_retractions);
}
