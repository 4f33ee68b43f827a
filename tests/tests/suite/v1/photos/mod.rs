//! `/v1/photos`, `/v1/photo-contents`, `/v1/uploads`: what is told of photos, and their bytes.

mod album;
mod bucket;
mod contents;
mod records;
mod uploads;

use lapwatch_tests::harness::{App, Caller, Reply, Shop, Trial, sha256};
use reqwest::Method;
use reqwest::header::CONTENT_TYPE;
use serde_json::{Value, json};
use uuid::Uuid;

/// A shop with a trial.
async fn with_a_trial(app: &App) -> (Shop, Value) {
    let shop = Shop::open(&app.director()).await;
    let trial = Trial::good_sweep(&shop, app.now()).json();
    app.director().post("/v1/trials", &trial).await.expect(201);
    (shop, trial)
}

/// That these bytes belong to a record.
fn told(app: &App, subject: &Value, bytes: &[u8]) -> Value {
    json!({ "id": Uuid::now_v7(), "subject_id": subject, "sha256": sha256(bytes), "taken_at": app.now() })
}

async fn put(caller: &Caller<'_>, bytes: &[u8]) -> Reply {
    put_as(caller, &sha256(bytes), bytes).await
}

async fn put_as(caller: &Caller<'_>, sha256: &str, bytes: &[u8]) -> Reply {
    let request = caller.request(Method::PUT, &format!("/v1/photo-contents/{sha256}"));
    Reply::of(request.header(CONTENT_TYPE, "image/jpeg").body(bytes.to_vec())).await
}

/// Ids of the photos that a query lists.
async fn listed(caller: &Caller<'_>, query: &str) -> Vec<Value> {
    let list = caller.get(&format!("/v1/photos?{query}")).await.expect(200);
    list["items"].as_array().expect("a list").iter().map(|kept| kept["photo"]["id"].clone()).collect()
}

fn text(value: &Value) -> &str {
    value.as_str().expect("a text")
}
