//! Envelopes: many records at once, each kept whatever is wrong with it.

use std::cell::Cell;
use std::io::{Read, Seek, Write};
use std::rc::Rc;

use actix_web::dev::Decompress;
use actix_web::error::PayloadError;
use actix_web::http::header::{CONTENT_TYPE, ContentEncoding};
use actix_web::web::{Bytes, Json, Payload};
use actix_web::{HttpRequest, HttpResponse, get, post};
use futures_util::{Stream, StreamExt, stream};
use tempfile::SpooledTempFile;
use utoipa_actix_web::service_config::ServiceConfig;

use super::extract::{Body, Caller, TrialsRead, TrialsWrite, encoding};
use super::{Context, Reply, Shared};
use crate::config::BODY_LIMIT_BYTES;
use crate::model::Principal;
use crate::problem::{Code, Problem};
use crate::service::envelope as service;
use crate::view::envelope::{EnvelopeLimits, EnvelopeResults, ItemResult, KnownDigest};
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
/// Results beyond this many bytes are kept in a file until they are sent.
const SPOOL_BYTES: usize = 1024 * 1024;
/// How much of them is sent at a time.
const BLOCK_BYTES: usize = 64 * 1024;

/// Send many records of any kind at once: a JSON array, or a JSON value a line. Each says by its member `schema` what it is.
/// Whatever is wrong with an item, its bytes are kept; items that break rules are held (`/v1/custody`) until a person or a
/// resolving record settles them. The results follow in the order of the items.
///
/// Everything but 200 gives no right to forget an item: what was kept before an envelope broke is told by
/// `/v1/envelopes/digests`, and sending it again is harmless.
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
    let _place = context.envelopes.try_acquire().map_err(|_| {
        Problem::new(
            Code::Unavailable,
            "Many envelopes are being read. Send this one again after a short wait.",
        )
    })?;
    let minimal = prefers_minimal(&request);
    let mut results = Results::new(framing, minimal);
    receive(&context, &caller, (framing, encoding), payload, &mut results).await?;
    results.reply()
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

/// Reads an envelope to its end, item by item: each is kept before the next is read.
async fn receive(
    context: &Context,
    caller: &Principal,
    (framing, encoding): (Framing, ContentEncoding),
    payload: Payload,
    results: &mut Results,
) -> Result<(), Problem> {
    let mut splitter = Splitter::new(framing, ITEM_LIMIT_BYTES);
    let travelled = Rc::new(Cell::new(0));
    let mut body = Decompress::new(counted(payload, Rc::clone(&travelled)), encoding);
    let (mut pieces, mut bytes) = (Vec::new(), 0);
    while let Some(chunk) = body.next().await {
        let chunk = chunk.map_err(|error| {
            Problem::new(Code::BadRequest, format!("The body could not be read: {error}. Send it again."))
        })?;
        bytes += chunk.len() as u64;
        let found = splitter.take(&chunk, &mut pieces);
        handle(context, caller, &mut pieces, results).await?;
        found.map_err(|broken| broken_envelope(&broken))?;
        if bytes > MOST_BYTES || bytes > ALWAYS_BYTES.max(MOST_EXPANSION * travelled.get()) {
            let detail = format!(
                "An envelope takes at most {MOST_BYTES} bytes, and at most {MOST_EXPANSION} times what travelled. The items \
                 before are kept; ask `/v1/envelopes/digests` which, and send the others in smaller envelopes."
            );
            return Err(Problem::new(Code::TooLarge, detail));
        }
    }
    let end = splitter.end(&mut pieces);
    handle(context, caller, &mut pieces, results).await?;
    end.map_err(|broken| broken_envelope(&broken))
}

fn broken_envelope(broken: &crate::wire::envelope::Broken) -> Problem {
    let what = sentence(broken);
    let detail = format!("{what} The items before are kept; mend the envelope and send it again.");
    Problem::new(Code::MalformedJson, detail)
}

/// Receives what was found, and adds the results in its order.
async fn handle(
    context: &Context,
    caller: &Principal,
    pieces: &mut Vec<Piece>,
    results: &mut Results,
) -> Result<(), Problem> {
    let room = usize::try_from(MOST_ITEMS - results.count).unwrap_or(usize::MAX);
    let beyond = pieces.len() > room;
    pieces.truncate(room);
    let items: Vec<&[u8]> = pieces.iter().filter_map(Piece::bytes).collect();
    let handled = service::receive_all(&context.service, caller, &items, context.clock.now()).await?;
    let mut handled = handled.iter();
    for piece in pieces.iter() {
        let (index, minimal) = (results.count, results.minimal);
        let result = match piece {
            Piece::TooLarge { bytes } => {
                Some(ItemResult::too_large(index, *bytes, ITEM_LIMIT_BYTES, minimal))
            }
            Piece::Item(_) => handled.next().map(|handled| ItemResult::of(index, handled, minimal)),
        };
        result.map_or(Ok(()), |result| results.add(&result))?;
    }
    pieces.clear();
    if beyond {
        let detail = format!(
            "An envelope takes at most {MOST_ITEMS} items. Those before are kept; send the rest in another."
        );
        return Err(Problem::new(Code::TooLarge, detail));
    }
    Ok(())
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

/// Results on their way out. Few are kept in memory, many in a file: a client may well send everything before it reads
/// anything.
struct Results {
    framing: Framing,
    minimal: bool,
    count: u64,
    spool: SpooledTempFile,
}

impl Results {
    fn new(framing: Framing, minimal: bool) -> Self {
        Self { framing, minimal, count: 0, spool: SpooledTempFile::new(SPOOL_BYTES) }
    }

    fn add(&mut self, result: &ItemResult) -> Result<(), Problem> {
        let before: &[u8] = match (self.framing, self.count) {
            (Framing::Array, 0) => b"{\"results\":[",
            (Framing::Array, _) => b",",
            (Framing::Lines, _) => b"",
        };
        self.write(before)?;
        self.write(&serde_json::to_vec(result).map_err(|error| fault(&error))?)?;
        if self.framing == Framing::Lines {
            self.write(b"\n")?;
        }
        self.count += 1;
        Ok(())
    }

    fn write(&mut self, bytes: &[u8]) -> Result<(), Problem> {
        self.spool.write_all(bytes).map_err(|error| fault(&error))
    }

    fn reply(mut self) -> Reply<HttpResponse> {
        if self.framing == Framing::Array {
            self.write(if self.count == 0 { b"{\"results\":[]}" } else { b"]}" })?;
        }
        self.spool.rewind().map_err(|error| fault(&error))?;
        let mut reply = HttpResponse::Ok();
        reply.content_type(match self.framing {
            Framing::Array => "application/json",
            Framing::Lines => "application/x-ndjson",
        });
        if self.minimal {
            reply.insert_header(("Preference-Applied", "return=minimal"));
        }
        Ok(reply.streaming(stream::unfold(self.spool, |mut spool| async move {
            let mut block = vec![0; BLOCK_BYTES];
            match spool.read(&mut block) {
                Ok(0) => None,
                Ok(length) => {
                    block.truncate(length);
                    Some((Ok(Bytes::from(block)), spool))
                }
                Err(error) => Some((Err(error), spool)),
            }
        })))
    }
}

fn fault(error: &dyn std::error::Error) -> Problem {
    tracing::error!(%error, "results of an envelope could not be written");
    Problem::new(
        Code::Internal,
        "What was sent is kept, but the results are lost. Send the same envelope again.",
    )
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
