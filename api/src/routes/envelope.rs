//! Envelopes: many records at once, each kept whatever is wrong with it.

mod results;

use std::cell::Cell;
use std::pin::Pin;
use std::rc::Rc;

use actix_web::dev::Decompress;
use actix_web::error::PayloadError;
use actix_web::http::header::{CONTENT_TYPE, ContentEncoding};
use actix_web::web::{Bytes, Json, Payload};
use actix_web::{HttpRequest, HttpResponse, get, post};
use futures_util::{Stream, StreamExt};
use serde::Serialize;
use tokio::sync::OwnedSemaphorePermit;
use utoipa::ToSchema;
use utoipa_actix_web::service_config::ServiceConfig;

use self::results::Results;
use super::extract::{Body, Caller, TrialsRead, TrialsWrite, encoding};
use super::{Reply, Shared};
use crate::config::BODY_LIMIT_BYTES;
use crate::model::Principal;
use crate::problem::{Code, Problem, ProblemBody};
use crate::service::envelope as service;
use crate::telemetry;
use crate::view::envelope::{EnvelopeLimits, ItemResult, KnownDigest};
use crate::wire::custody::{DigestQuestion, MOST_DIGESTS};
use crate::wire::envelope::{Framing, Piece, Splitter};
use crate::wire::{Page, sentence};

/// Most bytes of one item: as many as the operation of its kind takes.
const ITEM_LIMIT_BYTES: usize = BODY_LIMIT_BYTES;
/// Most items of an envelope.
const MOST_ITEMS: u64 = 1_000_000;
/// Most bytes of an envelope, decompressed.
const MOST_BYTES: u64 = 2 * 1024 * 1024 * 1024;
/// How many times as long as it travelled an envelope may be (our choice).
const MOST_EXPANSION: u64 = 200;
/// An envelope may be this long whatever its expansion.
const ALWAYS_BYTES: u64 = 16 * 1024 * 1024;
/// The answer begins when the envelope has been read to its end, or when this many bytes of results are there.
const AT_FIRST_BYTES: u64 = 1024 * 1024;

/// Send many records of any kind at once: a JSON array, or a JSON value a line. Each says by its member `schema` what it is.
/// Whatever is wrong with an item, its bytes are kept; items that break rules are held (`/v1/custody`) until a person or a
/// resolving record settles them. The results follow in the order of the items.
///
/// Only its result gives the right to forget an item: what was kept before an envelope broke is told by
/// `/v1/envelopes/digests`, and sending it again is harmless. The answer to a long envelope begins before all of it has come; if it
/// then turns out that it cannot be read to its end, the last line, or the member `problem`, says why.
#[utoipa::path(
    tag = "custody", security(("bearer" = ["trials:write"])),
    request_body(description = "The items.", content(
        (Vec<serde_json::Value> = "application/json"), (String = "application/x-ndjson"),
    )),
    params(("Prefer" = Option<String>, Header, description = "`return=minimal` leaves the reasons out.")),
    responses(
        (status = 200, description = "What became of each item: an object, or a line for each when lines were sent.",
         content((EnvelopeResults = "application/json"), (String = "application/x-ndjson"))),
    )
)]
#[post("/v1/envelopes")]
async fn send_envelope(
    caller: Caller<TrialsWrite>,
    context: Shared,
    request: HttpRequest,
    payload: Payload,
) -> Reply<HttpResponse> {
    let framing = framing(&request)?;
    let encoding = encoding(&request).ok_or_else(|| {
        let detail = "This `Content-Encoding` is not read here; send `gzip`, `zstd` or none.";
        Problem::new(Code::UnsupportedMediaType, detail)
    })?;
    let place = context.envelopes.clone().try_acquire_owned().map_err(|_| {
        Problem::new(
            Code::Unavailable,
            "Many envelopes are being read. Send this one again after a short wait.",
        )
    })?;
    let results = Results::new(framing, prefers_minimal(&request));
    let mut answer = HttpResponse::Ok();
    answer.content_type(match framing {
        Framing::Array => "application/json",
        Framing::Lines => "application/x-ndjson",
    });
    if results.minimal {
        answer.insert_header(("Preference-Applied", "return=minimal"));
    }
    let answer = answer.streaming(results.sent());
    let mut reading = Reading::new(&context, &caller, (payload, encoding), results, place);
    if reading.read(Some(AT_FIRST_BYTES)).await? {
        reading.results.close(None)?;
    } else {
        // The sender may well send everything before it reads anything: the rest is read whether it hears of it or not.
        actix_web::rt::spawn(telemetry::carried_on(async move {
            let problem = reading.read(None).await.err();
            // It was logged; the answer ends without its end.
            reading.results.close(problem.as_ref()).ok();
        }));
    }
    Ok(answer)
}

/// What became of the items of an envelope, in its order.
#[derive(Debug, Serialize, ToSchema)]
struct EnvelopeResults {
    /// One for each item that was read.
    results: Vec<ItemResult>,
    /// Why no more could be read, after the answer had begun: what has no result is the sender's still.
    #[serde(skip_serializing_if = "Option::is_none")]
    problem: Option<ProblemBody>,
}

/// How the items are written, by the type of the body.
fn framing(request: &HttpRequest) -> Result<Framing, Problem> {
    let essence = request.headers().get(CONTENT_TYPE).and_then(|value| value.to_str().ok());
    let essence =
        essence.and_then(|value| value.split(';').next()).map(|text| text.trim().to_ascii_lowercase());
    match essence.as_deref() {
        Some("application/json") => Ok(Framing::Array),
        Some("application/x-ndjson") => Ok(Framing::Lines),
        _ => {
            let detail =
                "Send a JSON array as `application/json`, or a JSON value a line as `application/x-ndjson`.";
            Err(Problem::new(Code::UnsupportedMediaType, detail))
        }
    }
}

fn prefers_minimal(request: &HttpRequest) -> bool {
    let preferences = request.headers().get_all("Prefer").filter_map(|value| value.to_str().ok());
    preferences.flat_map(|list| list.split(',')).any(|one| one.trim().eq_ignore_ascii_case("return=minimal"))
}

/// The bytes of a body as they were before they were compressed.
type Decompressed = Decompress<Pin<Box<dyn Stream<Item = Result<Bytes, PayloadError>>>>>;

/// An envelope that is being read, item by item: each is kept before the next is read.
struct Reading {
    context: Shared,
    caller: Principal,
    body: Decompressed,
    /// How many bytes have travelled, and how many they are decompressed.
    travelled: Rc<Cell<u64>>,
    bytes: u64,
    splitter: Splitter,
    pieces: Vec<Piece>,
    results: Results,
    _place: OwnedSemaphorePermit,
}

impl Reading {
    fn new(
        context: &Shared,
        caller: &Principal,
        (payload, encoding): (Payload, ContentEncoding),
        results: Results,
        place: OwnedSemaphorePermit,
    ) -> Self {
        let travelled = Rc::new(Cell::new(0));
        let counted: Pin<Box<dyn Stream<Item = _>>> = Box::pin(counted(payload, Rc::clone(&travelled)));
        Self {
            context: context.clone(),
            caller: caller.clone(),
            body: Decompress::new(counted, encoding),
            travelled,
            bytes: 0,
            splitter: Splitter::new(results.framing, ITEM_LIMIT_BYTES),
            pieces: Vec::new(),
            results,
            _place: place,
        }
    }

    /// Reads on: to the end, or until there are so many bytes of results. Answers whether it is the end.
    async fn read(&mut self, results: Option<u64>) -> Result<bool, Problem> {
        while let Some(chunk) = self.body.next().await {
            let chunk = chunk.map_err(|error| {
                Problem::new(Code::BadRequest, format!("The body could not be read: {error}. Send it again."))
            })?;
            self.bytes += chunk.len() as u64;
            let found = self.splitter.take(&chunk, &mut self.pieces);
            self.handle().await?;
            found.map_err(|broken| broken_envelope(&broken))?;
            if self.bytes > MOST_BYTES || self.bytes > ALWAYS_BYTES.max(MOST_EXPANSION * self.travelled.get())
            {
                let detail = format!(
                    "An envelope takes at most {MOST_BYTES} bytes, and at most {MOST_EXPANSION} times what travelled. The \
                     items before are kept; ask `/v1/envelopes/digests` which, and send the others in smaller envelopes."
                );
                return Err(Problem::new(Code::TooLarge, detail));
            }
            if results.is_some_and(|most| self.results.written() > most) {
                return Ok(false);
            }
        }
        let end = self.splitter.end(&mut self.pieces);
        self.handle().await?;
        end.map(|()| true).map_err(|broken| broken_envelope(&broken))
    }

    /// Receives what was found, and adds the results in its order.
    async fn handle(&mut self) -> Result<(), Problem> {
        let results = &mut self.results;
        let room = usize::try_from(MOST_ITEMS - results.count).unwrap_or(usize::MAX);
        let beyond = self.pieces.len() > room;
        self.pieces.truncate(room);
        let items: Vec<&[u8]> = self.pieces.iter().filter_map(Piece::bytes).collect();
        let now = self.context.clock.now();
        let handled = service::receive_all(&self.context.service, &self.caller, &items, now).await?;
        let mut handled = handled.iter();
        for piece in &self.pieces {
            let (index, minimal) = (results.count, results.minimal);
            let result = match piece {
                Piece::TooLarge { bytes } => {
                    Some(ItemResult::too_large(index, *bytes, ITEM_LIMIT_BYTES, minimal))
                }
                Piece::Item(_) => handled.next().map(|handled| ItemResult::of(index, handled, minimal)),
            };
            result.map_or(Ok(()), |result| results.add(&result))?;
        }
        self.pieces.clear();
        if beyond {
            let detail = format!(
                "An envelope takes at most {MOST_ITEMS} items. Those before are kept; send the rest in another."
            );
            return Err(Problem::new(Code::TooLarge, detail));
        }
        Ok(())
    }
}

fn broken_envelope(broken: &crate::wire::envelope::Broken) -> Problem {
    let what = sentence(broken);
    let detail = format!("{what} The items before are kept; mend the envelope and send it again.");
    Problem::new(Code::MalformedJson, detail)
}

/// The body, with its length as it travels.
fn counted(
    payload: Payload,
    travelled: Rc<Cell<u64>>,
) -> impl Stream<Item = Result<Bytes, PayloadError>> + Unpin {
    payload.inspect(move |chunk| {
        let length = chunk.as_ref().map_or(0, |chunk| chunk.len() as u64);
        travelled.set(travelled.get() + length);
    })
}

/// Ask which items the service has, by the digests of their bytes, before sending them; the answer is in the same order.
#[utoipa::path(
    tag = "custody", security(("bearer" = ["trials:write"])), request_body = DigestQuestion,
    responses((status = 200, description = "What is known of each.", body = Page<KnownDigest>))
)]
#[post("/v1/envelopes/digests")]
async fn check_digests(
    caller: Caller<TrialsWrite>,
    context: Shared,
    body: Body,
) -> Reply<Json<Page<KnownDigest>>> {
    let digests = body.json::<DigestQuestion>()?.read().map_err(Problem::invalid)?;
    let known = service::dispositions(&context.service, &caller, &digests).await?;
    let known: std::collections::HashMap<_, _> =
        known.into_iter().map(|(digest, disposition, at)| (digest, (disposition, at))).collect();
    let answer = digests.iter().map(|digest| KnownDigest::of(digest, known.get(digest).copied()));
    Ok(Json(Page::whole(answer.collect())))
}

/// What envelopes may hold, and which schemas are read.
#[utoipa::path(
    tag = "custody", security(("bearer" = ["trials:read"])),
    responses((status = 200, description = "The limits.", body = EnvelopeLimits))
)]
#[get("/v1/envelopes/limits")]
async fn get_envelope_limits(_caller: Caller<TrialsRead>) -> Json<EnvelopeLimits> {
    Json(EnvelopeLimits {
        item_bytes: ITEM_LIMIT_BYTES,
        items: MOST_ITEMS,
        bytes: MOST_BYTES,
        expansion: MOST_EXPANSION,
        digests: MOST_DIGESTS,
        schemas: EnvelopeLimits::schemas(),
    })
}

/// Registers the operations of this file.
pub(super) fn register(config: &mut ServiceConfig<'_>) {
    config.service(send_envelope).service(check_digests).service(get_envelope_limits);
}
