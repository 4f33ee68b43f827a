//! Entity tags (RFC 9110 section 8.8.3): what a caller has already is not sent again.

use actix_web::HttpRequest;
use actix_web::http::header::{EntityTag, Header as _, IfNoneMatch};

/// Whether the caller says that it has the answer with this tag.
pub(super) fn is_known(request: &HttpRequest, tag: &EntityTag) -> bool {
    match IfNoneMatch::parse(request) {
        Ok(IfNoneMatch::Items(tags)) => tags.iter().any(|known| known.weak_eq(tag)),
        Ok(IfNoneMatch::Any) => true,
        Err(_) => false,
    }
}
