//! Health, metrics and the descriptions of problems.

use actix_web::web::{Json, Path};
use actix_web::{HttpRequest, HttpResponse, get};
use serde::Serialize;
use utoipa::ToSchema;
use utoipa_actix_web::service_config::ServiceConfig;

use super::{Reply, Shared, bearer};
use crate::problem::{Code, Problem};
use crate::service::Error;
use crate::telemetry;

/// How the service is.
#[derive(Debug, Serialize, ToSchema)]
struct Health {
    /// `ok`.
    #[schema(example = "ok")]
    status: &'static str,
    /// Version of the program.
    #[schema(example = "0.1.0")]
    version: &'static str,
}

const HEALTHY: Health = Health { status: "ok", version: env!("CARGO_PKG_VERSION") };

/// Whether the process runs.
#[utoipa::path(tag = "system", responses((status = 200, description = "It runs.", body = Health)))]
#[get("/healthz")]
async fn get_health() -> Json<Health> {
    Json(HEALTHY)
}

/// Whether it can serve: the database answers.
#[utoipa::path(
    tag = "system",
    responses(
        (status = 200, description = "It can serve.", body = Health),
        (status = 503, description = "The database does not answer.", body = crate::problem::ProblemBody,
         content_type = "application/problem+json"),
    )
)]
#[get("/readyz")]
async fn get_readiness(context: Shared) -> Reply<Json<Health>> {
    context.service.store.ping().await.map_err(Error::from)?;
    Ok(Json(HEALTHY))
}

/// Metrics of the process in the text format of Prometheus, for the operator's token.
#[utoipa::path(
    tag = "system", security(("operator" = [])),
    responses((status = 200, description = "The metrics.", body = String, content_type = "text/plain"))
)]
#[get("/metrics")]
async fn get_metrics(context: Shared, request: HttpRequest) -> Reply<HttpResponse> {
    let given = bearer(&request).unwrap_or_default();
    // Digests are compared, so that the time it takes tells nothing of the token.
    let matches =
        |token: &String| crate::auth::digest(token.as_bytes()) == crate::auth::digest(given.as_bytes());
    if !context.operator_token.as_ref().is_some_and(matches) {
        return Err(Error::Unauthenticated.into());
    }
    Ok(HttpResponse::Ok().content_type("text/plain; version=0.0.4").body(telemetry::metrics().render()))
}

/// A kind of problem.
#[derive(Debug, Serialize, ToSchema)]
struct ProblemKind {
    /// Its stable code.
    #[schema(example = "invalid_record")]
    code: &'static str,
    /// The HTTP status it comes with.
    #[schema(example = 422)]
    status: u16,
    /// It in words.
    title: &'static str,
}

/// What a kind of problem means: where the `type` of a problem points.
#[utoipa::path(
    tag = "system",
    params(("code" = String, Path, description = "Code of the kind.")),
    responses((status = 200, description = "The kind.", body = ProblemKind))
)]
#[get("/problems/{code}")]
async fn get_problem_kind(code: Path<String>) -> Reply<Json<ProblemKind>> {
    let kind = Code::ALL.iter().find(|kind| kind.code() == code.as_str());
    let kind = kind.ok_or_else(|| Problem::new(Code::NotFound, "There is no such kind of problem."))?;
    Ok(Json(ProblemKind { code: kind.code(), status: kind.status().as_u16(), title: kind.title() }))
}

/// Registers the operations of this file.
pub(super) fn register(config: &mut ServiceConfig<'_>) {
    config.service(get_health).service(get_readiness).service(get_metrics).service(get_problem_kind);
}
