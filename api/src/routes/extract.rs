//! What handlers ask for: an authenticated caller with a scope, a JSON body's bytes, an id in the path.

use std::cell::RefCell;
use std::future::{Future, Ready, ready};
use std::marker::PhantomData;
use std::ops::Deref;
use std::pin::Pin;
use std::rc::Rc;

use actix_web::dev::{Decompress, Payload};
use actix_web::error::PayloadError;
use actix_web::http::header::{AUTHORIZATION, CONTENT_ENCODING, CONTENT_TYPE, ContentEncoding};
use actix_web::web::{Bytes, BytesMut, Data};
use actix_web::{FromRequest, HttpRequest};
use futures_util::stream::poll_fn;
use futures_util::{Stream, StreamExt};
use serde::de::DeserializeOwned;

use super::Context;
use crate::config::BODY_LIMIT_BYTES;
use crate::model::{Principal, Scope};
use crate::problem::{Code, Problem};
use crate::service::Error;
use crate::wire::{self, JsonError};

/// A scope as a type, so that a handler's signature says what it needs.
pub trait Needs {
    /// The scope.
    const SCOPE: Scope;
}

/// Declares one type for each scope.
macro_rules! needs {
    ($($name:ident),* $(,)?) => {
        $(
            #[doc = concat!("Needs the scope `", stringify!($name), "`.")]
            #[derive(Debug)]
            pub struct $name;
            impl Needs for $name { const SCOPE: Scope = Scope::$name; }
        )*
    };
}

needs!(
    TrialsRead,
    TrialsWrite,
    UnitsRead,
    UnitsWrite,
    RechecksRead,
    DecisionsWrite,
    PlansRead,
    PlansWrite,
    ConfigurationRead,
    ConfigurationWrite,
    AccessRead,
    AccessWrite,
);

/// A caller with a valid access token that carries the scope `S`.
#[derive(Debug)]
pub struct Caller<S>(Principal, PhantomData<S>);

impl<S> Deref for Caller<S> {
    type Target = Principal;

    fn deref(&self) -> &Principal {
        &self.0
    }
}

impl<S: Needs> FromRequest for Caller<S> {
    type Error = Problem;
    type Future = Ready<Result<Self, Problem>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        ready(caller(request, S::SCOPE).map(|principal| Self(principal, PhantomData)).map_err(Problem::from))
    }
}

fn caller(request: &HttpRequest, scope: Scope) -> Result<Principal, Error> {
    let context = request.app_data::<Data<Context>>().ok_or_else(|| Error::Internal("no context".into()))?;
    let token = bearer(request).ok_or(Error::Unauthenticated)?;
    let principal = context.service.authenticate(token, context.clock.now())?;
    if principal.scopes.contains(&scope) { Ok(principal) } else { Err(Error::MissingScope(scope.code())) }
}

/// The bearer token of a request (RFC 6750 section 2.1), if it has one.
pub fn bearer(request: &HttpRequest) -> Option<&str> {
    let (scheme, token) = request.headers().get(AUTHORIZATION)?.to_str().ok()?.split_once(' ')?;
    scheme.eq_ignore_ascii_case("bearer").then_some(token.trim())
}

/// The bytes of a JSON body, as they were sent.
#[derive(Debug)]
pub struct Body(pub Bytes);

impl Body {
    /// The record in the body.
    ///
    /// # Errors
    /// A problem that says where the body is not of the record's form.
    pub fn json<T: DeserializeOwned>(&self) -> Result<T, Problem> {
        self.read(wire::parse)
    }

    /// What `parse` makes of the bytes.
    ///
    /// # Errors
    /// 400 for broken JSON, 422 with pointers for another form.
    pub fn read<T>(&self, parse: impl FnOnce(&[u8]) -> Result<T, JsonError>) -> Result<T, Problem> {
        parse(&self.0).map_err(|error| match error {
            JsonError::Malformed(detail) => Problem::new(Code::MalformedJson, detail),
            JsonError::Shape(finding) => Problem::invalid(vec![finding]),
        })
    }
}

impl FromRequest for Body {
    type Error = Problem;
    type Future = Pin<Box<dyn Future<Output = Result<Self, Problem>>>>;

    fn from_request(request: &HttpRequest, payload: &mut Payload) -> Self::Future {
        let json = request
            .headers()
            .get(CONTENT_TYPE)
            .and_then(|value| value.to_str().ok())
            .and_then(|value| value.split(';').next())
            .is_some_and(|essence| essence.trim().eq_ignore_ascii_case("application/json"));
        let encoding = encoding(request);
        let payload = payload.take();
        Box::pin(async move {
            let body = read(payload, encoding.unwrap_or(ContentEncoding::Identity)).await?;
            if encoding.is_none() {
                let detail = "This `Content-Encoding` is not read here; send `gzip`, `zstd` or none.";
                return Err(Problem::new(Code::UnsupportedMediaType, detail));
            }
            if !json {
                let detail = "Send the record as JSON with the header `Content-Type: application/json`.";
                return Err(Problem::new(Code::UnsupportedMediaType, detail));
            }
            Ok(Self(body))
        })
    }
}

/// How a body is compressed; `None` when it is in a way that is not read here.
pub(super) fn encoding(request: &HttpRequest) -> Option<ContentEncoding> {
    let Some(named) = request.headers().get(CONTENT_ENCODING) else { return Some(ContentEncoding::Identity) };
    let encoding = named.to_str().ok()?.trim().to_ascii_lowercase().parse().ok()?;
    let read =
        [ContentEncoding::Identity, ContentEncoding::Gzip, ContentEncoding::Deflate, ContentEncoding::Zstd];
    read.contains(&encoding).then_some(encoding)
}

/// Past the limit the rest is read and dropped, up to this many bytes as they travel, so that the client hears the answer
/// instead of a broken connection. It is not decompressed: a bomb costs no more than what was sent of it.
pub(super) const DRAIN_LIMIT_BYTES: usize = 64 * 1024 * 1024;

async fn read(payload: Payload, encoding: ContentEncoding) -> Result<Bytes, Problem> {
    // Shared with the decompressor, which keeps what it is given.
    let payload = Rc::new(RefCell::new(payload));
    let travelling = {
        let payload = Rc::clone(&payload);
        poll_fn(move |context| payload.borrow_mut().poll_next_unpin(context))
    };
    let body = decompressed(Decompress::new(travelling, encoding)).await;
    if body.is_err() {
        drain(&payload).await;
    }
    body
}

/// The whole body as it was before it was compressed.
async fn decompressed<S>(mut stream: Decompress<S>) -> Result<Bytes, Problem>
where
    S: Stream<Item = Result<Bytes, PayloadError>>,
    Decompress<S>: Unpin,
{
    let mut body = BytesMut::new();
    while let Some(chunk) = stream.next().await {
        let chunk = chunk.map_err(|error| {
            Problem::new(Code::BadRequest, format!("The body could not be read: {error}. Send it again."))
        })?;
        if body.len() + chunk.len() > BODY_LIMIT_BYTES {
            let detail = format!(
                "One record takes at most {BODY_LIMIT_BYTES} bytes, decompressed. Send photos and bulk data elsewhere."
            );
            return Err(Problem::new(Code::TooLarge, detail));
        }
        body.extend_from_slice(&chunk);
    }
    Ok(body.freeze())
}

/// Reads and drops what is still to come.
async fn drain(payload: &RefCell<Payload>) {
    let mut length = 0;
    while let Some(Ok(chunk)) =
        std::future::poll_fn(|context| payload.borrow_mut().poll_next_unpin(context)).await
    {
        length += chunk.len();
        if length > DRAIN_LIMIT_BYTES {
            break;
        }
    }
}
