//! The bytes of photos, whole.

use std::io::{Read, Seek, Write};

use actix_web::http::StatusCode;
use actix_web::http::header::{
    CACHE_CONTROL, CONTENT_DISPOSITION, CONTENT_SECURITY_POLICY, CONTENT_TYPE, ContentEncoding, ETAG,
    EntityTag,
};
use actix_web::web::{Bytes, Json, Path, Payload, Query};
use actix_web::{HttpRequest, HttpResponse, Responder, delete, get, put};
use futures_util::StreamExt;
use serde::Deserialize;
use tempfile::SpooledTempFile;
use utoipa::IntoParams;
use utoipa_actix_web::service_config::ServiceConfig;

use super::extract::{Caller, DRAIN_LIMIT_BYTES, DecisionsWrite, TrialsRead, TrialsWrite, encoding};
use super::tags::is_known;
use super::{Reply, Shared};
use crate::config::PHOTO_LIMIT_BYTES;
use crate::model::Sha256;
use crate::problem::{Code, Problem};
use crate::service::photos::contents as service;
use crate::view::photos::{PhotoContent, PictureBytes};
use crate::wire::{Page, digest};

/// A photo beyond this many bytes waits in a file until all of it has come.
const SPOOL_BYTES: usize = 256 * 1024;

/// Sends the bytes of a photo, as they were taken. Repeat it until it is answered 200 or 201: then they are kept. Over a line
/// that breaks, `/v1/uploads` sends them in parts.
#[utoipa::path(
    tag = "photos", security(("bearer" = ["trials:write"])),
    params(("sha256" = String, Path, description = "Their SHA-256 in hexadecimal digits.")),
    request_body(description = "The bytes, at most 25 MiB and 64 million pixels.", content(
        (PictureBytes = "image/jpeg"), (PictureBytes = "image/png"), (PictureBytes = "image/webp"),
    )),
    responses(
        (status = 201, description = "Kept.", body = PhotoContent),
        (status = 200, description = "They were kept before.", body = PhotoContent),
    )
)]
#[put("/v1/photo-contents/{sha256}")]
async fn put_photo_content(
    caller: Caller<TrialsWrite>,
    context: Shared,
    sha256: Path<String>,
    request: HttpRequest,
    payload: Payload,
) -> Reply<impl Responder> {
    let sha256 = read_digest(&sha256)?;
    let spool = spooled(payload).await?;
    if encoding(&request) != Some(ContentEncoding::Identity) {
        let detail = "A photo travels as it is, without `Content-Encoding`: it is compressed in itself.";
        return Err(Problem::new(Code::UnsupportedMediaType, detail));
    }
    let _turn = context.service.photos.turn().await?;
    let bytes = read_back(spool)?;
    let (content, new) =
        service::keep(&context.service, &caller, &sha256, bytes, context.clock.now()).await?;
    let status = if new { StatusCode::CREATED } else { StatusCode::OK };
    Ok((Json(PhotoContent::from(&content)), status))
}

/// The body, in a file if it is long. Of one that is too long the rest is read and dropped, so that its sender hears why.
async fn spooled(mut payload: Payload) -> Reply<SpooledTempFile> {
    let mut spool = SpooledTempFile::new(SPOOL_BYTES);
    let mut length = 0;
    while let Some(chunk) = payload.next().await {
        let chunk = chunk.map_err(|error| {
            Problem::new(Code::BadRequest, format!("The body could not be read: {error}. Send it again."))
        })?;
        length += chunk.len();
        if length > DRAIN_LIMIT_BYTES {
            break;
        }
        if length <= PHOTO_LIMIT_BYTES {
            spool.write_all(&chunk).map_err(|error| fault(&error))?;
        }
    }
    if length > PHOTO_LIMIT_BYTES {
        let detail =
            format!("A photo takes at most {PHOTO_LIMIT_BYTES} bytes. Keep it, and send a smaller one.");
        return Err(Problem::new(Code::TooLarge, detail));
    }
    Ok(spool)
}

fn read_back(mut spool: SpooledTempFile) -> Reply<Bytes> {
    let mut bytes = Vec::new();
    spool.rewind().and_then(|()| spool.read_to_end(&mut bytes)).map_err(|error| fault(&error))?;
    Ok(bytes.into())
}

fn fault(error: &std::io::Error) -> Problem {
    tracing::error!(%error, "a photo cannot be held while it arrives");
    Problem::new(Code::Internal, "Keep the photo and send it again later.")
}

/// The digest in an address.
pub(super) fn read_digest(text: &str) -> Reply<Sha256> {
    digest::read(text).ok_or_else(|| {
        Problem::new(
            Code::NotFound,
            "The address of a photo's bytes ends in their SHA-256: 64 hexadecimal digits.",
        )
    })
}

/// The bytes of a photo as they were taken, with everything that the camera wrote beside the picture, such as where it was
/// taken. A caller that acts for one crew reads those of its crew's records.
#[utoipa::path(
    tag = "photos", security(("bearer" = ["trials:read"])),
    params(
        ("sha256" = String, Path, description = "Their SHA-256 in hexadecimal digits."),
        ("If-None-Match" = Option<String>, Header, description = "An `ETag` of before: nothing is sent again."),
    ),
    responses(
        (status = 200, description = "The bytes.", headers(("ETag" = String, description = "Their digest.")), content(
            (PictureBytes = "image/jpeg"), (PictureBytes = "image/png"), (PictureBytes = "image/webp"),
        )),
        (status = 304, description = "You have them."),
    )
)]
#[get("/v1/photo-contents/{sha256}")]
async fn get_photo_content(
    caller: Caller<TrialsRead>,
    context: Shared,
    sha256: Path<String>,
    request: HttpRequest,
) -> Reply<HttpResponse> {
    let (digest, now) = (read_digest(&sha256)?, context.clock.now());
    let tag = EntityTag::new_strong(digest::show(&digest));
    if is_known(&request, &tag) {
        service::describe(&context.service, &caller, &digest, now).await?;
        return Ok(HttpResponse::NotModified().insert_header((ETAG, tag.to_string())).finish());
    }
    let (content, bytes) = service::original(&context.service, &caller, &digest, now).await?;
    Ok(picture(content.facts.form.code(), &tag, bytes))
}

/// A photo as it is shown: upright, as JPEG of at most 1600 pixels a side, without anything that the camera wrote beside the
/// picture.
#[utoipa::path(
    tag = "photos", security(("bearer" = ["trials:read"])),
    params(
        ("sha256" = String, Path, description = "SHA-256 of the bytes as they were taken."),
        ("If-None-Match" = Option<String>, Header, description = "An `ETag` of before: nothing is sent again."),
    ),
    responses(
        (status = 200, description = "The picture.", headers(("ETag" = String, description = "What it is made of.")),
         content((PictureBytes = "image/jpeg"))),
        (status = 304, description = "You have it."),
        (status = 422, description = "No picture comes out of the bytes.", body = crate::problem::ProblemBody,
         content_type = "application/problem+json"),
    )
)]
#[get("/v1/photo-contents/{sha256}/rendition")]
async fn get_photo_rendition(
    caller: Caller<TrialsRead>,
    context: Shared,
    sha256: Path<String>,
    request: HttpRequest,
) -> Reply<HttpResponse> {
    let (digest, now) = (read_digest(&sha256)?, context.clock.now());
    let tag = EntityTag::new_strong(format!("{}-shown", digest::show(&digest)));
    if is_known(&request, &tag) {
        service::describe(&context.service, &caller, &digest, now).await?;
        return Ok(HttpResponse::NotModified().insert_header((ETAG, tag.to_string())).finish());
    }
    let bytes = service::rendition(&context.service, &caller, &digest, now).await?;
    Ok(picture("image/jpeg", &tag, bytes))
}

/// A picture on its way out. It never changes; and a browser that is led to it shows it and runs nothing.
fn picture(media_type: &'static str, tag: &EntityTag, bytes: Bytes) -> HttpResponse {
    HttpResponse::Ok()
        .insert_header((CONTENT_TYPE, media_type))
        .insert_header((ETAG, tag.to_string()))
        .insert_header((CACHE_CONTROL, "private, max-age=31536000, immutable"))
        .insert_header((CONTENT_DISPOSITION, "inline"))
        .insert_header((CONTENT_SECURITY_POLICY, "default-src 'none'; sandbox"))
        .body(bytes)
}

/// Which bytes to list.
#[derive(Debug, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
struct UnclaimedQuery {
    /// That came at least so many days ago; default: as many as they are kept for.
    older_than_days: Option<u16>,
}

/// How many are listed at a time.
pub(super) const LISTED: i64 = 200;

/// Bytes that no record refers to, the oldest first, at most 200: for a person to look at. A phone may still be offline with
/// the record.
#[utoipa::path(
    tag = "photos", security(("bearer" = ["decisions:write"])), params(UnclaimedQuery),
    responses((status = 200, description = "The bytes.", body = Page<PhotoContent>))
)]
#[get("/v1/photo-contents")]
async fn list_unclaimed_contents(
    caller: Caller<DecisionsWrite>,
    context: Shared,
    query: Query<UnclaimedQuery>,
) -> Reply<Json<Page<PhotoContent>>> {
    let (days, now) = (query.older_than_days, context.clock.now());
    let found = service::unclaimed(&context.service, &caller, days, LISTED, now).await?;
    Ok(Json(Page::whole(found.iter().map(PhotoContent::from).collect())))
}

/// Throws away bytes that no record has referred to for as long as they are kept, 400 days unless the operator chose otherwise.
#[utoipa::path(
    tag = "photos", security(("bearer" = ["decisions:write"])),
    params(("sha256" = String, Path, description = "Their SHA-256 in hexadecimal digits.")),
    responses(
        (status = 204, description = "They are gone."),
        (status = 409, description = "They are still kept.", body = crate::problem::ProblemBody,
         content_type = "application/problem+json"),
    )
)]
#[delete("/v1/photo-contents/{sha256}")]
async fn discard_photo_content(
    caller: Caller<DecisionsWrite>,
    context: Shared,
    sha256: Path<String>,
) -> Reply<HttpResponse> {
    service::discard(&context.service, &caller, &read_digest(&sha256)?, context.clock.now()).await?;
    Ok(HttpResponse::NoContent().finish())
}

/// Registers the operations of this file.
pub(super) fn register(config: &mut ServiceConfig<'_>) {
    config
        .service(put_photo_content)
        .service(get_photo_content)
        .service(get_photo_rendition)
        .service(list_unclaimed_contents)
        .service(discard_photo_content);
}
