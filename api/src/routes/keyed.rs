//! `Idempotency-Key`: a request that makes something may be repeated until it is answered.

use std::future::{Ready, ready};

use actix_web::dev::Payload;
use actix_web::{FromRequest, HttpRequest};

use super::Context;
use super::extract::Body;
use crate::model::KeyedRequest;
use crate::problem::{Code, Problem};

/// What the contract says of the header.
pub(super) const ABOUT: &str = "A key of your choice, such as a UUID, for this one request. Repeated with the same key and \
    body, however late, it makes nothing more and is answered as it was; the same key with another request is refused \
    (`key_reused`). Without a key, a repeated request without an `id` makes another thing.";

/// The key of a request, if it has one.
#[derive(Debug)]
pub(super) struct Key {
    key: Option<String>,
    path: String,
}

impl Key {
    /// The request with this body under its key.
    pub(super) fn request(&self, context: &Context, body: &Body) -> Option<KeyedRequest> {
        let digest = context.service.secrets.request_digest(&self.path, &body.0);
        self.key.clone().map(|key| KeyedRequest { key, digest })
    }
}

impl FromRequest for Key {
    type Error = Problem;
    type Future = Ready<Result<Self, Problem>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        let sent = request.headers().get("Idempotency-Key");
        let key = sent.map(|value| read(value.as_bytes()).ok_or_else(malformed)).transpose();
        ready(key.map(|key| Self { key, path: request.path().to_owned() }))
    }
}

/// A key with quotation marks around it (a string of RFC 9651) or without.
fn read(value: &[u8]) -> Option<String> {
    let bare = value.strip_prefix(b"\"").and_then(|value| value.strip_suffix(b"\"")).unwrap_or(value);
    let fits = (1..=255).contains(&bare.len())
        && bare.iter().all(|byte| byte.is_ascii_graphic() && !matches!(byte, b'"' | b'\\'));
    fits.then(|| String::from_utf8_lossy(bare).into_owned())
}

fn malformed() -> Problem {
    let detail = "`Idempotency-Key` takes 1 to 255 visible ASCII characters without blanks, `\"` and `\\`: a UUID is a good one.";
    Problem::new(Code::BadRequest, detail)
}
