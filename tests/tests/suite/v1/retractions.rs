//! `/v1/retractions`, and trials that supersede others: nothing is edited in place, and what followed is worked out anew.

use chrono::{DateTime, TimeDelta, Utc};
use lapwatch_tests::harness::{App, Shop, Trial};
use serde_json::{Value, json};
use uuid::Uuid;

const SOUND: [&str; 3] = ["sss", "sss", "sss"];
const COLD: [&str; 3] = ["ccc", "ccc", "css"];

async fn a_unit() -> (App, Shop) {
    let app = App::start().await;
    let shop = Shop::open(&app.director()).await;
    let sweep = Trial::good_sweep(&shop, app.now() - TimeDelta::days(1)).json();
    app.director().post("/v1/trials", &sweep).await.expect(201);
    (app, shop)
}

fn retraction(record: &Value, at: DateTime<Utc>) -> Value {
    json!({ "id": Uuid::now_v7(), "record_id": record, "at": at, "reason": "Entered for the wrong welder." })
}

async fn retract(app: &App, record: &Value) -> Value {
    let retraction = retraction(record, app.now());
    app.director().post("/v1/retractions", &retraction).await.expect(201);
    retraction["id"].clone()
}

async fn trial(app: &App, id: &Value) -> Value {
    let path = format!("/v1/trials/{}", id.as_str().unwrap());
    app.director().get(&path).await.expect(200)["answer"].clone()
}

async fn standing(app: &App, unit: Uuid) -> Value {
    app.director().get(&format!("/v1/units/{unit}/standing")).await.expect(200)
}

/// The newest recheck of the unit.
async fn recheck(app: &App, shop: &Shop) -> Value {
    app.director().get(&format!("/v1/rechecks?unit_id={}", shop.unit)).await.expect(200)["items"][0].clone()
}

#[tokio::test]
async fn a_retracted_trial_no_longer_counts_and_may_count_again() {
    let (app, shop) = a_unit().await;
    let director = app.director();
    let failed = Trial::confirmation(&shop, app.now(), COLD).json();
    let answer = director.post("/v1/trials", &failed).await.expect(201);
    assert_eq!(answer["standing"]["code"], "warning");
    let reading = json!({
        "id": Uuid::now_v7(), "trial_id": failed["id"], "read_by": "Reed", "read_at": app.now(),
        "coupons": vec![vec!["cold"; 3]; 3],
    });
    director.post("/v1/second-readings", &reading).await.expect(201);
    let readings =
        async || director.get("/v1/second-readings").await.expect(200)["items"].as_array().unwrap().len();
    assert_eq!(readings().await, 1);
    let retracted = retract(&app, &failed["id"]).await;
    assert_eq!(readings().await, 0, "read of a trial that no longer counts");
    let now = standing(&app, shop.unit).await;
    assert_ne!(now["standing"]["code"], "warning", "{now}");
    let flags = director.get(&format!("/v1/flags?unit_id={}", shop.unit)).await.expect(200);
    assert_eq!(flags["items"], json!([]), "the flag that it raised is gone");
    let kept = trial(&app, &failed["id"]).await;
    assert_eq!(kept["disposition"], "retracted");
    assert_eq!(kept["outcome"]["code"], "failed", "it is still there, as it was sent");
    let list = director.get(&format!("/v1/trials?unit_id={}", shop.unit)).await.expect(200);
    let dispositions: Vec<&Value> =
        list["items"].as_array().unwrap().iter().map(|t| &t["disposition"]).collect();
    assert_eq!(dispositions, ["retracted", "accepted"]);
    let duplicate = director.post("/v1/trials", &failed).await.expect(200);
    assert_eq!((&duplicate["duplicate"], &duplicate["disposition"]), (&json!(true), &json!("retracted")));

    // The retraction was the mistake.
    let restored = retract(&app, &retracted).await;
    assert_eq!(readings().await, 1);
    assert_eq!(trial(&app, &failed["id"]).await["disposition"], "accepted");
    assert_eq!(standing(&app, shop.unit).await["standing"]["code"], "warning");
    director
        .post("/v1/retractions", &retraction(&restored, app.now()))
        .await
        .problem(422, "invalid_record")
        .points_at(&[("/record_id", "not_retractable")]);
    let of_trial = format!("/v1/retractions?record_id={}", failed["id"].as_str().unwrap());
    let listed = director.get(&of_trial).await.expect(200);
    assert_eq!(listed["items"][0]["id"], retracted);
    director
        .post("/v1/retractions", &retraction(&json!(Uuid::now_v7()), app.now()))
        .await
        .problem(422, "invalid_record")
        .points_at(&[("/record_id", "unknown_id")]);
}

#[tokio::test]
async fn a_recheck_opens_again_when_its_trial_is_retracted() {
    let (app, shop) = a_unit().await;
    let plan = json!({
        "id": Uuid::now_v7(), "crew_id": shop.crew, "date": app.now().date_naive(), "welding": true,
        "unit_ids": [shop.unit], "recorded_at": app.now() - TimeDelta::hours(8),
    });
    app.director().post("/v1/day-plans", &plan).await.expect(201);
    let due = recheck(&app, &shop).await;
    let check = Trial::confirmation(&shop, app.now(), SOUND).json();
    app.director().post("/v1/trials", &check).await.expect(201);
    let of_day = async || {
        let list = app.director().get(&format!("/v1/rechecks?unit_id={}", shop.unit)).await.expect(200);
        list["items"].as_array().unwrap().iter().find(|r| r["id"] == due["id"]).unwrap().clone()
    };
    assert_eq!(of_day().await["state"], "satisfied");
    retract(&app, &check["id"]).await;
    let again = of_day().await;
    assert!(again["state"] == "open" || again["state"] == "overdue", "{again}");
    assert_eq!(again["satisfied_by"], Value::Null);
    // A retracted plan asks for nothing.
    retract(&app, &plan["id"]).await;
    let plans = app.director().get("/v1/day-plans").await.expect(200);
    assert_eq!(plans["items"], json!([]));
}

fn correcting(first: &Value, strips: [&str; 3], shop: &Shop, recorded_at: DateTime<Utc>) -> Value {
    let at: DateTime<Utc> = first["performed_at"].as_str().unwrap().parse().unwrap();
    Trial::confirmation(shop, at, strips)
        .member("supersedes", first["id"].clone())
        .member("recorded_at", json!(recorded_at))
        .json()
}

#[tokio::test]
async fn the_later_correction_counts_and_a_retracted_root_takes_all_with_it() {
    let (app, shop) = a_unit().await;
    let director = app.director();
    let first = Trial::confirmation(&shop, app.now(), COLD).json();
    director.post("/v1/trials", &first).await.expect(201);
    let minutes = TimeDelta::minutes;
    let sound = correcting(&first, SOUND, &shop, app.now() + minutes(10));
    let answer = director.post("/v1/trials", &sound).await.expect(201);
    assert_ne!(answer["standing"]["code"], "warning", "{}", answer["standing"]);
    assert_eq!(trial(&app, &first["id"]).await["disposition"], "superseded");

    // Written down later, though it corrects the first as well.
    let later = correcting(&first, COLD, &shop, app.now() + minutes(20));
    director.post("/v1/trials", &later).await.expect(201);
    assert_eq!(standing(&app, shop.unit).await["standing"]["code"], "warning");
    assert_eq!(trial(&app, &sound["id"]).await["disposition"], "superseded");
    // Neither was made from the other: a person should look at both.
    assert_eq!(trial(&app, &sound["id"]).await["competing"], json!([later["id"]]));
    assert_eq!(trial(&app, &later["id"]).await["competing"], json!([sound["id"]]));
    assert_eq!(trial(&app, &first["id"]).await["competing"], json!([]));
    retract(&app, &later["id"]).await;
    assert_eq!(trial(&app, &sound["id"]).await["disposition"], "accepted");
    assert_eq!(trial(&app, &sound["id"]).await["competing"], json!([]));
    assert_ne!(standing(&app, shop.unit).await["standing"]["code"], "warning");

    let early = correcting(&first, SOUND, &shop, app.now() - minutes(10));
    director
        .post("/v1/trials", &early)
        .await
        .problem(422, "invalid_record")
        .points_at(&[("/recorded_at", "not_later")]);
    let mut undated = early;
    undated.as_object_mut().unwrap().remove("recorded_at");
    director
        .post("/v1/trials", &undated)
        .await
        .problem(422, "invalid_record")
        .points_at(&[("/recorded_at", "required")]);

    retract(&app, &first["id"]).await;
    for id in [&first["id"], &sound["id"], &later["id"]] {
        assert_eq!(trial(&app, id).await["disposition"], "retracted");
    }
}

/// A trial entered for the wrong unit: its correction moves it, and the correction may arrive first.
#[tokio::test]
async fn a_correction_may_name_another_unit_and_arrive_first() {
    let (app, shop) = a_unit().await;
    let director = app.director();
    let other = shop.another_unit(&director).await;
    let wrong = Trial::confirmation(&shop, app.now(), COLD).json();
    let mut right = correcting(&wrong, COLD, &other, app.now() + TimeDelta::minutes(5));
    right["schema"] = json!("trial/1");
    let held = director.post("/v1/envelopes", &json!([right])).await.expect(200);
    assert_eq!(held["results"][0]["result"], "quarantined", "{held}");
    director.post("/v1/trials", &wrong).await.expect(201);
    assert_eq!(standing(&app, shop.unit).await["standing"]["code"], "warning");
    app.run_jobs().await;
    assert_ne!(standing(&app, shop.unit).await["standing"]["code"], "warning");
    assert_eq!(standing(&app, other.unit).await["standing"]["code"], "warning");
    let again = director.post("/v1/envelopes", &json!([wrong])).await.expect(200);
    assert_eq!(again["results"][0]["receipt"]["disposition"], "superseded");
}

/// A crew withdraws what it sent, with a borrowed unit too, and neither sees nor touches what others sent.
#[tokio::test]
async fn a_crew_withdraws_its_own() {
    let (app, shop) = a_unit().await;
    let mut form = shop.crew_form();
    form["id"] = json!(Uuid::now_v7());
    app.director().post("/v1/crews", &form).await.expect(201);
    let other: Uuid = form["id"].as_str().unwrap().parse().unwrap();
    let scopes = ["trials:write", "trials:read"];
    let (own, others) = (app.app_of_crew(&scopes, shop.crew).await, app.app_of_crew(&scopes, other).await);
    let borrowed = Trial::confirmation(&shop, app.now(), SOUND).member("crew_id", json!(other)).json();
    others.post("/v1/trials", &borrowed).await.expect(201);
    own.post("/v1/retractions", &retraction(&borrowed["id"], app.now())).await.problem(403, "forbidden");
    others.post("/v1/retractions", &retraction(&borrowed["id"], app.now())).await.expect(201);
    assert_eq!(others.get("/v1/retractions").await.expect(200)["items"].as_array().unwrap().len(), 1);
    assert_eq!(own.get("/v1/retractions").await.expect(200)["items"], json!([]));
}

/// Who may not write a record may not withdraw it either.
#[tokio::test]
async fn a_retraction_needs_the_right_to_write_what_it_withdraws() {
    let (app, shop) = a_unit().await;
    let service = json!({
        "id": Uuid::now_v7(), "unit_id": shop.unit, "performed_at": app.now(), "kind": "inspection", "affects_heat": false,
    });
    app.director().post("/v1/service-events", &service).await.expect(201);
    let diary = app.app(&["trials:write", "trials:read"]).await;
    let refused = diary.post("/v1/retractions", &retraction(&service["id"], app.now())).await;
    refused.problem(403, "forbidden");
}
