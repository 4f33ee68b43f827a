//! Sites, crews, membranes, lots, units, exceptions to the criteria: kinds of subject with the same four operations;
//! criteria and policy.

use actix_web::web::{Json, Path};
use actix_web::{HttpRequest, HttpResponse, Responder, get, post, put};
use utoipa_actix_web::service_config::ServiceConfig;
use uuid::Uuid;

use super::extract::{Body, Caller, ConfigurationRead, ConfigurationWrite, UnitsRead, UnitsWrite};
use super::keyed::{self, Key};
use super::tags::{self, Since};
use super::{Reply, Shared};
use crate::problem::Problem;
use crate::service::configuration as service;
use crate::wire::Page;
use crate::wire::configuration::{
    Crew, Criteria, CriteriaException, Form, Lot, Membrane, Policy, Site, Unit,
};

/// Declares the four operations of one kind of subject.
macro_rules! subject {
    (
        $module:ident, $form:ident, $one:literal, $many:literal, $list_path:literal, $item_path:literal,
        $read:ident = $read_code:literal, $write:ident = $write_code:literal
    ) => {
        mod $module {
            use super::*;

            #[utoipa::path(
                operation_id = concat!("add_", $one), summary = concat!("Adds a ", $one, ", or a version of one whose id is known. Repeating a request without a key adds an equal version."), tag = "configuration", request_body = $form,
                params(("Idempotency-Key" = Option<String>, Header, description = keyed::ABOUT)),
                security(("bearer" = [$write_code])),
                responses((status = 201, description = concat!("The ", $one, " as it is now kept."), body = $form))
            )]
            #[post($list_path)]
            pub(super) async fn add(
                caller: Caller<$write>, context: Shared, key: Key, body: Body,
            ) -> Reply<impl Responder> {
                let (request, now) = (key.request(&context, &body), context.clock.now());
                let read = |id, at| body.json::<$form>()?.read(id, at).map_err(Problem::invalid);
                let version = read(None, now)?;
                let before = service::add(&context.service, &caller, &version, request.as_ref(), now).await?;
                let version = match before {
                    None => version,
                    Some(made) => read(Some(made.id), made.at)?,
                };
                Ok((Json($form::show(&version)), actix_web::http::StatusCode::CREATED))
            }

            #[utoipa::path(
                operation_id = concat!("change_", $one), summary = concat!("Adds a version of a ", $one, ", in force from `effective_from`. Earlier versions stay and go on judging earlier trials."), tag = "configuration", request_body = $form,
                params(
                    ("id" = Uuid, Path, description = concat!("Id of the ", $one, ".")),
                    ("If-Match" = Option<String>, Header, description = tags::ABOUT_IF_MATCH),
                ),
                security(("bearer" = [$write_code])),
                responses((status = 200, description = concat!("The ", $one, " as it is now kept."), body = $form,
                           headers(("ETag" = String, description = "Names this state; `If-Match` takes it."))))
            )]
            #[put($item_path)]
            pub(super) async fn change(
                caller: Caller<$write>, context: Shared, id: Path<Uuid>, since: Since, body: Body,
            ) -> Reply<impl Responder> {
                let now = context.clock.now();
                let version = body.json::<$form>()?.read(Some(*id), now).map_err(Problem::invalid)?;
                let at = service::change(&context.service, &caller, &version, since.0.as_deref(), now).await?;
                Ok(Json($form::show(&version)).customize().insert_header(tags::tag(at)))
            }

            #[utoipa::path(
                operation_id = concat!("list_", $many), summary = concat!("Every ", $one, " of the organization as it is now, retired ones too."), tag = "configuration",
                security(("bearer" = [$read_code])),
                responses((status = 200, description = concat!("All ", $many, ", by id."), body = Page<$form>))
            )]
            #[get($list_path)]
            pub(super) async fn list(caller: Caller<$read>, context: Shared) -> Reply<impl Responder> {
                let all = service::list(&context.service, &caller, context.clock.now()).await?;
                Ok(Json(Page::whole(all.iter().map($form::show).collect::<Vec<_>>())))
            }

            #[utoipa::path(
                operation_id = concat!("get_", $one), summary = concat!("One ", $one, " as it is now."), tag = "configuration",
                params(
                    ("id" = Uuid, Path, description = concat!("Id of the ", $one, ".")),
                    ("If-None-Match" = Option<String>, Header, description = tags::ABOUT_IF_NONE_MATCH),
                ),
                security(("bearer" = [$read_code])),
                responses(
                    (status = 200, description = concat!("The ", $one, "."), body = $form,
                     headers(("ETag" = String, description = "Names this state; `If-Match` takes it."))),
                    (status = 304, description = "You have it."),
                )
            )]
            #[get($item_path)]
            pub(super) async fn one(
                caller: Caller<$read>, context: Shared, id: Path<Uuid>, request: HttpRequest,
            ) -> Reply<HttpResponse> {
                let now = context.clock.now();
                let (version, at) = service::get(&context.service, &caller, *id, now).await?;
                Ok(tags::tagged(&request, at, $form::show(&version)))
            }

            pub(super) fn register(config: &mut ServiceConfig<'_>) {
                config.service(add).service(change).service(list).service(one);
            }
        }
    };
}

subject!(
    sites,
    Site,
    "site",
    "sites",
    "/v1/sites",
    "/v1/sites/{id}",
    ConfigurationRead = "configuration:read",
    ConfigurationWrite = "configuration:write"
);
subject!(
    crews,
    Crew,
    "crew",
    "crews",
    "/v1/crews",
    "/v1/crews/{id}",
    ConfigurationRead = "configuration:read",
    ConfigurationWrite = "configuration:write"
);
subject!(
    membranes,
    Membrane,
    "membrane",
    "membranes",
    "/v1/membranes",
    "/v1/membranes/{id}",
    ConfigurationRead = "configuration:read",
    ConfigurationWrite = "configuration:write"
);
subject!(
    lots,
    Lot,
    "lot",
    "lots",
    "/v1/lots",
    "/v1/lots/{id}",
    ConfigurationRead = "configuration:read",
    ConfigurationWrite = "configuration:write"
);
subject!(
    units,
    Unit,
    "unit",
    "units",
    "/v1/units",
    "/v1/units/{id}",
    UnitsRead = "units:read",
    UnitsWrite = "units:write"
);

subject!(
    criteria_exceptions,
    CriteriaException,
    "criteria_exception",
    "criteria_exceptions",
    "/v1/criteria-exceptions",
    "/v1/criteria-exceptions/{id}",
    ConfigurationRead = "configuration:read",
    ConfigurationWrite = "configuration:write"
);

/// The acceptance criteria in force now.
#[utoipa::path(
    tag = "configuration", security(("bearer" = ["configuration:read"])),
    params(("If-None-Match" = Option<String>, Header, description = tags::ABOUT_IF_NONE_MATCH)),
    responses(
        (status = 200, description = "The criteria.", body = Criteria,
         headers(("ETag" = String, description = "Names this state; `If-Match` takes it."))),
        (status = 304, description = "You have them."),
    )
)]
#[get("/v1/criteria")]
async fn get_criteria(
    caller: Caller<ConfigurationRead>,
    context: Shared,
    request: HttpRequest,
) -> Reply<HttpResponse> {
    let (criteria, at) = service::criteria(&context.service, &caller, context.clock.now()).await?;
    Ok(tags::tagged(&request, at, Criteria::show(at.in_force_from, &criteria)))
}

/// Adds a version of the acceptance criteria. Trials performed before `effective_from` keep theirs.
#[utoipa::path(
    tag = "configuration", security(("bearer" = ["configuration:write"])), request_body = Criteria,
    params(("If-Match" = Option<String>, Header, description = tags::ABOUT_IF_MATCH)),
    responses((status = 200, description = "The criteria as they are now kept.", body = Criteria,
               headers(("ETag" = String, description = "Names this state; `If-Match` takes it."))))
)]
#[put("/v1/criteria")]
async fn put_criteria(
    caller: Caller<ConfigurationWrite>,
    context: Shared,
    since: Since,
    body: Body,
) -> Reply<impl Responder> {
    let now = context.clock.now();
    let (from, criteria) = body.json::<Criteria>()?.read(now).map_err(Problem::invalid)?;
    let since = since.0.as_deref();
    let at = service::put_criteria(&context.service, &caller, (from, &criteria), since, now).await?;
    Ok(Json(Criteria::show(from, &criteria)).customize().insert_header(tags::tag(at)))
}

/// The policy in force now: when trials are due.
#[utoipa::path(
    tag = "configuration", security(("bearer" = ["configuration:read"])),
    params(("If-None-Match" = Option<String>, Header, description = tags::ABOUT_IF_NONE_MATCH)),
    responses(
        (status = 200, description = "The policy.", body = Policy,
         headers(("ETag" = String, description = "Names this state; `If-Match` takes it."))),
        (status = 304, description = "You have it."),
    )
)]
#[get("/v1/policy")]
async fn get_policy(
    caller: Caller<ConfigurationRead>,
    context: Shared,
    request: HttpRequest,
) -> Reply<HttpResponse> {
    let (policy, at) = service::policy(&context.service, &caller, context.clock.now()).await?;
    Ok(tags::tagged(&request, at, Policy::show(at.in_force_from, &policy)))
}

/// Adds a version of the policy.
#[utoipa::path(
    tag = "configuration", security(("bearer" = ["configuration:write"])), request_body = Policy,
    params(("If-Match" = Option<String>, Header, description = tags::ABOUT_IF_MATCH)),
    responses((status = 200, description = "The policy as it is now kept.", body = Policy,
               headers(("ETag" = String, description = "Names this state; `If-Match` takes it."))))
)]
#[put("/v1/policy")]
async fn put_policy(
    caller: Caller<ConfigurationWrite>,
    context: Shared,
    since: Since,
    body: Body,
) -> Reply<impl Responder> {
    let now = context.clock.now();
    let (from, policy) = body.json::<Policy>()?.read(now).map_err(Problem::invalid)?;
    let since = since.0.as_deref();
    let at = service::put_policy(&context.service, &caller, (from, &policy), since, now).await?;
    Ok(Json(Policy::show(from, &policy)).customize().insert_header(tags::tag(at)))
}

/// Registers the operations of this file.
pub(super) fn register(config: &mut ServiceConfig<'_>) {
    sites::register(config);
    crews::register(config);
    membranes::register(config);
    lots::register(config);
    units::register(config);
    criteria_exceptions::register(config);
    config.service(get_criteria).service(put_criteria).service(get_policy).service(put_policy);
}
