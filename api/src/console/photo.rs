//! Photos on pages.

use actix_web::HttpResponse;
use actix_web::http::header::{CACHE_CONTROL, CONTENT_SECURITY_POLICY, CONTENT_TYPE};
use actix_web::web::Path;

use super::Shared;
use super::error::PageError;
use super::session::Session;
use crate::model::Scope;
use crate::problem::Code;
use crate::service::photos::contents;
use crate::wire::digest;

/// GET /photos/{sha256}: the photo as it is shown, without what the camera wrote beside the picture.
pub(super) async fn serve(
    session: Session,
    context: Shared,
    sha256: Path<String>,
) -> Result<HttpResponse, PageError> {
    session.require(Scope::TrialsRead)?;
    let sha256 = digest::read(&sha256).ok_or_else(|| PageError::of(Code::NotFound))?;
    let (service, now) = (&context.service, context.clock.now());
    let picture = contents::rendition(service, &session.principal, &sha256, now).await?;
    Ok(HttpResponse::Ok()
        .insert_header((CONTENT_TYPE, "image/jpeg"))
        .insert_header((CONTENT_SECURITY_POLICY, "default-src 'none'; sandbox"))
        // Like the pages: nothing keeps it after signing out.
        .insert_header((CACHE_CONTROL, "no-store"))
        .body(picture))
}
