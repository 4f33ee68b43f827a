//! The change feed as server-sent events (WHATWG HTML, section 9.2).

use std::time::Duration;

use actix_web::http::header::{CACHE_CONTROL, ContentEncoding};
use actix_web::web::{Bytes, Query};
use actix_web::{HttpRequest, HttpResponse, get};
use chrono::{DateTime, Utc};
use futures_util::stream;
use serde::{Deserialize, Serialize};
use tokio::time::Instant;
use utoipa::IntoParams;
use uuid::Uuid;

use super::{USUAL_LIMIT, kinds, start};
use crate::model::Principal;
use crate::problem::{Code, Problem, ProblemBody};
use crate::routes::extract::{Caller, UnitsRead, bearer};
use crate::routes::{Reply, Shared};
use crate::service::Error;
use crate::service::feed::{Follower, Stretch, Wanted};
use crate::telemetry::request_id;
use crate::view::feed::{Change, cursor};

/// A client that was cut off waits so long before it comes again.
const RETRY_MS: u16 = 2000;

/// Which entries to follow.
#[derive(Debug, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
struct FollowQuery {
    /// Behind this cursor, unless `Last-Event-ID` names one. `now`: behind the last entry that there is. Absent: from the
    /// beginning.
    after: Option<String>,
    /// Of these kinds, separated by commas; absent: of every kind that the token may read.
    #[param(example = "trial,standing,flag")]
    kinds: Option<String>,
    /// Those that concern this crew: its own records, its units, and what concerns everybody.
    crew_id: Option<Uuid>,
    /// End after so many seconds, 0 to 86400; 0: after what is there already. Absent: when the token ends.
    #[param(minimum = 0, maximum = 86_400)]
    for_seconds: Option<u32>,
}

/// What happened since, and then what happens, as server-sent events: each entry of the feed is an event `change` with the
/// entry as its data and its cursor as its id. Between them, comments say that the line is alive and ids move on past what was
/// passed over. A stream that cannot go on ends with an event `problem`, whose data is a problem document; one that just ends
/// is opened again with the last id as `Last-Event-ID`.
#[utoipa::path(
    tag = "feed", security(("bearer" = ["units:read"])),
    params(
        FollowQuery,
        ("Last-Event-ID" = Option<String>, Header, description = "The last id that arrived: go on behind it."),
    ),
    responses(
        (status = 200, description = "The stream.", body = String, content_type = "text/event-stream"),
        (status = 410, description = "The cursor leads nowhere any more.", body = ProblemBody,
         content_type = "application/problem+json"),
    )
)]
#[get("/v1/changes/stream")]
pub(super) async fn follow_changes(
    caller: Caller<UnitsRead>,
    context: Shared,
    request: HttpRequest,
    query: Query<FollowQuery>,
) -> Reply<HttpResponse> {
    let now = context.clock.now();
    let wanted = Wanted::by(&caller, kinds(query.kinds.as_deref())?, query.crew_id, USUAL_LIMIT.into())?;
    let last = request.headers().get("Last-Event-ID").map(|id| id.to_str().unwrap_or_default());
    let start = match last.filter(|id| !id.is_empty()) {
        Some(id) => start(Some(id), "Last-Event-ID", &caller)?,
        None => start(query.after.as_deref(), "after", &caller)?,
    };
    let length = query.for_seconds.map(|seconds| Duration::from_secs(seconds.into()));
    if query.for_seconds.is_some_and(|seconds| seconds > 86_400) {
        return Err(Problem::new(Code::BadRequest, "`for_seconds` lies between 0 and 86400."));
    }
    let mut follower = Follower::new(&context.service, &caller, start)?;
    // What is wrong from the start is answered with a problem instead of a stream.
    let first = follower.read(&context.service, &caller, &wanted, now).await?;
    let line = Line {
        token_ends: context.service.token_ends(bearer(&request).unwrap_or_default(), now)?,
        ends: length.map(|length| Instant::now() + length),
        caller: caller.clone(),
        request_id: request_id(),
        context,
        wanted,
        follower,
        next: Some(Next::Send(first)),
    };
    let mut reply = HttpResponse::Ok();
    reply.content_type("text/event-stream");
    reply.insert_header((CACHE_CONTROL, "no-store"));
    // Neither our compression nor a proxy may collect events before they send them.
    reply.insert_header(ContentEncoding::Identity);
    reply.insert_header(("X-Accel-Buffering", "no"));
    let chunks = stream::unfold(line, |mut line| async move {
        line.chunk().await.map(|chunk| (Ok::<_, actix_web::Error>(Bytes::from(chunk)), line))
    });
    Ok(reply.streaming(Box::pin(chunks)))
}

/// One open stream.
struct Line {
    context: Shared,
    caller: Principal,
    wanted: Wanted,
    follower: Follower,
    token_ends: DateTime<Utc>,
    ends: Option<Instant>,
    request_id: String,
    /// `None` when it has ended.
    next: Option<Next>,
}

/// What is to be done next.
enum Next {
    /// Send this.
    Send(Stretch),
    /// Wait for news, then read on.
    Wait,
    /// Read on.
    Read,
}

impl Line {
    /// The next piece of the stream; `None` at its end.
    async fn chunk(&mut self) -> Option<String> {
        let stretch = match self.next.take()? {
            Next::Send(stretch) => return Some(self.events(&stretch, true)),
            Next::Read => self.read().await,
            Next::Wait => {
                let heartbeat = self.context.feed_heartbeat;
                let left = self.ends.map(|ends| ends.saturating_duration_since(Instant::now()));
                if left.is_some_and(|left| left.is_zero()) {
                    return None;
                }
                if !self.follower.wait(left.map_or(heartbeat, |left| left.min(heartbeat))).await {
                    return None;
                }
                self.read().await
            }
        };
        Some(match stretch {
            Ok(stretch) => self.events(&stretch, false),
            // Without a next thing to do: this was the last.
            Err(error) => self.problem(error),
        })
    }

    /// Reads on, if the token still holds. Done at every heartbeat, so that neither a token that ended nor one that was revoked
    /// keeps a stream.
    async fn read(&mut self) -> Result<Stretch, Error> {
        let now = self.context.clock.now();
        if now >= self.token_ends {
            return Err(Error::Unauthenticated);
        }
        self.follower.read(&self.context.service, &self.caller, &self.wanted, now).await
    }

    fn events(&mut self, stretch: &Stretch, first: bool) -> String {
        let organization = self.caller.organization;
        let mut text = if first { format!("retry: {RETRY_MS}\n\n") } else { String::new() };
        for change in &stretch.changes {
            let change = Change::of(organization, change);
            text.push_str(&event("change", &change, Some(&change.cursor)));
        }
        // Past what was passed over; an id without data moves the client on and nothing else.
        text.push_str(&format!(": the line is open\nid: {}\n\n", cursor(organization, stretch.through)));
        self.next = Some(if stretch.more { Next::Read } else { Next::Wait });
        text
    }

    fn problem(&self, error: Error) -> String {
        let body = ProblemBody { request_id: self.request_id.clone(), ..Problem::from(error).body() };
        event("problem", &body, None)
    }
}

/// One server-sent event. JSON has no line feeds of its own, so its data is one line.
fn event(name: &str, data: &impl Serialize, id: Option<&str>) -> String {
    let data = serde_json::to_string(data).unwrap_or_default();
    let id = id.map(|id| format!("id: {id}\n")).unwrap_or_default();
    format!("event: {name}\n{id}data: {data}\n\n")
}
