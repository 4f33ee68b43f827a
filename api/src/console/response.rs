//! How a page leaves: rendered, with the headers that every page carries.

use actix_web::http::StatusCode;
use actix_web::http::header::{
    CACHE_CONTROL, CONTENT_SECURITY_POLICY, ContentType, LOCATION, REFERRER_POLICY,
};
use actix_web::{HttpRequest, HttpResponse, ResponseError};
use askama::Template;

use super::error::PageError;
use crate::problem::Code;

/// Pages run no script, load style and icon from here, post to here, and are never framed.
const POLICY: &str = "default-src 'none'; style-src 'self'; img-src 'self'; form-action 'self'; \
                      frame-ancestors 'none'; base-uri 'none'";

/// What surrounds every page.
#[derive(Debug)]
pub(super) struct Frame {
    /// Title of the browser's tab.
    pub(super) title: String,
    /// Address of the stylesheet.
    pub(super) style: String,
    /// Address of the icon.
    pub(super) icon: String,
    /// Who is signed in, with the token of the sign-out form.
    pub(super) signed_in: Option<SignedIn>,
}

/// Who is signed in.
#[derive(Debug)]
pub(super) struct SignedIn {
    /// Their name.
    pub(super) name: String,
    /// Token of the sign-out form.
    pub(super) form_token: String,
}

impl Frame {
    /// The frame of a page with this title.
    pub(super) fn new(title: impl Into<String>, signed_in: Option<SignedIn>) -> Self {
        let (style, icon) = (super::assets::STYLE.address(), super::assets::ICON.address());
        Self { title: title.into(), style, icon, signed_in }
    }
}

/// A rendered page.
pub(super) fn page(status: StatusCode, page: &impl Template) -> HttpResponse {
    match page.render() {
        Ok(body) => HttpResponse::build(status)
            .insert_header(ContentType::html())
            .insert_header((CONTENT_SECURITY_POLICY, POLICY))
            // A browser sends `Origin: null` with a form under `no-referrer`; proxies and logs then cannot tell it from
            // a foreign one.
            .insert_header((REFERRER_POLICY, "same-origin"))
            .insert_header(("Cross-Origin-Opener-Policy", "same-origin"))
            // Pages show one organization's data: nothing keeps them, not even the way back after signing out.
            .insert_header((CACHE_CONTROL, "no-store"))
            .body(body),
        Err(error) => {
            tracing::error!(%error, "a page could not be rendered");
            HttpResponse::InternalServerError().finish()
        }
    }
}

/// Sends the browser on with a GET (RFC 9110 section 15.4.4).
pub(super) fn see_other(address: &str) -> HttpResponse {
    HttpResponse::SeeOther()
        .insert_header((LOCATION, address))
        .insert_header((CACHE_CONTROL, "no-store"))
        .finish()
}

/// The page for an address that is none.
pub fn not_found() -> HttpResponse {
    PageError::of(Code::NotFound).error_response()
}

/// The page for a method that the address does not take.
pub(super) async fn method_not_allowed(_request: HttpRequest) -> HttpResponse {
    PageError::of(Code::MethodNotAllowed).error_response()
}
