//! Second readings of strips, and how far people agree.

use actix_web::web::{Json, Query};
use actix_web::{Responder, get, post};
use chrono::{DateTime, Utc};
use serde::Deserialize;
use utoipa::IntoParams;
use utoipa_actix_web::service_config::ServiceConfig;
use uuid::Uuid;

use super::extract::{Body, Caller, TrialsRead, TrialsWrite};
use super::records::take_in;
use super::{Reply, Shared};
use crate::service::readings as service;
use crate::storage::records::ReadingFilter;
use crate::view::readings::PairAgreement;
use crate::wire::Page;
use crate::wire::readings::SecondReading;
use crate::wire::records::RecordForm as _;

/// Takes in what another person read of a trial's strips. The trial, its answer and its unit's history stand as they are.
#[utoipa::path(
    tag = "trials", security(("bearer" = ["trials:write"])), request_body = SecondReading,
    responses(
        (status = 201, description = "Accepted.", body = SecondReading),
        (status = 200, description = "It had been accepted before.", body = SecondReading),
    )
)]
#[post("/v1/second-readings")]
async fn send_second_reading(
    caller: Caller<TrialsWrite>,
    context: Shared,
    body: Body,
) -> Reply<impl Responder> {
    take_in::<SecondReading, _>(&caller, &context, &body).await
}

/// Which second readings to look at.
#[derive(Debug, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
struct ReadingQuery {
    /// Of this trial.
    trial_id: Option<Uuid>,
    /// Of this crew's trials.
    crew_id: Option<Uuid>,
    /// Read at or after.
    from: Option<DateTime<Utc>>,
    /// Read before.
    to: Option<DateTime<Utc>>,
}

impl ReadingQuery {
    fn filter(&self) -> ReadingFilter {
        ReadingFilter { trial_id: self.trial_id, crew_id: self.crew_id, from: self.from, to: self.to }
    }
}

/// Second readings, in order of time.
#[utoipa::path(
    tag = "trials", security(("bearer" = ["trials:read"])), params(ReadingQuery),
    responses((status = 200, description = "The second readings.", body = Page<SecondReading>))
)]
#[get("/v1/second-readings")]
async fn list_second_readings(
    caller: Caller<TrialsRead>,
    context: Shared,
    query: Query<ReadingQuery>,
) -> Reply<Json<Page<SecondReading>>> {
    let readings = service::list(&context.service, &caller, query.filter()).await?;
    Ok(Json(Page::whole(readings.iter().map(SecondReading::show).collect())))
}

/// How far people agree who read the same trials' strips, for every two of them: beyond chance, by month, and what they
/// take for what. Of several readings of a trial by one person the last counts.
#[utoipa::path(
    tag = "trials", security(("bearer" = ["trials:read"])), params(ReadingQuery),
    responses((status = 200, description = "The pairs, in order of names.", body = Page<PairAgreement>))
)]
#[get("/v1/reader-agreement")]
async fn list_reader_agreement(
    caller: Caller<TrialsRead>,
    context: Shared,
    query: Query<ReadingQuery>,
) -> Reply<Json<Page<PairAgreement>>> {
    let pairs = service::pairs(&context.service, &caller, query.filter()).await?;
    Ok(Json(Page::whole(pairs.iter().map(PairAgreement::from).collect())))
}

/// Registers the operations of this file.
pub(super) fn register(config: &mut ServiceConfig<'_>) {
    config.service(send_second_reading).service(list_second_readings).service(list_reader_agreement);
}
