//! Photos in parts, by the open protocol for resumable uploads tus 1.0.0 (<https://tus.io/protocols/resumable-upload>), with its
//! extensions for creation and termination.

use actix_web::body::MessageBody;
use actix_web::dev::{ServiceRequest, ServiceResponse};
use actix_web::http::header::{CACHE_CONTROL, CONTENT_TYPE, HeaderName, HeaderValue, LOCATION};
use actix_web::middleware::Next;
use actix_web::web::{BytesMut, Json, Path, Payload, Query};
use actix_web::{HttpRequest, HttpResponse, delete, get, head, options, patch, post};
use base64::Engine as _;
use base64::prelude::BASE64_STANDARD;
use futures_util::StreamExt;
use serde::Deserialize;
use utoipa::IntoParams;
use utoipa_actix_web::service_config::ServiceConfig;
use uuid::Uuid;

use super::extract::{Caller, DRAIN_LIMIT_BYTES, DecisionsWrite, TrialsWrite};
use super::photo_contents::LISTED;
use super::{Reply, Shared};
use crate::config::PHOTO_LIMIT_BYTES;
use crate::model::{Sha256, Upload};
use crate::problem::{Code, Problem};
use crate::service::photos::uploads as service;
use crate::view;
use crate::view::photos::PictureBytes;
use crate::wire::{Page, digest};

/// The version of the protocol.
const VERSION: &str = "1.0.0";
/// Bytes are kept in pieces of this size as they arrive: a broken line costs at most one.
const PIECE_BYTES: usize = 256 * 1024;

/// Says which version of the protocol is spoken, as every answer must.
pub async fn say_version(
    request: ServiceRequest,
    next: Next<impl MessageBody>,
) -> Result<ServiceResponse<impl MessageBody>, actix_web::Error> {
    let ours = request.path().starts_with("/v1/uploads");
    let mut response = next.call(request).await?;
    if ours {
        let name = HeaderName::from_static("tus-resumable");
        response.headers_mut().insert(name, HeaderValue::from_static(VERSION));
    }
    Ok(response)
}

/// How uploads are spoken here: the versions and extensions of tus, and the most bytes of one.
#[utoipa::path(
    tag = "photos", security(()),
    responses((status = 204, description = "See the headers.", headers(
        ("Tus-Version" = String, description = "Versions."),
        ("Tus-Extension" = String, description = "Extensions."),
        ("Tus-Max-Size" = u64, description = "Most bytes."),
    )))
)]
#[options("/v1/uploads")]
async fn get_upload_protocol() -> HttpResponse {
    HttpResponse::NoContent()
        .insert_header(("Tus-Version", VERSION))
        .insert_header(("Tus-Extension", "creation,termination"))
        .insert_header(("Tus-Max-Size", PHOTO_LIMIT_BYTES))
        .finish()
}

/// Begins to send a photo in parts (tus 1.0.0, creation). When its bytes are kept already, `Upload-Offset` is their whole length
/// at once: there is nothing to send.
#[utoipa::path(
    tag = "photos", security(("bearer" = ["trials:write"])),
    params(
        ("Tus-Resumable" = String, Header, description = "`1.0.0`."),
        ("Upload-Length" = u64, Header, description = "How many bytes there are."),
        ("Upload-Metadata" = String, Header,
         description = "`sha256` and, after a blank, in Base64, the 64 hexadecimal digits of the bytes' SHA-256. Other pairs are passed \
                        over."),
    ),
    responses((status = 201, description = "Begun.", headers(
        ("Location" = String, description = "Where to send the parts."),
        ("Upload-Offset" = u64, description = "How many bytes have come."),
    )))
)]
#[post("/v1/uploads")]
async fn begin_upload(
    caller: Caller<TrialsWrite>,
    context: Shared,
    request: HttpRequest,
) -> Reply<HttpResponse> {
    require_version(&request)?;
    let size = number(&request, "Upload-Length")?;
    let sha256 = digest_in_metadata(&request)?;
    let upload = service::begin(&context.service, &caller, (sha256, size), context.clock.now()).await?;
    Ok(HttpResponse::Created()
        .insert_header((LOCATION, format!("/v1/uploads/{}", upload.id)))
        .insert_header(("Upload-Offset", upload.received_bytes))
        .finish())
}

/// How far an upload has come (tus 1.0.0). When `Upload-Offset` is the length, the photo is kept.
#[utoipa::path(
    tag = "photos", security(("bearer" = ["trials:write"])),
    params(
        ("id" = Uuid, Path, description = "Id of the upload."),
        ("Tus-Resumable" = String, Header, description = "`1.0.0`."),
    ),
    responses((status = 200, description = "See the headers.", headers(
        ("Upload-Offset" = u64, description = "How many bytes have come."),
        ("Upload-Length" = u64, description = "How many there are to be."),
    )))
)]
#[head("/v1/uploads/{id}")]
async fn get_upload_offset(
    caller: Caller<TrialsWrite>,
    context: Shared,
    request: HttpRequest,
    id: Path<Uuid>,
) -> Reply<HttpResponse> {
    require_version(&request)?;
    let upload = service::state(&context.service, &caller, *id, context.clock.now()).await?;
    Ok(HttpResponse::Ok()
        .insert_header(("Upload-Offset", upload.received_bytes))
        .insert_header(("Upload-Length", upload.size_bytes))
        .insert_header((CACHE_CONTROL, "no-store"))
        .finish())
}

/// Sends bytes of an upload, from where it has come to (tus 1.0.0). Once all have come they are checked and kept; if they are
/// not the photo that was announced, the upload begins again.
#[utoipa::path(
    tag = "photos", security(("bearer" = ["trials:write"])),
    params(
        ("id" = Uuid, Path, description = "Id of the upload."),
        ("Tus-Resumable" = String, Header, description = "`1.0.0`."),
        ("Upload-Offset" = u64, Header, description = "How many bytes have come."),
    ),
    request_body(description = "The bytes that follow.", content((PictureBytes = "application/offset+octet-stream"))),
    responses((status = 204, description = "They have come.", headers(
        ("Upload-Offset" = u64, description = "How many bytes have come."),
    )))
)]
#[patch("/v1/uploads/{id}")]
async fn send_upload_bytes(
    caller: Caller<TrialsWrite>,
    context: Shared,
    request: HttpRequest,
    id: Path<Uuid>,
    mut payload: Payload,
) -> Reply<HttpResponse> {
    let received = receive(&caller, &context, &request, *id, &mut payload).await;
    if received.is_err() {
        drain(&mut payload).await;
    }
    let upload = received?;
    let now = context.clock.now();
    let upload = service::finish_if_whole(&context.service, &caller, upload, now).await?;
    Ok(HttpResponse::NoContent().insert_header(("Upload-Offset", upload.received_bytes)).finish())
}

/// Keeps what arrives, piece by piece; of a body that breaks off, what has come of it.
async fn receive(
    caller: &Caller<TrialsWrite>,
    context: &Shared,
    request: &HttpRequest,
    id: Uuid,
    payload: &mut Payload,
) -> Reply<Upload> {
    require_version(request)?;
    let media_type = request.headers().get(CONTENT_TYPE).and_then(|value| value.to_str().ok());
    if media_type != Some("application/offset+octet-stream") {
        let detail = "Send the bytes with `Content-Type: application/offset+octet-stream`.";
        return Err(Problem::new(Code::UnsupportedMediaType, detail));
    }
    let from = number(request, "Upload-Offset")?;
    let add = async |from: u64, bytes: &[u8]| {
        service::append(&context.service, caller, (id, from), bytes, context.clock.now()).await
    };
    // Whether they follow is known before they are read.
    let mut upload = add(from, &[]).await?;
    let mut piece = BytesMut::new();
    let mut broken = None;
    while let Some(chunk) = payload.next().await {
        match chunk {
            Ok(chunk) => piece.extend_from_slice(&chunk),
            Err(error) => {
                broken =
                    Some(format!("The body broke off: {error}. Ask with HEAD how far it came, and go on."));
                break;
            }
        }
        if piece.len() >= PIECE_BYTES {
            upload = add(upload.received_bytes, &piece.split()).await?;
        }
    }
    upload = add(upload.received_bytes, &piece).await?;
    match broken {
        Some(detail) => Err(Problem::new(Code::BadRequest, detail)),
        None => Ok(upload),
    }
}

/// Reads and drops what is still to come, so that its sender hears the answer.
async fn drain(payload: &mut Payload) {
    let mut length = 0;
    while let Some(Ok(chunk)) = payload.next().await {
        length += chunk.len();
        if length > DRAIN_LIMIT_BYTES {
            break;
        }
    }
}

/// Ends an upload whose bytes are not wanted any more (tus 1.0.0, termination). What has come of them is dropped.
#[utoipa::path(
    tag = "photos", security(("bearer" = ["trials:write"])),
    params(
        ("id" = Uuid, Path, description = "Id of the upload."),
        ("Tus-Resumable" = String, Header, description = "`1.0.0`."),
    ),
    responses((status = 204, description = "It is ended."))
)]
#[delete("/v1/uploads/{id}")]
async fn abandon_upload(
    caller: Caller<TrialsWrite>,
    context: Shared,
    request: HttpRequest,
    id: Path<Uuid>,
) -> Reply<HttpResponse> {
    require_version(&request)?;
    service::abandon(&context.service, &caller, *id).await?;
    Ok(HttpResponse::NoContent().finish())
}

/// Which uploads to list.
#[derive(Debug, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
struct UploadQuery {
    /// Whose latest bytes came at least so many days ago; default: as many as photos are kept for.
    older_than_days: Option<u16>,
}

/// Unfinished uploads, the oldest first, at most 200: for a person to look at. None ends by itself.
#[utoipa::path(
    tag = "photos", security(("bearer" = ["decisions:write"])), params(UploadQuery),
    responses((status = 200, description = "The uploads.", body = Page<view::photos::Upload>))
)]
#[get("/v1/uploads")]
async fn list_uploads(
    caller: Caller<DecisionsWrite>,
    context: Shared,
    query: Query<UploadQuery>,
) -> Reply<Json<Page<view::photos::Upload>>> {
    let (days, now) = (query.older_than_days, context.clock.now());
    let found = service::unfinished(&context.service, &caller, days, LISTED, now).await?;
    Ok(Json(Page::whole(found.iter().map(view::photos::Upload::from).collect())))
}

fn header<'r>(request: &'r HttpRequest, name: &str) -> Option<&'r str> {
    request.headers().get(name).and_then(|value| value.to_str().ok()).map(str::trim)
}

fn require_version(request: &HttpRequest) -> Reply<()> {
    if header(request, "Tus-Resumable") == Some(VERSION) {
        Ok(())
    } else {
        Err(Problem::new(Code::UploadVersion, "Send the header `Tus-Resumable: 1.0.0`."))
    }
}

fn number(request: &HttpRequest, name: &str) -> Reply<u64> {
    let number = header(request, name).and_then(|text| text.parse().ok());
    number.ok_or_else(|| {
        Problem::new(Code::BadRequest, format!("Send the header `{name}` with a whole number of bytes."))
    })
}

fn digest_in_metadata(request: &HttpRequest) -> Reply<Sha256> {
    let pairs = header(request, "Upload-Metadata").unwrap_or_default().split(',');
    let value = pairs.filter_map(|pair| pair.trim().split_once(' ')).find(|(key, _)| *key == "sha256");
    let text = value.and_then(|(_, value)| BASE64_STANDARD.decode(value.trim()).ok());
    let text = text.and_then(|bytes| String::from_utf8(bytes).ok());
    text.as_deref().and_then(digest::read).ok_or_else(|| {
        let detail = "Send `Upload-Metadata: sha256 <value>`, the value being the Base64 of the 64 hexadecimal digits of the \
                      bytes' SHA-256.";
        Problem::new(Code::BadRequest, detail)
    })
}

/// Registers the operations of this file.
pub(super) fn register(config: &mut ServiceConfig<'_>) {
    config
        .service(get_upload_protocol)
        .service(begin_upload)
        .service(list_uploads)
        .service(get_upload_offset)
        .service(send_upload_bytes)
        .service(abandon_upload);
}
