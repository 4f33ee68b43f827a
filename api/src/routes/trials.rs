//! Trials.

use actix_web::http::StatusCode;
use actix_web::http::header::{LINK, LOCATION};
use actix_web::web::{Json, Path, Query};
use actix_web::{HttpRequest, Responder, get, post};
use chrono::{DateTime, Utc};
use lapwatch_domain::Coded;
use lapwatch_domain::peel::Region;
use serde::Deserialize;
use serde_json::value::RawValue;
use utoipa::IntoParams;
use utoipa_actix_web::service_config::ServiceConfig;
use uuid::Uuid;

use super::extract::{Body, Caller, TrialsRead, TrialsWrite};
use super::paging::Asked;
use super::{Reply, Shared};
use crate::problem::{Code, Problem};
use crate::service::trials as service;
use crate::storage::records::TrialFilter;
use crate::view::answer::{StoredTrial, TrialAnswer, TrialSummary};
use crate::view::calculations::StripPeel;
use crate::wire::Page;
use crate::wire::trial::Trial;

/// Takes a trial in and answers it: what each strip showed, both edges, band, set point, what to weld next, the unit's
/// standing. Nothing is stored when it is refused. Sending the same record again is harmless.
#[utoipa::path(
    tag = "trials", security(("bearer" = ["trials:write"])), request_body = Trial,
    responses(
        (status = 201, description = "Accepted; the answer.", body = TrialAnswer,
         headers(("Location" = String, description = "Address of the trial."))),
        (status = 200, description = "This record had been accepted before; the answer as it is now.", body = TrialAnswer),
        (status = 409, description = "The id was accepted with other content.", body = crate::problem::ProblemBody,
         content_type = "application/problem+json"),
    )
)]
#[post("/v1/trials")]
async fn send_trial(caller: Caller<TrialsWrite>, context: Shared, body: Body) -> Reply<impl Responder> {
    let now = context.clock.now();
    let trial = body.json::<Trial>()?.read().map_err(Problem::invalid)?;
    let answer = service::receive(&context.service, &caller, &body.0, &trial, now).await?;
    let status = if answer.duplicate { StatusCode::OK } else { StatusCode::CREATED };
    let location = format!("/v1/trials/{}", trial.id);
    Ok((Json(TrialAnswer::of(&answer, now)), status).customize().insert_header((LOCATION, location)))
}

/// One trial: the record as it was sent, and the answer as it is now.
#[utoipa::path(
    tag = "trials", security(("bearer" = ["trials:read"])),
    params(("id" = Uuid, Path, description = "Id of the trial.")),
    responses((status = 200, description = "The trial.", body = StoredTrial))
)]
#[get("/v1/trials/{id}")]
async fn get_trial(caller: Caller<TrialsRead>, context: Shared, id: Path<Uuid>) -> Reply<impl Responder> {
    let now = context.clock.now();
    let answer = service::get(&context.service, &caller, *id, now).await?;
    let record = shown(answer.submission.bytes.as_slice())?;
    Ok(Json(StoredTrial { record, answer: TrialAnswer::of(&answer, now) }))
}

/// Which stretch of the traces is asked about.
#[derive(Debug, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
struct PeelQuery {
    /// `after_peak_127_mm`, `skip_25_take_100_mm`, `central_80_percent` or `central_50_percent`; default
    /// `central_80_percent`.
    region: Option<String>,
}

/// The forces of those strips of a trial that have a peel trace, in the order of the record.
#[utoipa::path(
    tag = "trials", security(("bearer" = ["trials:read"])),
    params(("id" = Uuid, Path, description = "Id of the trial."), PeelQuery),
    responses((status = 200, description = "The strips.", body = Page<StripPeel>))
)]
#[get("/v1/trials/{id}/peel")]
async fn get_trial_peel(
    caller: Caller<TrialsRead>,
    context: Shared,
    id: Path<Uuid>,
    query: Query<PeelQuery>,
) -> Reply<Json<Page<StripPeel>>> {
    let region = code(query.region.as_deref(), "region")?.unwrap_or(Region::Central80);
    let strips = service::peel(&context.service, &caller, *id, region).await?;
    Ok(Json(Page::whole(strips.iter().map(StripPeel::from).collect())))
}

/// Which trials to list.
#[derive(Debug, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
struct TrialQuery {
    /// Of this unit.
    unit_id: Option<Uuid>,
    /// Of this crew.
    crew_id: Option<Uuid>,
    /// `commissioning`, `sweep`, `confirmation` or `recheck`.
    purpose: Option<String>,
    /// `stands`, `margin_lost`, `failed` or `no_verdict`.
    outcome: Option<String>,
    /// Performed at or after.
    from: Option<DateTime<Utc>>,
    /// Performed before.
    to: Option<DateTime<Utc>>,
    /// At most so many, 1 to 200; default 50.
    #[param(minimum = 1, maximum = 200)]
    limit: Option<u16>,
    /// `next_cursor` of the page before.
    cursor: Option<String>,
}

/// Trials, the latest first.
#[utoipa::path(
    tag = "trials", security(("bearer" = ["trials:read"])), params(TrialQuery),
    responses((status = 200, description = "A page of trials.", body = Page<TrialSummary>,
               headers(("Link" = String, description = "The next page, rel=\"next\" (RFC 8288)."))))
)]
#[get("/v1/trials")]
async fn list_trials(
    caller: Caller<TrialsRead>,
    context: Shared,
    request: HttpRequest,
    query: Query<TrialQuery>,
) -> Reply<impl Responder> {
    let page = Asked::read(query.limit, query.cursor.as_deref())?;
    let filter = TrialFilter {
        unit_id: query.unit_id,
        crew_id: query.crew_id,
        purpose: code(query.purpose.as_deref(), "purpose")?,
        outcome: code(query.outcome.as_deref(), "outcome")?,
        from: query.from,
        to: query.to,
        after: page.after,
        limit: page.rows(),
    };
    let mut rows = service::list(&context.service, &caller, filter).await?;
    let next_cursor = page.cut(&mut rows, |row| (row.performed_at, row.id));
    let link = next_cursor.as_ref().map(|cursor| next_link(request.query_string(), cursor));
    let page = Page { items: rows.iter().map(TrialSummary::from).collect(), next_cursor };
    let reply = Json(page).customize();
    Ok(match link {
        Some(link) => reply.insert_header((LINK, link)),
        None => reply,
    })
}

/// A record as it was sent, every literal.
pub(super) fn shown(bytes: &[u8]) -> Reply<Box<RawValue>> {
    serde_json::from_slice(bytes)
        .map_err(|_| Problem::new(Code::Internal, "The stored record cannot be shown."))
}

/// The value behind a code in the query.
pub(super) fn code<T: Coded>(given: Option<&str>, name: &str) -> Reply<Option<T>> {
    given
        .map(|code| {
            T::from_code(code).ok_or_else(|| {
                let known = crate::wire::codes::<T>();
                Problem::new(Code::BadRequest, format!("`{name}` is one of {known}."))
            })
        })
        .transpose()
}

fn next_link(query: &str, cursor: &str) -> String {
    let kept = query.split('&').filter(|part| !part.is_empty() && !part.starts_with("cursor="));
    let query = kept.map(str::to_owned).chain([format!("cursor={cursor}")]).collect::<Vec<_>>().join("&");
    format!("</v1/trials?{query}>; rel=\"next\"")
}

/// Registers the operations of this file.
pub(super) fn register(config: &mut ServiceConfig<'_>) {
    config.service(send_trial).service(list_trials).service(get_trial).service(get_trial_peel);
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_next_page_keeps_the_filters() {
        let link = next_link("unit_id=7&cursor=1.2&limit=5", "3.4");
        assert_eq!(link, "</v1/trials?unit_id=7&limit=5&cursor=3.4>; rel=\"next\"");
    }
}
