//! The change feed: page by page, waiting for the next entry, or as a stream.

mod stream;

use std::time::Duration;

use actix_web::http::header::{CACHE_CONTROL, ContentEncoding, ETAG, EntityTag, LINK};
use actix_web::web::{Json, Query};
use actix_web::{HttpRequest, HttpResponse, get};
use serde::Deserialize;
use sha2::{Digest, Sha256};
use tokio::time::Instant;
use utoipa::IntoParams;
use utoipa_actix_web::service_config::ServiceConfig;
use uuid::Uuid;

use super::extract::{Caller, UnitsRead};
use super::tags::is_known;
use super::{Context, Reply, Shared};
use crate::model::{ChangeKind, Principal};
use crate::problem::{Code, Problem};
use crate::service::device;
use crate::service::feed::{Follower, Start, Stretch, Wanted, read};
use crate::view::device::DeviceSnapshot;
use crate::view::feed::Changes;
use crate::wire::Cursor;

/// So many entries are looked through at a time, unless the query says otherwise.
const USUAL_LIMIT: u16 = 100;

/// Which entries to read.
#[derive(Debug, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
struct ChangeQuery {
    /// Behind this cursor: a `through` or `cursor` of before. `now`: behind the last entry that there is. Absent: from the
    /// beginning.
    after: Option<String>,
    /// Of these kinds, separated by commas; absent: of every kind that the token may read.
    #[param(example = "trial,standing,flag")]
    kinds: Option<String>,
    /// Those that concern this crew: its own records, its units, and what concerns everybody.
    crew_id: Option<Uuid>,
    /// Look through at most so many, 1 to 500; default 100.
    #[param(minimum = 1, maximum = 500)]
    limit: Option<u16>,
    /// When there is none, wait so many seconds for one, 0 to 60; default 0.
    #[param(minimum = 0, maximum = 60)]
    wait_seconds: Option<u8>,
}

/// What happened since: each record that was accepted or held, each standing, flag and recheck that followed, each piece of
/// configuration. In the order of commits, none left out, none twice. Keep `through` and ask `after` it next.
#[utoipa::path(
    tag = "feed", security(("bearer" = ["units:read"])),
    params(
        ChangeQuery,
        ("If-None-Match" = Option<String>, Header, description = "An `ETag` of before: nothing is sent while it is the same."),
    ),
    responses(
        (status = 200, description = "The next entries.", body = Changes,
         headers(
            ("ETag" = String, description = "Names this answer."),
            ("Link" = String, description = "What comes next, rel=\"next\" (RFC 8288)."),
         )),
        (status = 304, description = "The answer is the one that `If-None-Match` names."),
        (status = 410, description = "The cursor leads nowhere any more.", body = crate::problem::ProblemBody,
         content_type = "application/problem+json"),
    )
)]
#[get("/v1/changes")]
async fn list_changes(
    caller: Caller<UnitsRead>,
    context: Shared,
    request: HttpRequest,
    query: Query<ChangeQuery>,
) -> Reply<HttpResponse> {
    let limit = query.limit.unwrap_or(USUAL_LIMIT);
    let wait_seconds = query.wait_seconds.unwrap_or(0);
    if !(1..=500).contains(&limit) {
        return Err(Problem::new(Code::BadRequest, "`limit` lies between 1 and 500."));
    }
    if wait_seconds > 60 {
        return Err(Problem::new(Code::BadRequest, "`wait_seconds` lies between 0 and 60."));
    }
    let wanted = Wanted::by(&caller, kinds(query.kinds.as_deref())?, query.crew_id, limit.into())?;
    let start = start(query.after.as_deref(), "after", &caller)?;
    let stretch = if wait_seconds == 0 {
        read(&context.service, &caller, &wanted, start, context.clock.now()).await?
    } else {
        wait(&context, &caller, &wanted, start, Duration::from_secs(wait_seconds.into())).await?
    };
    answer(&request, &Changes::of(caller.organization, &stretch))
}

/// The first stretch that has something in it; after `patience` an empty one.
async fn wait(
    context: &Context,
    caller: &Principal,
    wanted: &Wanted,
    start: Start,
    patience: Duration,
) -> Result<Stretch, Problem> {
    let until = Instant::now() + patience;
    let mut follower = Follower::new(&context.service, caller, start)?;
    loop {
        let stretch = follower.read(&context.service, caller, wanted, context.clock.now()).await?;
        let left = until.saturating_duration_since(Instant::now());
        if !stretch.changes.is_empty() || left.is_zero() {
            return Ok(stretch);
        }
        // What was passed over is not waited for.
        if !stretch.more && !follower.wait(left).await {
            return Ok(stretch);
        }
    }
}

fn answer(request: &HttpRequest, changes: &Changes) -> Reply<HttpResponse> {
    let body = serde_json::to_vec(changes)
        .map_err(|error| Problem::new(Code::Internal, format!("The answer cannot be written: {error}.")))?;
    let digest = Sha256::digest(&body).iter().map(|byte| format!("{byte:02x}")).collect();
    let tag = EntityTag::new_strong(digest);
    let known = is_known(request, &tag);
    let mut reply = if known { HttpResponse::NotModified() } else { HttpResponse::Ok() };
    reply.insert_header((ETAG, tag.to_string()));
    reply.insert_header((LINK, next_link(request.query_string(), &changes.through)));
    reply.insert_header((CACHE_CONTROL, "private, no-cache"));
    // The tag names these very bytes: they travel as they are, uncompressed.
    reply.insert_header(ContentEncoding::Identity);
    Ok(if known { reply.finish() } else { reply.content_type("application/json").body(body) })
}

fn next_link(query: &str, through: &str) -> String {
    let kept = query.split('&').filter(|part| !part.is_empty() && !part.starts_with("after="));
    let query = kept.map(str::to_owned).chain([format!("after={through}")]).collect::<Vec<_>>().join("&");
    format!("</v1/changes?{query}>; rel=\"next\"")
}

/// The kinds that a query names.
fn kinds(given: Option<&str>) -> Reply<Option<Vec<ChangeKind>>> {
    let kind = |code: &str| {
        ChangeKind::from_code(code.trim()).ok_or_else(|| {
            let known = crate::wire::codes::<ChangeKind>();
            Problem::new(Code::BadRequest, format!("`kinds` are some of {known}, separated by commas."))
        })
    };
    given.map(|list| list.split(',').map(kind).collect()).transpose()
}

/// Where to begin, as the query or a header named `name` says.
fn start(given: Option<&str>, name: &str, caller: &Principal) -> Reply<Start> {
    match given {
        None => Ok(Start::Beginning),
        Some("now") => Ok(Start::Now),
        Some(text) => text
            .parse::<Cursor>()
            .ok()
            .filter(|cursor| cursor.organization == caller.organization)
            .map(|cursor| Start::Behind(cursor.place))
            .ok_or_else(|| {
                let detail = format!(
                    "`{name}` is not a cursor that this feed gave; leave it out to read from the beginning."
                );
                Problem::new(Code::BadRequest, detail)
            }),
    }
}

/// Whose snapshot to take.
#[derive(Debug, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
struct SnapshotQuery {
    /// The crew; absent: the one that the token acts for, else the whole organization.
    crew_id: Option<Uuid>,
}

/// What a crew's phone has to know before it goes offline: its units with standing and set point, rechecks, membranes, lots,
/// criteria. What changes afterwards is told by `/v1/changes` after `through`, for the same crew: read anew what is `added` or
/// `changed`, forget what is `gone`. Take another when `fresh_until` has passed or a cursor is answered with `cursor_lost`.
#[utoipa::path(
    tag = "feed", security(("bearer" = ["units:read", "rechecks:read", "configuration:read"])), params(SnapshotQuery),
    responses(
        (status = 200, description = "What is so now.", body = DeviceSnapshot),
        (status = 404, description = "There is no such crew.", body = crate::problem::ProblemBody,
         content_type = "application/problem+json"),
    )
)]
#[get("/v1/device-snapshot")]
async fn get_device_snapshot(
    caller: Caller<UnitsRead>,
    context: Shared,
    query: Query<SnapshotQuery>,
) -> Reply<Json<DeviceSnapshot>> {
    let now = context.clock.now();
    let snapshot = device::snapshot(&context.service, &caller, query.crew_id, now).await?;
    Ok(Json(DeviceSnapshot::of(caller.organization, &snapshot, now)))
}

/// Registers the operations of this file.
pub(super) fn register(config: &mut ServiceConfig<'_>) {
    config.service(list_changes).service(stream::follow_changes).service(get_device_snapshot);
}
