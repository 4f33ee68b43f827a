//! Entity tags (RFC 9110 section 8.8.3): what a caller has already is not sent again, and what somebody else has changed
//! meanwhile is not overwritten.

use std::future::{Ready, ready};

use actix_web::dev::Payload;
use actix_web::http::header::{ETag, EntityTag, Header as _, IF_MATCH, IfMatch, IfNoneMatch};
use actix_web::{FromRequest, HttpRequest, HttpResponse};
use chrono::DateTime;
use serde::Serialize;

use crate::model::Revision;
use crate::problem::{Code, Problem};

/// What the contract says of `If-Match`.
pub(super) const ABOUT_IF_MATCH: &str = "The `ETag` of what you are changing. When somebody has changed it since, the \
    request is refused (`stale`) and nothing is stored. Without the header it is stored whatever happened meanwhile.";
/// What the contract says of `If-None-Match`.
pub(super) const ABOUT_IF_NONE_MATCH: &str = "An `ETag` of before: nothing is sent again.";

/// Whether the caller says that it has the answer with this tag.
pub(super) fn is_known(request: &HttpRequest, tag: &EntityTag) -> bool {
    match IfNoneMatch::parse(request) {
        Ok(IfNoneMatch::Items(tags)) => tags.iter().any(|known| known.weak_eq(tag)),
        Ok(IfNoneMatch::Any) => true,
        Err(_) => false,
    }
}

/// The tag of a revision.
pub(super) fn tag(revision: Revision) -> ETag {
    let from = revision.in_force_from.timestamp_micros();
    ETag(EntityTag::new_strong(format!("{}-{from}", revision.versions)))
}

/// The revision with a tag; `None` when no revision has it.
fn revision(tag: &EntityTag) -> Option<Revision> {
    let (versions, from) = tag.tag().split_once('-').filter(|_| !tag.weak)?;
    let in_force_from = DateTime::from_timestamp_micros(from.parse().ok()?)?;
    Some(Revision { versions: versions.parse().ok()?, in_force_from })
}

/// What is kept, with the tag of its revision; nothing but the tag to a caller that has it.
pub(super) fn tagged(request: &HttpRequest, at: Revision, kept: impl Serialize) -> HttpResponse {
    let tag = tag(at);
    if is_known(request, &tag.0) {
        HttpResponse::NotModified().insert_header(tag).finish()
    } else {
        HttpResponse::Ok().insert_header(tag).json(kept)
    }
}

/// The revisions of which one must still be in force for a change to be made (`If-Match`). `None`: any.
#[derive(Debug)]
pub(super) struct Since(pub(super) Option<Vec<Revision>>);

impl FromRequest for Since {
    type Error = Problem;
    type Future = Ready<Result<Self, Problem>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        if !request.headers().contains_key(IF_MATCH) {
            return ready(Ok(Self(None)));
        }
        ready(match IfMatch::parse(request) {
            Ok(IfMatch::Any) => Ok(Self(None)),
            // A tag that no revision has matches none: it is left out.
            Ok(IfMatch::Items(tags)) if !tags.is_empty() => {
                Ok(Self(Some(tags.iter().filter_map(revision).collect())))
            }
            _ => Err(Problem::new(
                Code::BadRequest,
                "`If-Match` takes the `ETag` of an answer as it was sent, in its quotation marks.",
            )),
        })
    }
}
