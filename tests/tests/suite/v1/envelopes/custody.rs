//! What becomes of held items.

use chrono::TimeDelta;
use lapwatch_api::service::custody::release_resolvable;
use lapwatch_tests::harness::{App, Shop, Trial};
use serde_json::{Value, json};
use uuid::Uuid;

use super::{each, event, send};

/// A phone was set up before the office knew of the unit. Its trials wait, and count from when they arrived.
#[tokio::test]
async fn what_was_missing_comes_and_held_items_are_accepted() {
    let app = App::start().await;
    let director = app.director();
    let shop = Shop::open(&director).await;
    let unit = Uuid::now_v7();
    let new = Shop { unit, ..shop };
    // Ahead of its receipt by more than a day, though not of its acceptance.
    let ahead = Trial::good_sweep(&new, app.now() + TimeDelta::days(2)).json();
    let trial = Trial::good_sweep(&new, app.now()).json();
    let results = send(&director, &json!([trial, ahead])).await;
    assert_eq!(each(&results, "result"), ["quarantined", "quarantined"]);
    assert_eq!(results[0]["reason"]["errors"][0]["pointer"], "/unit_id");

    app.pass(TimeDelta::days(3));
    app.run_jobs().await;
    let director = app.director();
    let open =
        async || director.get("/v1/custody?state=open").await.expect(200)["items"].as_array().unwrap().len();
    assert_eq!(open().await, 2, "still unknown");
    let mut form = shop.unit_form();
    form["id"] = json!(unit);
    form["effective_from"] = json!(app.now() - TimeDelta::days(30));
    director.post("/v1/units", &form).await.expect(201);
    app.run_jobs().await;
    assert_eq!(open().await, 0);
    let path = format!("/v1/trials/{}", trial["id"].as_str().unwrap());
    let stored = director.get(&path).await.expect(200);
    assert_eq!(stored["record"], trial);
    assert_eq!(
        stored["answer"]["trial"]["received_at"], results[0]["receipt"]["received_at"],
        "the first receipt stands"
    );
    // The mark of a clock that runs ahead goes by the first receipt: that one is kept out of the history.
    let history = director.get(&format!("/v1/units/{unit}/history")).await.expect(200);
    let text = history.to_string();
    assert!(
        text.contains(trial["id"].as_str().unwrap()) && !text.contains(ahead["id"].as_str().unwrap()),
        "{text}"
    );
    // Sent once more, each is a duplicate and accepted.
    let again = send(&director, &json!([trial, ahead])).await;
    for (first, again) in results.iter().zip(&again) {
        assert_eq!(
            (&again["result"], &again["receipt"]["disposition"]),
            (&json!("duplicate"), &json!("accepted"))
        );
        assert_eq!(again["receipt"]["digest"], first["receipt"]["digest"]);
    }
}

/// The same record in other bytes was accepted while the first ones still waited: they wait no longer, and once is enough.
#[tokio::test]
async fn other_bytes_of_a_held_item_settle_it() {
    let app = App::start().await;
    let director = app.director();
    let shop = Shop::open(&director).await;
    let new = Shop { unit: Uuid::now_v7(), ..shop };
    let trial = Trial::good_sweep(&new, app.now()).json();
    let held = send(&director, &json!([trial])).await;
    assert_eq!(each(&held, "result"), ["quarantined"]);
    director.post("/v1/units", &new.unit_form()).await.expect(201);
    director.post_text("/v1/trials", serde_json::to_string_pretty(&trial).expect("JSON")).await.expect(201);

    app.run_jobs().await;
    let seen = director.get("/v1/custody").await.expect(200);
    let item = &seen["items"][0];
    assert_eq!((&item["state"], &item["settled"]["record_id"]), (&json!("accepted"), &trial["id"]));
    let again = send(&director, &json!([trial])).await;
    assert_eq!(again[0]["receipt"]["disposition"], "accepted");
    let head =
        async || director.get("/v1/changes?limit=500").await.expect(200)["items"].as_array().unwrap().len();
    let before = head().await;
    app.run_jobs().await;
    assert_eq!(head().await, before, "it is not taken in again and again");
}

#[tokio::test]
async fn a_person_corrects_and_releases() {
    let app = App::start().await;
    let director = app.director();
    let shop = Shop::open(&director).await;
    let mut trial = Trial::good_sweep(&shop, app.now()).json();
    trial["coupons"][0]["set_temperature"]["unit"] = json!("C");
    let held = send(&director, &json!([trial])).await[0].clone();
    let path = format!("/v1/custody/{}", held["custody_id"].as_str().unwrap());
    let release = async |body: Value| director.post(&format!("{path}/release"), &body).await;

    let problem = release(json!({})).await.problem(422, "invalid_record");
    problem.points_at(&[("/coupons/0/set_temperature/unit", "unknown_unit")]);
    let correction = |path: &str, value: &str| json!([{ "op": "replace", "path": path, "value": value }]);
    let unit = "/coupons/0/set_temperature/unit";
    release(json!({ "patch": correction(unit, "Cel") }))
        .await
        .problem(422, "invalid_record")
        .points_at(&[("/reason", "required")]);
    release(json!({ "patch": correction("/nowhere/unit", "Cel"), "reason": "?" }))
        .await
        .problem(422, "invalid_record")
        .points_at(&[("/patch/0", "patch_failed")]);
    assert_eq!(director.get(&path).await.expect(200)["state"], "open", "nothing was settled");

    let released =
        release(json!({ "patch": correction(unit, "Cel"), "reason": "An old version of the app." }))
            .await
            .expect(200);
    assert_eq!(
        (&released["state"], &released["settled"]["outcome"]),
        (&json!("accepted"), &json!("released"))
    );
    assert_eq!(released["settled"]["patch"], correction(unit, "Cel"));
    let stored = director.get(&format!("/v1/trials/{}", trial["id"].as_str().unwrap())).await.expect(200);
    let mut corrected = trial.clone();
    corrected["coupons"][0]["set_temperature"]["unit"] = json!("Cel");
    assert_eq!(stored["record"], corrected);
    // What was sent is still there, and its sender is told that it is done.
    let content = director.get(&format!("{path}/content")).await;
    assert_eq!(serde_json::from_slice::<Value>(content.body()).unwrap(), trial);
    let again = send(&director, &json!([trial])).await;
    assert_eq!(
        (&again[0]["result"], &again[0]["receipt"]["disposition"]),
        (&json!("duplicate"), &json!("accepted"))
    );
    release(json!({})).await.problem(409, "settled");
    director.post(&format!("{path}/discard"), &json!({ "reason": "No." })).await.problem(409, "settled");
}

#[tokio::test]
async fn a_discarded_item_stays_so_and_is_kept() {
    let app = App::start().await;
    let director = app.director();
    let shop = Shop::open(&director).await;
    let mut item = event(shop.unit, app.now());
    item["unit_id"] = json!(Uuid::now_v7());
    let held = send(&director, &json!([item])).await[0].clone();
    let path = format!("/v1/custody/{}", held["custody_id"].as_str().unwrap());
    director.post(&format!("{path}/discard"), &json!({})).await.problem(422, "invalid_record");
    let discarded = director
        .post(&format!("{path}/discard"), &json!({ "reason": "A test of the app." }))
        .await
        .expect(200);
    assert_eq!(
        (&discarded["state"], &discarded["settled"]["reason"]),
        (&json!("discarded"), &json!("A test of the app."))
    );
    let mut form = shop.unit_form();
    form["id"] = item["unit_id"].clone();
    director.post("/v1/units", &form).await.expect(201);
    app.run_jobs().await;
    assert_eq!(director.get("/v1/service-events").await.expect(200)["items"], json!([]));
    let again = send(&director, &json!([item])).await;
    assert_eq!(
        (&again[0]["result"], &again[0]["receipt"]["disposition"]),
        (&json!("duplicate"), &json!("discarded"))
    );
    assert_eq!(director.get(&format!("{path}/content")).await.body(), item.to_string().as_bytes());
}

#[tokio::test]
async fn held_items_are_listed_page_by_page() {
    let app = App::start().await;
    let director = app.director();
    let items: Vec<Value> = (0..5).map(|number| json!({ "number": number })).collect();
    let results = send(&director, &json!(items)).await;
    let sent: Vec<&Value> = results.iter().rev().map(|result| &result["custody_id"]).collect();
    let (mut listed, mut cursor) = (Vec::new(), String::new());
    loop {
        let page = director.get(&format!("/v1/custody?limit=2{cursor}")).await.expect(200);
        listed.extend(page["items"].as_array().unwrap().iter().map(|held| held["id"].clone()));
        match page["next_cursor"].as_str() {
            Some(next) => cursor = format!("&cursor={next}"),
            None => break,
        }
    }
    assert_eq!(listed.iter().collect::<Vec<_>>(), sent);
    director.get("/v1/custody?state=lost").await.problem(400, "bad_request");
    assert_eq!(director.get("/v1/custody?state=discarded").await.expect(200)["items"], json!([]));
}

/// Many that nobody will ever resolve do not keep others waiting for long, and while nothing arrives nothing is tried again.
#[tokio::test]
async fn hopeless_items_keep_no_others_waiting() {
    let app = App::start().await;
    let director = app.director();
    let shop = Shop::open(&director).await;
    let hopeless: Vec<Value> = (0..1500).map(|_| event(Uuid::now_v7(), app.now())).collect();
    let results = send(&director, &json!(hopeless)).await;
    assert!(results.iter().all(|result| result["result"] == "quarantined"));
    let unit = Uuid::now_v7();
    let trial = Trial::good_sweep(&Shop { unit, ..shop }, app.now()).json();
    assert_eq!(each(&send(&director, &json!([trial])).await, "result"), ["quarantined"]);
    let mut form = shop.unit_form();
    form["id"] = json!(unit);
    director.post("/v1/units", &form).await.expect(201);
    let (service, organization) = (&app.running().service, app.organization.id);
    let mut released = Vec::new();
    while let Some(count) = release_resolvable(service, organization, app.now()).await.expect("tried") {
        released.push(count);
        assert!(released.len() < 10, "it does not come to rest: {released:?}");
    }
    assert_eq!(released.iter().sum::<usize>(), 1, "{released:?}");
    assert!(released.len() > 1, "a thousand at a time: {released:?}");
    let path = format!("/v1/trials/{}", trial["id"].as_str().unwrap());
    director.get(&path).await.expect(200);
    assert_eq!(release_resolvable(service, organization, app.now()).await.expect("at rest"), None);
    // Something arrives: it may be what one of them waits for.
    director.post("/v1/service-events", &event(shop.unit, app.now())).await.expect(201);
    assert!(release_resolvable(service, organization, app.now()).await.expect("tried").is_some());
}

/// An item that was held and then accepted by the operation of its kind waits for nobody.
#[tokio::test]
async fn what_another_door_accepted_is_open_no_more() {
    let app = App::start().await;
    let director = app.director();
    let shop = Shop::open(&director).await;
    let unit = Uuid::now_v7();
    let item = event(unit, app.now());
    send(&director, &json!([item])).await;
    let mut form = shop.unit_form();
    form["id"] = json!(unit);
    director.post("/v1/units", &form).await.expect(201);
    let open = async || director.get("/v1/custody?state=open").await.expect(200)["items"].clone();
    assert_eq!(open().await.as_array().unwrap().len(), 1);
    director.post("/v1/service-events", &item).await.expect(201);
    assert_eq!(open().await, json!([]));
    app.run_jobs().await;
    let left = app.superuser().await.query("SELECT FROM custody_open", &[]).await.expect("it is read");
    assert_eq!(left.len(), 0);
}
