//! Envelopes as streams: compressed, broken, too large, side by side.

use std::io::Write;

use futures_util::future::join_all;
use lapwatch_tests::harness::{App, Caller, Reply, Shop, Trial};
use reqwest::Method;
use serde_json::{Value, json};

use super::{each, event, send, send_lines};

async fn post(caller: &Caller<'_>, kind: &str, encoding: &str, body: Vec<u8>) -> Reply {
    let request = caller.request(Method::POST, "/v1/envelopes").header("content-type", kind);
    Reply::of(request.header("content-encoding", encoding).body(body)).await
}

#[tokio::test]
async fn a_broken_envelope_keeps_what_came_before_the_break() {
    let app = App::start().await;
    let director = app.director();
    let shop = Shop::open(&director).await;
    let one = event(shop.unit, app.now()).to_string();
    for (body, at) in
        [(format!("[{one}"), "closed"), (format!("[{one},,2]"), "missing"), (one.clone(), "begin")]
    {
        let problem = director.post_text("/v1/envelopes", body).await.problem(400, "malformed_json");
        problem.advises(at);
    }
    assert_eq!(director.get("/v1/service-events").await.expect(200)["items"].as_array().unwrap().len(), 1);
    let plain = post(&director, "text/plain", "identity", b"[]".to_vec()).await;
    plain.problem(415, "unsupported_media_type");
    let packed = post(&director, "application/json", "br", b"[]".to_vec()).await;
    packed.problem(415, "unsupported_media_type");
    assert_eq!(send(&director, &json!([])).await, Vec::<Value>::new());
}

#[tokio::test]
async fn an_item_past_the_limit_lies_between_good_ones() {
    let app = App::start().await;
    let director = app.director();
    let shop = Shop::open(&director).await;
    let limit =
        director.get("/v1/envelopes/limits").await.expect(200)["item_bytes"].as_u64().unwrap() as usize;
    let [before, behind] = [0, 1].map(|_| event(shop.unit, app.now()).to_string());
    let large = format!("\"{}\"", "x".repeat(limit));
    let results = send_lines(&director, &[before, large, behind]).await;
    assert_eq!(each(&results, "result"), ["created", "too_large", "created"]);
    assert_eq!(results[1]["receipt"], Value::Null);
    assert_eq!(director.get("/v1/custody").await.expect(200)["items"], json!([]), "nothing of it was kept");
}

#[tokio::test]
async fn compressed_envelopes_are_read_and_bombs_are_not() {
    let app = App::start().await;
    let director = app.director();
    let shop = Shop::open(&director).await;
    let gzip = |bytes: &[u8]| {
        let mut encoder = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::best());
        encoder.write_all(bytes).unwrap();
        encoder.finish().unwrap()
    };
    let items = json!([event(shop.unit, app.now())]).to_string();
    let reply = post(&director, "application/json", "gzip", gzip(items.as_bytes())).await.expect(200);
    assert_eq!(reply["results"][0]["result"], "created");
    let zipped = zstd::encode_all(items.as_bytes(), 3).unwrap();
    let reply = post(&director, "application/json", "zstd", zipped).await.expect(200);
    assert_eq!(reply["results"][0]["result"], "duplicate");
    // 64 MiB of white space in 64 KiB.
    let bomb = [items.trim_end_matches(']').as_bytes(), &vec![b' '; 64 << 20]].concat();
    let problem = post(&director, "application/json", "gzip", gzip(&bomb)).await.problem(413, "too_large");
    problem.advises("/v1/envelopes/digests");
    assert_eq!(director.get("/v1/service-events").await.status.as_u16(), 200);
}

#[tokio::test]
async fn a_client_that_wants_little_gets_little() {
    let app = App::start().await;
    let director = app.director();
    let request = director.request(Method::POST, "/v1/envelopes").header("prefer", "return=minimal");
    let reply = Reply::of(request.header("content-type", "application/json").body("[{}]")).await;
    assert_eq!(reply.header("preference-applied"), "return=minimal");
    let result = &reply.expect(200)["results"][0];
    assert_eq!((&result["result"], &result["reason"]), (&json!("quarantined"), &Value::Null));
    assert!(result["receipt"]["digest"].is_string());
}

/// The same trials of two units in opposite order, sixteen envelopes at a time: all are told the truth, and nobody of a deadlock.
#[tokio::test]
async fn envelopes_in_opposite_order_do_not_meet_a_deadlock() {
    let app = App::start_for_a_crowd().await;
    let director = app.director();
    let shop = Shop::open(&director).await;
    let other = shop.another_unit(&director).await;
    let trials: Vec<Value> = (0..6)
        .map(|number| {
            let unit = if number % 2 == 0 { &shop } else { &other };
            Trial::confirmation(unit, app.now(), ["sss", "sss", "sss"]).json()
        })
        .collect();
    let backwards: Vec<Value> = trials.iter().rev().cloned().collect();
    let envelopes = (0..16).map(|number| json!(if number % 2 == 0 { &trials } else { &backwards }));
    let envelopes: Vec<Value> = envelopes.collect();
    let results = join_all(envelopes.iter().map(|envelope| send(&director, envelope))).await;
    let mut created = 0;
    for result in results.iter().flatten() {
        assert!(["created", "duplicate"].contains(&result["result"].as_str().unwrap()), "{result}");
        assert_eq!(result["receipt"]["disposition"], "accepted");
        created += usize::from(result["result"] == "created");
    }
    assert_eq!(created, trials.len(), "each was created once");
    let listed = director.get("/v1/trials").await.expect(200);
    assert_eq!(listed["items"].as_array().unwrap().len(), trials.len());
}
