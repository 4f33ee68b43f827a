//! Photos as records: which bytes belong to what.

use actix_web::web::{Json, Path, Query};
use actix_web::{Responder, get, post};
use serde::Deserialize;
use utoipa::IntoParams;
use utoipa_actix_web::service_config::ServiceConfig;
use uuid::Uuid;

use super::extract::{Body, Caller, TrialsRead, TrialsWrite};
use super::records::take_in;
use super::{Reply, Shared};
use crate::config::PHOTO_LIMIT_BYTES;
use crate::model::PictureForm;
use crate::problem::{Code, Problem};
use crate::service::photos as service;
use crate::view::photos::{KeptPhoto, PhotoLimits};
use crate::wire::Page;
use crate::wire::photo::Photo;

/// Tells of a photo: which record it belongs to, and the SHA-256 of its bytes. The bytes are sent apart, before or after: whole to
/// `/v1/photo-contents`, or in parts by `/v1/uploads`. Photos only add up; one told of by mistake is withdrawn by a retraction.
#[utoipa::path(
    tag = "photos", security(("bearer" = ["trials:write"])), request_body = Photo,
    responses(
        (status = 201, description = "Accepted.", body = Photo),
        (status = 200, description = "It had been accepted before.", body = Photo),
    )
)]
#[post("/v1/photos")]
async fn send_photo(caller: Caller<TrialsWrite>, context: Shared, body: Body) -> Reply<impl Responder> {
    take_in::<Photo, _>(&caller, &context, &body).await
}

/// One photo, and whether its bytes have come. It is shown even if it was withdrawn.
#[utoipa::path(
    tag = "photos", security(("bearer" = ["trials:read"])),
    params(("id" = Uuid, Path, description = "Id of the photo.")),
    responses((status = 200, description = "The photo.", body = KeptPhoto))
)]
#[get("/v1/photos/{id}")]
async fn get_photo(caller: Caller<TrialsRead>, context: Shared, id: Path<Uuid>) -> Reply<Json<KeptPhoto>> {
    let kept = service::get(&context.service, &caller, *id, context.clock.now()).await?;
    Ok(Json(KeptPhoto::from(&kept)))
}

/// Of what to list the photos: one of the two.
#[derive(Debug, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
struct PhotoQuery {
    /// Of this record.
    subject_id: Option<Uuid>,
    /// Of this trial, of the pieces that it was sent in, and of the trials that it corrects.
    trial_id: Option<Uuid>,
}

/// Photos of a record or of a trial, in order of taking. Those withdrawn are left out.
#[utoipa::path(
    tag = "photos", security(("bearer" = ["trials:read"])), params(PhotoQuery),
    responses((status = 200, description = "The photos.", body = Page<KeptPhoto>))
)]
#[get("/v1/photos")]
async fn list_photos(
    caller: Caller<TrialsRead>,
    context: Shared,
    query: Query<PhotoQuery>,
) -> Reply<Json<Page<KeptPhoto>>> {
    let now = context.clock.now();
    let found = match (query.subject_id, query.trial_id) {
        (Some(record), None) => service::of_record(&context.service, &caller, record, now).await?,
        (None, Some(trial)) => service::of_trial(&context.service, &caller, trial, now).await?,
        _ => {
            let detail = "Say of what: either `subject_id` or `trial_id`.";
            return Err(Problem::new(Code::BadRequest, detail));
        }
    };
    Ok(Json(Page::whole(found.iter().map(KeptPhoto::from).collect())))
}

/// Which photos are taken.
#[utoipa::path(
    tag = "photos", security(("bearer" = ["trials:read"])),
    responses((status = 200, description = "The limits.", body = PhotoLimits))
)]
#[get("/v1/photos/limits")]
async fn get_photo_limits(_caller: Caller<TrialsRead>) -> Json<PhotoLimits> {
    Json(PhotoLimits {
        size_bytes: PHOTO_LIMIT_BYTES,
        pixels: service::MOST_PIXELS,
        media_types: PictureForm::ALL.iter().map(|form| form.code()).collect(),
    })
}

/// Registers the operations of this file.
pub(super) fn register(config: &mut ServiceConfig<'_>) {
    config.service(send_photo).service(get_photo_limits).service(get_photo).service(list_photos);
}
