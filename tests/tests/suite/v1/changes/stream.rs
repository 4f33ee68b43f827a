//! The feed as server-sent events.

use std::time::Duration;

use chrono::TimeDelta;
use lapwatch_tests::harness::{App, Caller, Shop};
use reqwest::{Method, Response};
use serde_json::Value;
use tokio::time::timeout;

use super::{event, stored, told};

/// One event as it arrived.
#[derive(Debug, Default)]
pub(super) struct Event {
    pub(super) name: String,
    pub(super) data: Option<Value>,
    pub(super) id: Option<String>,
}

/// An open stream, read as WHATWG HTML section 9.2.6 says.
pub(super) struct Line {
    response: Response,
    buffer: Vec<u8>,
}

impl Line {
    pub(super) async fn open(caller: &Caller<'_>, query: &str, last_id: Option<&str>) -> Response {
        let request = caller.request(Method::GET, &format!("/v1/changes/stream{query}"));
        let request = request.header("accept-encoding", "gzip, br");
        let request = match last_id {
            Some(id) => request.header("last-event-id", id),
            None => request,
        };
        request.send().await.expect("an answer")
    }

    pub(super) fn of(response: Response) -> Self {
        assert_eq!(response.status().as_u16(), 200);
        assert_eq!(response.headers()["content-type"], "text/event-stream");
        Self { response, buffer: Vec::new() }
    }

    /// The next event, or comment; `None` when the stream has ended.
    pub(super) async fn next(&mut self) -> Option<Event> {
        loop {
            if let Some(end) = self.buffer.windows(2).position(|pair| pair == b"\n\n") {
                let block: Vec<u8> = self.buffer.drain(..end + 2).collect();
                return Some(read_event(&String::from_utf8(block).expect("UTF-8")));
            }
            let chunk = timeout(Duration::from_secs(10), self.response.chunk()).await;
            match chunk.expect("a heartbeat at least") {
                Ok(Some(chunk)) => self.buffer.extend_from_slice(&chunk),
                Ok(None) | Err(_) => return None,
            }
        }
    }

    async fn until(&mut self, name: &str) -> Event {
        loop {
            let event = self.next().await.unwrap_or_else(|| panic!("the stream ended before {name}"));
            if event.name == name {
                return event;
            }
        }
    }
}

fn read_event(block: &str) -> Event {
    let mut event = Event::default();
    for line in block.lines() {
        match line.split_once(": ") {
            Some(("event", name)) => event.name = name.to_owned(),
            Some(("id", id)) => event.id = Some(id.to_owned()),
            Some(("data", data)) => event.data = Some(serde_json::from_str(data).expect("JSON")),
            _ => {}
        }
    }
    event
}

#[tokio::test]
async fn a_stream_tells_what_was_and_then_what_happens() {
    let app = App::start().await;
    let director = app.director();
    let shop = Shop::open(&director).await;
    let mut line = Line::of(Line::open(&director, "", None).await);
    let mut seen = Vec::new();
    let mut last = String::new();
    // Five things and a standing.
    while seen.len() < 6 {
        let event = line.until("change").await;
        seen.push(told(&event.data.expect("data")));
        last = event.id.expect("an id");
    }
    assert_eq!(seen, stored(&app).await);
    director.post("/v1/service-events", &event(shop.unit, app.now())).await.expect(201);
    let live = line.until("change").await;
    let data = live.data.expect("data");
    assert_eq!((&data["event"], &data["cursor"]), (&"added".into(), &live.id.expect("an id").into()));
    // Cut off, and on behind the last that arrived: the same entry is the next.
    drop(line);
    let mut line = Line::of(Line::open(&director, "?after=now", Some(&last)).await);
    assert_eq!(line.until("change").await.data.expect("data")["sequence"], data["sequence"]);
    // A stream of bounded length ends by itself.
    let reply = director.get("/v1/changes/stream?for_seconds=0&kinds=unit").await;
    assert_eq!(reply.text().matches("event: change").count(), 1, "{}", reply.text());
    for query in ["?after=7", "?kinds=seam", "?for_seconds=86401"] {
        director.get(&format!("/v1/changes/stream{query}")).await.problem(400, "bad_request");
    }
}

#[tokio::test]
async fn a_heartbeat_moves_the_reader_past_what_it_did_not_ask_for() {
    let app = App::start().await;
    let director = app.director();
    let shop = Shop::open(&director).await;
    let mut line = Line::of(Line::open(&director, "?after=now&kinds=lot", None).await);
    let first = line.until("").await.id.or(line.until("").await.id).expect("an id");
    director.post("/v1/service-events", &event(shop.unit, app.now())).await.expect(201);
    let mut id = first.clone();
    while id == first {
        let beat = line.next().await.expect("the stream goes on");
        assert_eq!(beat.name, "", "nothing of the kind happened");
        id = beat.id.unwrap_or(id);
    }
    let rest = director.get(&format!("/v1/changes?after={id}")).await.expect(200);
    assert!(rest["items"].as_array().expect("items").is_empty(), "{rest}");
}

#[tokio::test]
async fn a_stream_ends_with_its_token_and_with_the_right_to_it() {
    let app = App::start().await;
    Shop::open(&app.director()).await;
    let (reader, id) = app.add_app(&serde_json::json!({ "name": "Diary", "scopes": ["units:read"] })).await;
    let mut of_app = Line::of(Line::open(&reader, "", None).await);
    let director = app.director();
    let mut of_director = Line::of(Line::open(&director, "", None).await);
    of_app.until("change").await;
    of_director.until("change").await;

    director.delete(&format!("/v1/apps/{id}")).await;
    let problem = of_app.until("problem").await.data.expect("data");
    assert_eq!((&problem["code"], &problem["status"]), (&"unauthenticated".into(), &401.into()));
    assert!(of_app.next().await.is_none(), "that was its end");

    app.pass(TimeDelta::minutes(61));
    let problem = of_director.until("problem").await.data.expect("data");
    assert_eq!(problem["code"], "unauthenticated");
    assert!(of_director.next().await.is_none());
}

/// More streams than connections, and the service still answers.
#[tokio::test]
async fn waiting_streams_hold_no_connection() {
    let app = App::start().await;
    let director = app.director();
    let shop = Shop::open(&director).await;
    let mut lines = Vec::new();
    for _ in 0..24 {
        lines.push(Line::of(Line::open(&director, "?after=now", None).await));
    }
    director.get("/v1/fleet").await.expect(200);
    director.post("/v1/service-events", &event(shop.unit, app.now())).await.expect(201);
    for line in &mut lines {
        line.until("change").await;
    }
}

#[tokio::test]
async fn places_to_wait_are_counted_and_given_back() {
    let app = App::start_with(|settings| settings.feed.waiting_of_one = 2).await;
    let director = app.director();
    Shop::open(&director).await;
    let first = Line::of(Line::open(&director, "", None).await);
    let _second = Line::of(Line::open(&director, "", None).await);
    let refused = director.get("/v1/changes?after=now&wait_seconds=1").await;
    let problem = refused.problem(503, "unavailable");
    assert!(!problem.headers["retry-after"].is_empty());
    director.get("/v1/changes").await.expect(200);
    // Who was cut off is noticed at the next heartbeat.
    drop(first);
    let again =
        async { while director.get("/v1/changes?after=now&wait_seconds=1").await.status.as_u16() != 200 {} };
    timeout(Duration::from_secs(10), again).await.expect("a place is free again");
}

/// Nobody waits for the service to end.
#[tokio::test]
async fn a_service_that_ends_lets_its_streams_go() {
    let app = App::start().await;
    let director = app.director();
    Shop::open(&director).await;
    let mut line = Line::of(Line::open(&director, "", None).await);
    line.until("change").await;
    app.running().service.store.heads().close();
    while line.next().await.is_some() {}
}
