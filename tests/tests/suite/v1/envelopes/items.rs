//! What becomes of items.

use chrono::TimeDelta;
use lapwatch_tests::harness::{App, Shop, Trial};
use serde_json::{Value, json};
use uuid::Uuid;

use super::{each, event, send, send_lines};

/// One of each kind, in an order in which each finds what it names.
fn one_of_each(app: &App, shop: &Shop) -> Vec<Value> {
    let trial = Trial::confirmation(shop, app.now(), ["sss", "sss", "sss"]).json();
    let reading = json!({
        "schema": "second_reading/1", "id": Uuid::now_v7(), "trial_id": trial["id"], "read_by": "Reed",
        "read_at": app.now(), "coupons": vec![vec!["sound"; 3]; 3],
    });
    let (at, span) = (app.now(), Uuid::now_v7());
    let (header, coupons, close) =
        Trial::confirmation(shop, at - TimeDelta::hours(1), ["sss", "sss", "sss"]).pieces();
    let pieces = [vec![header], coupons, vec![close]].concat();
    let photo = json!({
        "schema": "photo/1", "id": Uuid::now_v7(), "subject_id": trial["id"], "coupon": 1, "sha256": "9f".repeat(32),
        "taken_at": at, "caption": "Strip 2 peeled",
    });
    let others = vec![
        trial,
        reading,
        event(shop.unit, at),
        json!({ "schema": "day_plan/1", "id": Uuid::now_v7(), "crew_id": shop.crew, "date": "2026-06-10", "welding": true,
                "unit_ids": [shop.unit] }),
        json!({ "schema": "production_span/1", "id": span, "unit_id": shop.unit, "from": at, "to": at,
                "place": "Hall 3" }),
        json!({ "schema": "decision/1", "id": Uuid::now_v7(), "kind": "acknowledge", "unit_id": shop.unit, "at": at }),
        json!({ "schema": "day_event/1", "id": Uuid::now_v7(), "crew_id": shop.crew, "at": at, "kind": "start" }),
        json!({ "schema": "seam_check/1", "id": Uuid::now_v7(), "span_id": span, "unit_id": shop.unit, "at": at,
                "method": "test_cut", "result": "sound" }),
        json!({ "schema": "retraction/1", "id": Uuid::now_v7(), "record_id": span, "at": at, "reason": "A test." }),
        photo,
        json!({ "schema": "shared_decision/1", "id": Uuid::now_v7(), "kind": "acknowledge", "lot_id": shop.lot, "at": at }),
    ];
    [others, pieces].concat()
}

#[tokio::test]
async fn every_kind_is_taken_in_once_by_either_door() {
    let app = App::start().await;
    let director = app.director();
    let shop = Shop::open(&director).await;
    let items = one_of_each(&app, &shop);
    let first = send(&director, &json!(items)).await;
    assert_eq!(each(&first, "result"), ["created"; 16]);
    let sequences: Vec<i64> =
        first.iter().map(|result| result["receipt"]["change_sequence"].as_i64().expect("a number")).collect();
    assert!(sequences.is_sorted(), "{sequences:?}");
    for (index, (item, result)) in items.iter().zip(&first).enumerate() {
        assert_eq!((&result["index"], &result["id"]), (&json!(index), &item["id"]));
        // The span is withdrawn by an item of the same envelope.
        let disposition = if index == 4 { "retracted" } else { "accepted" };
        assert_eq!(result["receipt"]["disposition"], disposition);
    }

    app.pass(TimeDelta::hours(1));
    let director = app.director();
    let again = send(&director, &json!(items)).await;
    assert_eq!(each(&again, "result"), ["duplicate"; 16]);
    for (first, again) in first.iter().zip(&again) {
        assert_eq!(first["receipt"], again["receipt"], "the first receipt for ever");
        assert_eq!(again["reencoded"], false);
    }
    // Written otherwise, the same value.
    let pretty = serde_json::to_string_pretty(&items[0]).unwrap().replace('\n', " ");
    let reencoded = send_lines(&director, &[pretty]).await;
    assert_eq!((&reencoded[0]["result"], &reencoded[0]["reencoded"]), (&json!("duplicate"), &json!(true)));
    // The conversational door knows it too.
    assert_eq!(director.post("/v1/trials", &items[0]).await.expect(200)["duplicate"], true);
    // And it is the trial that would have been answered there.
    let path = format!("/v1/trials/{}", items[0]["id"].as_str().unwrap());
    assert_eq!(director.get(&path).await.expect(200)["record"], items[0]);
}

#[tokio::test]
async fn whatever_is_wrong_with_an_item_costs_only_itself() {
    let app = App::start().await;
    let director = app.director();
    let shop = Shop::open(&director).await;
    let good =
        [event(shop.unit, app.now()), event(shop.unit, app.now())].map(|item| item.to_string().into_bytes());
    let changed = |change: &dyn Fn(&mut Value)| {
        let mut item = event(shop.unit, app.now());
        change(&mut item);
        item.to_string()
    };
    let twice = changed(&|_| {}).replacen('{', "{\"remarks\":\"a\",\"remarks\":\"b\",", 1);
    let huge = changed(&|_| {}).replacen('{', "{\"performed_by\":1e400,", 1);
    let lone = changed(&|_| {}).replacen('{', "{\"performed_by\":\"\\ud800\",", 1);
    let nul = changed(&|_| {}).replacen('{', "{\"performed_by\":\"a\\u0000b\",", 1);
    let deep = format!("{}{}", "[".repeat(10_000), "]".repeat(10_000));
    let poison: Vec<(Vec<u8>, &str)> = vec![
        (b"{\"schema\":\"service_event/1\",".to_vec(), "malformed_json"),
        (b"\xff\xfe{}".to_vec(), "malformed_json"),
        (b"\0\0\0".to_vec(), "malformed_json"),
        (deep.into_bytes(), "malformed_json"),
        (huge.into_bytes(), "malformed_json"),
        (lone.into_bytes(), "malformed_json"),
        (b"5".to_vec(), "schema_unknown"),
        (b"{}".to_vec(), "schema_unknown"),
        (changed(&|item| item["schema"] = json!("service_event/9")).into_bytes(), "schema_unknown"),
        (changed(&|item| item["schema"] = json!("service_event/0")).into_bytes(), "schema_retired"),
        (changed(&|item| item["schema"] = json!("service_event/01")).into_bytes(), "schema_unknown"),
        (changed(&|item| item["schema"] = json!("service_event/2")).into_bytes(), "unknown_field"),
        (twice.into_bytes(), "duplicate_field"),
        (nul.into_bytes(), "wrong_type"),
        (changed(&|item| item["mood"] = json!("good")).into_bytes(), "unknown_field"),
        (changed(&|item| item["kind"] = json!("fixed")).into_bytes(), "unknown_code"),
        (changed(&|item| item["unit_id"] = json!(Uuid::now_v7())).into_bytes(), "unknown_id"),
    ];
    let mut lines = vec![good[0].clone()];
    lines.extend(poison.iter().map(|(line, _)| line.clone()));
    lines.push(good[1].clone());
    let results = send_lines(&director, &lines).await;
    assert_eq!(results.len(), lines.len());
    assert_eq!(
        (&results[0]["result"], &results[lines.len() - 1]["result"]),
        (&json!("created"), &json!("created"))
    );
    for ((line, code), result) in poison.iter().zip(&results[1..]) {
        let text = String::from_utf8_lossy(&line[..line.len().min(80)]).into_owned();
        assert_eq!(result["result"], "quarantined", "{text}: {result}");
        assert_eq!(result["reason"]["code"], *code, "{text}: {result}");
        assert!(!result["reason"]["errors"][0]["detail"].as_str().unwrap().is_empty());
        // Byte for byte, for whoever wants to see it.
        let path = format!("/v1/custody/{}", result["custody_id"].as_str().unwrap());
        let held = director.get(&path).await.expect(200);
        assert_eq!((&held["state"], &held["bytes"]), (&json!("open"), &json!(line.len())));
        let content = director.get(&format!("{path}/content")).await;
        assert_eq!(content.header("content-type"), "application/octet-stream");
        assert!(content.body() == &line[..], "{text}");
    }
    let again = send_lines(&director, &lines).await;
    assert_eq!(each(&again, "result"), vec!["duplicate"; lines.len()]);
    for (first, again) in results.iter().zip(&again) {
        assert_eq!(first["receipt"], again["receipt"]);
    }
    assert_eq!(
        director.get("/v1/custody?state=open&limit=200").await.expect(200)["items"].as_array().unwrap().len(),
        poison.len()
    );
}

#[tokio::test]
async fn a_conflict_leaves_the_first_and_keeps_the_other() {
    let app = App::start().await;
    let director = app.director();
    let shop = Shop::open(&director).await;
    let first = event(shop.unit, app.now());
    let mut other = first.clone();
    other["remarks"] = json!("Soot.");
    let results = send(&director, &json!([first, other])).await;
    assert_eq!(each(&results, "result"), ["created", "conflict"]);
    assert_eq!(results[1]["receipt"]["disposition"], "conflict");
    assert_eq!(director.get("/v1/service-events").await.expect(200)["items"][0]["remarks"], Value::Null);
    // Neither order of arrival changes what stands.
    assert_eq!(each(&send(&director, &json!([other, first])).await, "result"), ["duplicate", "duplicate"]);
    // A person gives it an id of its own.
    let path = format!("/v1/custody/{}/release", results[1]["custody_id"].as_str().unwrap());
    director.post(&path, &json!({})).await.problem(409, "conflict");
    let id = Uuid::now_v7();
    let patch = json!({
        "patch": [{ "op": "replace", "path": "/id", "value": id }], "reason": "Two visits under one id.",
    });
    let held = director.post(&path, &patch).await.expect(200);
    assert_eq!((&held["state"], &held["settled"]["record_id"]), (&json!("accepted"), &json!(id)));
    assert_eq!(director.get("/v1/service-events").await.expect(200)["items"].as_array().unwrap().len(), 2);
}

/// An app sends what it may send; the rest is held for somebody who may, not lost.
#[tokio::test]
async fn what_a_sender_may_not_send_is_held() {
    let app = App::start().await;
    let director = app.director();
    let ours = Shop::open(&director).await;
    let theirs = ours.another_crew(&director).await;
    let items = [
        Trial::confirmation(&ours, app.now(), ["sss", "sss", "sss"]).json(),
        Trial::confirmation(&theirs, app.now(), ["sss", "sss", "sss"]).json(),
        event(ours.unit, app.now()),
    ];
    let phone = app.app_of_crew(&["trials:read", "trials:write"], ours.crew).await;
    let results = send(&phone, &json!(items)).await;
    assert_eq!(each(&results, "result"), ["created", "quarantined", "quarantined"]);
    let codes: Vec<&Value> = results[1..].iter().map(|result| &result["reason"]["code"]).collect();
    assert_eq!(codes, ["other_crew", "missing_scope"]);
    // The phone sees what it sent, another crew's does not.
    assert_eq!(phone.get("/v1/custody").await.expect(200)["items"].as_array().unwrap().len(), 2);
    let other = app.app_of_crew(&["trials:read"], theirs.crew).await;
    assert_eq!(other.get("/v1/custody").await.expect(200)["items"], json!([]));
    let path = format!("/v1/custody/{}", results[1]["custody_id"].as_str().unwrap());
    other.get(&path).await.problem(404, "not_found");
    // Nobody but a person who may both decide and send it settles it.
    let clerk = app.app(&["trials:read", "decisions:write"]).await;
    let release = format!("/v1/custody/{}/release", results[2]["custody_id"].as_str().unwrap());
    clerk.post(&release, &json!({})).await.problem(403, "forbidden").advises("units:write");
    director.post(&release, &json!({})).await.expect(200);
    assert_eq!(director.get("/v1/service-events").await.expect(200)["items"].as_array().unwrap().len(), 1);
}

#[tokio::test]
async fn digests_tell_what_is_there() {
    let app = App::start().await;
    let director = app.director();
    let shop = Shop::open(&director).await;
    let mut odd = event(shop.unit, app.now());
    odd["kind"] = json!("fixed");
    let results = send(&director, &json!([event(shop.unit, app.now()), odd])).await;
    let digests: Vec<&Value> = results.iter().map(|result| &result["receipt"]["digest"]).collect();
    let unknown = "0".repeat(64);
    let ask = json!({ "digests": [digests[1], unknown, digests[0]] });
    let known = director.post("/v1/envelopes/digests", &ask).await.expect(200)["items"].clone();
    let dispositions: Vec<&Value> =
        known.as_array().unwrap().iter().map(|known| &known["disposition"]).collect();
    assert_eq!(dispositions, [&json!("quarantined"), &Value::Null, &json!("accepted")]);
    assert_eq!(known[2]["received_at"], results[0]["receipt"]["received_at"]);
    let wrong = json!({ "digests": ["12", "é".repeat(32)] });
    let problem = director.post("/v1/envelopes/digests", &wrong).await.problem(422, "invalid_record");
    problem.points_at(&[("/digests/0", "wrong_form"), ("/digests/1", "wrong_form")]);
}
