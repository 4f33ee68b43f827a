//! Held items: what arrived in envelopes and could not be accepted.

use actix_web::http::header::ContentType;
use actix_web::web::{Json, Path, Query};
use actix_web::{HttpResponse, get, post};
use serde::Deserialize;
use utoipa::IntoParams;
use utoipa_actix_web::service_config::ServiceConfig;
use uuid::Uuid;

use super::extract::{Body, Caller, DecisionsWrite, TrialsRead};
use super::paging::Asked;
use super::{Reply, Shared};
use crate::model::CustodyState;
use crate::problem::{Code, Problem};
use crate::service::custody as service;
use crate::storage::custody::HeldFilter;
use crate::view::custody::HeldItem;
use crate::wire::Page;
use crate::wire::custody::{Discard, Release};

/// Which held items to list.
#[derive(Debug, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
struct HeldQuery {
    /// `open`, `accepted` or `discarded`; absent: all.
    state: Option<String>,
    /// At most so many, 1 to 200; default 50.
    #[param(minimum = 1, maximum = 200)]
    limit: Option<u16>,
    /// `next_cursor` of the page before.
    cursor: Option<String>,
}

/// Held items, the latest first.
#[utoipa::path(
    tag = "custody", security(("bearer" = ["trials:read"])), params(HeldQuery),
    responses((status = 200, description = "A page of held items.", body = Page<HeldItem>))
)]
#[get("/v1/custody")]
async fn list_held_items(
    caller: Caller<TrialsRead>,
    context: Shared,
    query: Query<HeldQuery>,
) -> Reply<Json<Page<HeldItem>>> {
    let page = Asked::read(query.limit, query.cursor.as_deref())?;
    let state = query.state.as_deref().map(|code| {
        CustodyState::from_code(code).ok_or_else(|| {
            Problem::new(Code::BadRequest, "`state` is one of `open`, `accepted`, `discarded`.")
        })
    });
    let filter =
        HeldFilter { state: state.transpose()?, crew_of: None, after: page.after, limit: page.rows() };
    let mut held = service::list(&context.service, &caller, filter).await?;
    let next_cursor = page.cut(&mut held, |held| (held.received_at, held.id));
    Ok(Json(Page { items: held.iter().map(HeldItem::from).collect(), next_cursor }))
}

/// One held item.
#[utoipa::path(
    tag = "custody", security(("bearer" = ["trials:read"])),
    params(("id" = Uuid, Path, description = "Id of the held item.")),
    responses((status = 200, description = "The held item.", body = HeldItem))
)]
#[get("/v1/custody/{id}")]
async fn get_held_item(caller: Caller<TrialsRead>, context: Shared, id: Path<Uuid>) -> Reply<Json<HeldItem>> {
    let held = service::get(&context.service, &caller, *id).await?;
    Ok(Json(HeldItem::from(&held)))
}

/// The bytes of a held item, exactly as they were sent.
#[utoipa::path(
    tag = "custody", security(("bearer" = ["trials:read"])),
    params(("id" = Uuid, Path, description = "Id of the held item.")),
    responses((status = 200, description = "The bytes.", body = Vec<u8>, content_type = "application/octet-stream"))
)]
#[get("/v1/custody/{id}/content")]
async fn get_held_content(
    caller: Caller<TrialsRead>,
    context: Shared,
    id: Path<Uuid>,
) -> Reply<HttpResponse> {
    let bytes = service::bytes(&context.service, &caller, *id).await?;
    let mut reply = HttpResponse::Ok();
    // Whatever they are, a browser is not to open them.
    reply.insert_header(ContentType::octet_stream());
    reply.insert_header(("X-Content-Type-Options", "nosniff"));
    reply.insert_header(("Content-Disposition", "attachment"));
    Ok(reply.body(bytes))
}

/// Accept a held item, as it is or with a correction. Its bytes stay as they were sent; the corrected content is kept beside
/// them and becomes the record.
#[utoipa::path(
    tag = "custody", security(("bearer" = ["decisions:write"])), request_body = Release,
    params(("id" = Uuid, Path, description = "Id of the held item.")),
    responses((status = 200, description = "It is accepted.", body = HeldItem))
)]
#[post("/v1/custody/{id}/release")]
async fn release_held_item(
    caller: Caller<DecisionsWrite>,
    context: Shared,
    id: Path<Uuid>,
    body: Body,
) -> Reply<Json<HeldItem>> {
    let (patch, reason) = body.json::<Release>()?.read().map_err(Problem::invalid)?;
    let now = context.clock.now();
    let held = service::release(&context.service, &caller, *id, (patch.as_ref(), reason), now).await?;
    Ok(Json(HeldItem::from(&held)))
}

/// Put a held item aside for good. Its bytes are kept.
#[utoipa::path(
    tag = "custody", security(("bearer" = ["decisions:write"])), request_body = Discard,
    params(("id" = Uuid, Path, description = "Id of the held item.")),
    responses((status = 200, description = "It is put aside.", body = HeldItem))
)]
#[post("/v1/custody/{id}/discard")]
async fn discard_held_item(
    caller: Caller<DecisionsWrite>,
    context: Shared,
    id: Path<Uuid>,
    body: Body,
) -> Reply<Json<HeldItem>> {
    let reason = body.json::<Discard>()?.reason.0;
    let held = service::discard(&context.service, &caller, *id, reason, context.clock.now()).await?;
    Ok(Json(HeldItem::from(&held)))
}

/// Registers the operations of this file.
pub(super) fn register(config: &mut ServiceConfig<'_>) {
    config
        .service(list_held_items)
        .service(get_held_item)
        .service(get_held_content)
        .service(release_held_item)
        .service(discard_held_item);
}
