//! People, apps and access tokens.

use actix_web::http::StatusCode;
use actix_web::web::{Json, Path};
use actix_web::{Responder, delete, get, post};
use utoipa_actix_web::service_config::ServiceConfig;
use uuid::Uuid;

use super::extract::{AccessRead, AccessWrite, Body, Caller};
use super::keyed::{self, Key};
use super::{Reply, Shared};
use crate::problem::Problem;
use crate::service::access as service;
use crate::wire::Page;
use crate::wire::access::{AccessToken, AddedApp, App, NewApp, NewPerson, Person, SignIn};

/// An access token for a person who signs in, good for an hour.
#[utoipa::path(
    tag = "access", request_body = SignIn,
    responses((status = 200, description = "The token.", body = AccessToken))
)]
#[post("/v1/access-tokens")]
async fn get_access_token(context: Shared, body: Body) -> Reply<impl Responder> {
    let request: SignIn = body.json()?;
    let now = context.clock.now();
    let access_token =
        service::person_token(&context.service, &request.sign_in, &request.password, now).await?;
    let expires_in = service::PERSON_TOKEN.num_seconds();
    Ok(Json(AccessToken { access_token, token_type: "Bearer", expires_in })
        .customize()
        .insert_header(("Cache-Control", "no-store")))
}

/// Adds a person who can sign in.
#[utoipa::path(
    tag = "access", security(("bearer" = ["access:write"])), request_body = NewPerson,
    params(("Idempotency-Key" = Option<String>, Header, description = keyed::ABOUT)),
    responses((status = 201, description = "The person.", body = Person))
)]
#[post("/v1/people")]
async fn add_person(
    caller: Caller<AccessWrite>,
    context: Shared,
    key: Key,
    body: Body,
) -> Reply<impl Responder> {
    let (person, password) = body.json::<NewPerson>()?.read().map_err(Problem::invalid)?;
    let (request, now) = (key.request(&context, &body), context.clock.now());
    let person =
        service::add_person(&context.service, &caller, person, password, request.as_ref(), now).await?;
    Ok((Json(Person::from(&person)), StatusCode::CREATED))
}

/// Everybody who can sign in.
#[utoipa::path(
    tag = "access", security(("bearer" = ["access:read"])),
    responses((status = 200, description = "The people, by sign-in name.", body = Page<Person>))
)]
#[get("/v1/people")]
async fn list_people(caller: Caller<AccessRead>, context: Shared) -> Reply<impl Responder> {
    let people = service::people(&context.service, &caller).await?;
    Ok(Json(Page::whole(people.iter().map(Person::from).collect::<Vec<_>>())))
}

/// Adds an app and gives its access token, which is good for 400 days or until the app is revoked. The service does not keep
/// it: whoever loses it adds another app, or repeats the request under its key.
#[utoipa::path(
    tag = "access", security(("bearer" = ["access:write"])), request_body = NewApp,
    params(("Idempotency-Key" = Option<String>, Header, description = keyed::ABOUT)),
    responses((status = 201, description = "The app with its token.", body = AddedApp))
)]
#[post("/v1/apps")]
async fn add_app(
    caller: Caller<AccessWrite>,
    context: Shared,
    key: Key,
    body: Body,
) -> Reply<impl Responder> {
    let asked: NewApp = body.json()?;
    let scopes = asked.scopes().map_err(Problem::invalid)?;
    let (request, now) = (key.request(&context, &body), context.clock.now());
    let NewApp { name, crew_id, .. } = asked;
    let (app, access_token) =
        service::add_app(&context.service, &caller, name.0, scopes, crew_id, request.as_ref(), now).await?;
    let reply = AddedApp { app: App::from(&app), access_token };
    Ok((Json(reply), StatusCode::CREATED).customize().insert_header(("Cache-Control", "no-store")))
}

/// Every app of the organization, revoked ones too.
#[utoipa::path(
    tag = "access", security(("bearer" = ["access:read"])),
    responses((status = 200, description = "The apps, newest first.", body = Page<App>))
)]
#[get("/v1/apps")]
async fn list_apps(caller: Caller<AccessRead>, context: Shared) -> Reply<impl Responder> {
    let apps = service::apps(&context.service, &caller).await?;
    Ok(Json(Page::whole(apps.iter().map(App::from).collect::<Vec<_>>())))
}

/// Revokes an app: its token is refused from the next request on.
#[utoipa::path(
    tag = "access", security(("bearer" = ["access:write"])),
    params(("id" = Uuid, Path, description = "Id of the app.")),
    responses((status = 204, description = "It is revoked."))
)]
#[delete("/v1/apps/{id}")]
async fn revoke_app(caller: Caller<AccessWrite>, context: Shared, id: Path<Uuid>) -> Reply<impl Responder> {
    service::revoke_app(&context.service, &caller, *id, context.clock.now()).await?;
    Ok(actix_web::HttpResponse::NoContent())
}

/// Registers the operations of this file.
pub(super) fn register(config: &mut ServiceConfig<'_>) {
    config
        .service(get_access_token)
        .service(add_person)
        .service(list_people)
        .service(add_app)
        .service(list_apps)
        .service(revoke_app);
}
