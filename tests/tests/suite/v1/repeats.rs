//! `Idempotency-Key`: a request that makes something, repeated by a client that never heard the answer.

use chrono::TimeDelta;
use lapwatch_tests::harness::{App, Caller, PASSWORD, Reply, Shop};
use reqwest::Method;
use reqwest::header::CONTENT_TYPE;
use serde_json::{Value, json};
use uuid::Uuid;

async fn post(caller: &Caller<'_>, path: &str, key: &str, body: &Value) -> Reply {
    let request = caller.request(Method::POST, path).header(CONTENT_TYPE, "application/json");
    Reply::of(request.header("Idempotency-Key", key).body(body.to_string())).await
}

fn without_id(mut form: Value) -> Value {
    form.as_object_mut().unwrap().remove("id");
    form
}

/// Every address that makes something without an id of the client's, with a body.
fn requests(shop: &Shop) -> Vec<(&'static str, Value)> {
    vec![
        ("/v1/sites", without_id(shop.site_form())),
        ("/v1/crews", without_id(shop.crew_form())),
        ("/v1/membranes", without_id(shop.membrane_form())),
        ("/v1/lots", without_id(shop.lot_form())),
        ("/v1/units", without_id(shop.unit_form())),
        ("/v1/criteria-exceptions", json!({ "name": "Parapets", "site_id": shop.site, "minimum_strips": 4 })),
        (
            "/v1/people",
            json!({ "sign_in": "kit@saltmarsh.example", "name": "Kit", "role": "equipment", "password": PASSWORD }),
        ),
        ("/v1/apps", json!({ "name": "Site diary", "scopes": ["trials:read"] })),
    ]
}

async fn count(caller: &Caller<'_>, path: &str) -> usize {
    caller.get(path).await.expect(200)["items"].as_array().expect("items").len()
}

#[tokio::test]
async fn a_repeated_request_makes_nothing_more() {
    let app = App::start().await;
    let shop = Shop::open(&app.director()).await;
    for (path, body) in requests(&shop) {
        let director = app.director();
        let key = Uuid::now_v7().to_string();
        let before = count(&director, path).await;
        let mut first = post(&director, path, &key, &body).await.expect(201);
        app.pass(TimeDelta::days(3));
        let director = app.director();
        // With quotation marks, as a structured field, it is the same key.
        let mut again = post(&director, path, &format!("\"{key}\""), &body).await.expect(201);
        if path == "/v1/apps" {
            // Tokens are kept nowhere: another for the same app, that works and ends when the first does.
            for answer in [&mut first, &mut again] {
                let token = answer.as_object_mut().unwrap().remove("access_token").expect("a token");
                app.bearer(token.as_str().expect("a token")).get("/v1/trials").await.expect(200);
            }
        }
        assert_eq!(again, first, "{path}");
        assert_eq!(count(&director, path).await, before + 1, "{path}");

        let mut other = body.clone();
        other["name"] = json!("Another");
        let refused = post(&director, path, &key, &other).await;
        if body.get("name").is_some() {
            refused.problem(422, "key_reused").advises("a key of its own");
        }
        let another = Uuid::now_v7().to_string();
        if path == "/v1/people" {
            post(&director, path, &another, &body).await.problem(409, "taken");
        } else {
            post(&director, path, &another, &body).await.expect(201);
            assert_eq!(count(&director, path).await, before + 2, "{path}: another key, another thing");
        }
    }
}

/// What was refused has used up no key: the corrected request goes under the same one.
#[tokio::test]
async fn a_refused_request_keeps_no_key() {
    let app = App::start().await;
    let director = app.director();
    let shop = Shop::open(&director).await;
    let mut crew = without_id(shop.crew_form());
    crew["site_id"] = json!(Uuid::nil());
    post(&director, "/v1/crews", "k1", &crew).await.problem(422, "invalid_record");
    crew["site_id"] = json!(shop.site);
    post(&director, "/v1/crews", "k1", &crew).await.expect(201);
    let person = json!({
        "sign_in": app.organization.director.sign_in, "name": "Kit", "role": "equipment", "password": PASSWORD,
    });
    post(&director, "/v1/people", "k2", &person).await.problem(409, "taken");
    let mut free = person;
    free["sign_in"] = json!("kit@saltmarsh.example");
    post(&director, "/v1/people", "k2", &free).await.expect(201);
}

#[tokio::test]
async fn a_key_is_the_callers_own_and_for_one_address() {
    let app = App::start().await;
    let director = app.director();
    let shop = Shop::open(&director).await;
    let site = without_id(shop.site_form());
    let (ours, _) = app.add_app(&json!({ "name": "A", "scopes": ["configuration:write"] })).await;
    let first = post(&director, "/v1/sites", "monday", &site).await.expect(201);
    let theirs = post(&ours, "/v1/sites", "monday", &site).await.expect(201);
    assert_ne!(first["id"], theirs["id"]);
    let membrane = without_id(shop.membrane_form());
    post(&director, "/v1/membranes", "monday", &membrane).await.problem(422, "key_reused");
    // With an id of the client's, no version is added either.
    let reads = async || director.get(&format!("/v1/sites/{}", shop.site)).await.header("etag").to_owned();
    let form = shop.site_form();
    post(&director, "/v1/sites", "tuesday", &form).await.expect(201);
    let tag = reads().await;
    post(&director, "/v1/sites", "tuesday", &form).await.expect(201);
    assert_eq!(reads().await, tag);
}

#[tokio::test]
async fn a_key_has_a_form() {
    let app = App::start().await;
    let director = app.director();
    let site = without_id(Shop::plan().site_form());
    for key in ["", "\"\"", "two words", "a\"b", "a\\b", &"k".repeat(256)] {
        post(&director, "/v1/sites", key, &site).await.problem(400, "bad_request").advises("Idempotency-Key");
    }
    post(&director, "/v1/sites", &"k".repeat(255), &site).await.expect(201);
    assert_eq!(count(&director, "/v1/sites").await, 1);
}

/// A client that lost patience sends the same again while the first is still being answered.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn many_at_once_make_one() {
    let app = App::start().await;
    let director = app.director();
    let shop = Shop::open(&director).await;
    for (path, body) in requests(&shop) {
        let before = count(&director, path).await;
        let key = Uuid::now_v7().to_string();
        let replies =
            futures_util::future::join_all((0..6).map(|_| post(&director, path, &key, &body))).await;
        let id = |reply: &Reply| {
            let answer = reply.expect(201);
            answer.get("app").unwrap_or(&answer)["id"].clone()
        };
        assert!(replies.iter().all(|reply| id(reply) == id(&replies[0])), "{path}");
        assert_eq!(count(&director, path).await, before + 1, "{path}");
    }
}

/// Neither a key nor what was asked under it can be turned back into a password.
#[tokio::test]
async fn nothing_of_the_body_is_kept() {
    let app = App::start().await;
    let director = app.director();
    let person = json!({ "sign_in": "kit@saltmarsh.example", "name": "Kit", "role": "equipment", "password": PASSWORD });
    post(&director, "/v1/people", "k", &person).await.expect(201);
    let database = app.superuser().await;
    let row = database.query_one("SELECT digest FROM keyed_request", &[]).await.expect("a row");
    let mut asked = b"/v1/people\0".to_vec();
    asked.extend(person.to_string().into_bytes());
    let kept: Vec<u8> = row.get("digest");
    for bare in [person.to_string().into_bytes(), asked] {
        assert_ne!(
            kept.iter().map(|byte| format!("{byte:02x}")).collect::<String>(),
            lapwatch_tests::harness::sha256(&bare)
        );
    }
}
