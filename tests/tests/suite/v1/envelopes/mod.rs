//! `/v1/envelopes` and `/v1/custody`: many records at once, each kept whatever is wrong with it.

mod custody;
mod items;
mod streams;
mod together;

use lapwatch_tests::harness::{Caller, Reply};
use reqwest::Method;
use serde_json::{Value, json};

/// A service event about a unit.
fn event(unit: uuid::Uuid, at: chrono::DateTime<chrono::Utc>) -> Value {
    json!({
        "schema": "service_event/1", "id": uuid::Uuid::now_v7(), "unit_id": unit, "performed_at": at,
        "kind": "inspection", "affects_heat": false,
    })
}

/// Sends lines, whatever they are.
async fn send_lines(caller: &Caller<'_>, lines: &[impl AsRef<[u8]>]) -> Vec<Value> {
    let body: Vec<u8> = lines.iter().flat_map(|line| [line.as_ref(), b"\n"].concat()).collect();
    let request = caller.request(Method::POST, "/v1/envelopes");
    let reply = Reply::of(request.header("content-type", "application/x-ndjson").body(body)).await;
    assert_eq!(reply.status.as_u16(), 200, "{}", reply.text());
    assert_eq!(reply.header("content-type"), "application/x-ndjson");
    reply.text().lines().map(|line| serde_json::from_str(line).expect("a line of JSON")).collect()
}

/// Sends an array.
async fn send(caller: &Caller<'_>, items: &Value) -> Vec<Value> {
    let answer = caller.post("/v1/envelopes", items).await.expect(200);
    answer["results"].as_array().expect("results").clone()
}

/// One member of every result.
fn each<'r>(results: &'r [Value], member: &str) -> Vec<&'r str> {
    results.iter().map(|result| result[member].as_str().unwrap_or("null")).collect()
}
