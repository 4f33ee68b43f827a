//! `/v1/day-events` and `/v1/seam-checks`: what the course of a day asks for, and how suspect seams are settled.

use chrono::{DateTime, TimeDelta, TimeZone, Utc};
use lapwatch_tests::harness::{App, Shop, Trial};
use serde_json::{Value, json};
use uuid::Uuid;

/// A service at 09:00 local time on Tuesday, 9 June (zone `America/Halifax`), whose unit had a good sweep at 07:30.
async fn tuesday() -> (App, Shop) {
    let june = Utc.with_ymd_and_hms(2026, 6, 9, 10, 30, 0).single().expect("that moment exists");
    let app = App::start_at(june).await;
    let shop = Shop::open(&app.director()).await;
    app.director().post("/v1/trials", &Trial::good_sweep(&shop, app.now()).json()).await.expect(201);
    app.pass(TimeDelta::minutes(90));
    (app, shop)
}

fn event(shop: &Shop, kind: &str, at: DateTime<Utc>) -> Value {
    json!({ "id": Uuid::now_v7(), "crew_id": shop.crew, "unit_id": shop.unit, "at": at, "kind": kind })
}

async fn note(app: &App, event: &Value) {
    app.director().post("/v1/day-events", event).await.expect(201);
}

/// The unit's recheck of Tuesday, `Null` if there is none.
async fn today(app: &App, shop: &Shop) -> Value {
    let list = app.director().get(&format!("/v1/rechecks?unit_id={}", shop.unit)).await.expect(200);
    let items = list["items"].as_array().unwrap();
    let found: Vec<&Value> = items.iter().filter(|recheck| recheck["due_on"] == "2026-06-09").collect();
    assert!(found.len() <= 1, "at most one a day: {found:?}");
    found.first().map_or(Value::Null, |recheck| (*recheck).clone())
}

#[tokio::test]
async fn a_loss_of_power_asks_for_a_trial_after_it() {
    let (app, shop) = tuesday().await;
    let event = event(&shop, "power_loss", app.now());
    note(&app, &event).await;
    app.director().post("/v1/day-events", &event).await.expect(200);
    let open = today(&app, &shop).await;
    assert_eq!((&open["state"], &open["reasons"][0]), (&json!("open"), &json!("restarted")), "{open}");
    assert_eq!(open["due_at"], json!(app.now() + TimeDelta::hours(2)));
    app.pass(TimeDelta::minutes(10));
    let check = Trial::confirmation(&shop, app.now(), ["sss", "sss", "sss"]).json();
    app.director().post("/v1/trials", &check).await.expect(201);
    let done = today(&app, &shop).await;
    assert_eq!((&done["state"], &done["satisfied_by"]), (&json!("satisfied"), &check["id"]));
    assert_eq!(done["id"], open["id"]);
    let kept = app.director().get(&format!("/v1/day-events?crew_id={}", shop.crew)).await.expect(200);
    assert_eq!(kept["items"][0]["kind"], "power_loss");
    assert_eq!(kept["items"].as_array().unwrap().len(), 1);
}

/// The event of a whole crew concerns its units; one that arrives late concerns the day it happened on.
#[tokio::test]
async fn the_margin_decides_what_a_colder_sheet_asks_for() {
    let (app, shop) = tuesday().await;
    let read = |celsius: f64| {
        let sheet = json!({ "value": celsius, "unit": "Cel" });
        json!({ "id": Uuid::now_v7(), "crew_id": shop.crew, "at": app.now(), "kind": "reading", "sheet_temperature": sheet })
    };
    note(&app, &read(19.0)).await;
    assert_eq!(today(&app, &shop).await["state"], Value::Null, "a degree matters to nobody");
    note(&app, &read(0.0)).await;
    let open = today(&app, &shop).await;
    assert_eq!(open["reasons"][0], "conditions_changed", "{open}");

    // With operators' own checks, as this organization now decides.
    let mut policy = app.director().get("/v1/policy").await.expect(200);
    assert_eq!(policy["operator_checks"], false);
    assert_eq!(policy["carry_share"], json!({ "value": 100.0, "unit": "%" }));
    policy["operator_checks"] = json!(true);
    policy["effective_from"] = json!(app.now());
    app.director().put("/v1/policy", &policy).await.expect(200);
    note(&app, &event(&shop, "operator_changed", app.now())).await;
    assert!(today(&app, &shop).await["reasons"].to_string().contains("operator_changed"));
}

#[tokio::test]
async fn what_is_wrong_with_an_event_is_named() {
    let (app, shop) = tuesday().await;
    let director = app.director();
    let mut empty = event(&shop, "reading", app.now());
    let refused = director.post("/v1/day-events", &empty).await.problem(422, "invalid_record");
    refused.points_at(&[("/sheet_temperature", "required")]);
    empty["kind"] = json!("thunder");
    let refused = director.post("/v1/day-events", &empty).await.problem(422, "invalid_record");
    refused.points_at(&[("/kind", "unknown_code")]);
    let policy = json!({
        "working_days": [1, 2, 3, 4, 5], "shift_start": "07:00:00", "trial_due_after_min": 120, "in_use_days": 7,
        "edge_finding_interval_days": 14, "promise_arl_trials": 500, "least_edge_finding_interval_days": 20,
        "most_edge_finding_interval_days": 10,
    });
    director.put("/v1/policy", &policy).await.problem(422, "invalid_record").points_at(&[
        ("/least_edge_finding_interval_days", "out_of_range"),
        ("/most_edge_finding_interval_days", "out_of_range"),
    ]);
}

/// A failed trial makes a span suspect; a check that found a defect makes it urgent, and a patch takes it off the list.
#[tokio::test]
async fn seam_checks_settle_suspect_spans() {
    let (app, shop) = tuesday().await;
    let director = app.director();
    let span = json!({
        "id": Uuid::now_v7(), "unit_id": shop.unit, "crew_id": shop.crew, "from": app.now() - TimeDelta::hours(1),
        "to": app.now(), "place": "Hall 3, rows 1 to 3",
    });
    director.post("/v1/production-spans", &span).await.expect(201);
    let failed = Trial::confirmation(&shop, app.now(), ["ccc", "ccc", "css"]).json();
    let answer = director.post("/v1/trials", &failed).await.expect(201);
    assert_eq!(answer["suspect_spans"][0]["span_id"], span["id"], "{}", answer["suspect_spans"]);

    let check = |result: &str, after: i64| {
        json!({ "id": Uuid::now_v7(), "span_id": span["id"], "unit_id": shop.unit, "method": "probe", "result": result,
                "at": app.now() + TimeDelta::minutes(after) })
    };
    let suspects = async || {
        director.get(&format!("/v1/units/{}/standing", shop.unit)).await.expect(200)["suspect_spans"].clone()
    };
    director.post("/v1/seam-checks", &check("defect", 30)).await.expect(201);
    let urgent = suspects().await;
    assert!(urgent[0]["sentence"].as_str().unwrap().contains("defect"), "{urgent}");
    director.post("/v1/seam-checks", &check("patched", 50)).await.expect(201);
    assert_eq!(suspects().await, json!([]));
    let list = director.get(&format!("/v1/seam-checks?unit_id={}", shop.unit)).await.expect(200);
    assert_eq!(list["items"].as_array().unwrap().len(), 2);

    let mut form = shop.unit_form();
    form["id"] = json!(Uuid::now_v7());
    director.post("/v1/units", &form).await.expect(201);
    let mut wrong = check("sound", 60);
    wrong["unit_id"] = form["id"].clone();
    director
        .post("/v1/seam-checks", &wrong)
        .await
        .problem(422, "invalid_record")
        .points_at(&[("/unit_id", "wrong_unit")]);
    wrong["unit_id"] = json!(shop.unit);
    wrong["span_id"] = json!(Uuid::now_v7());
    director
        .post("/v1/seam-checks", &wrong)
        .await
        .problem(422, "invalid_record")
        .points_at(&[("/span_id", "unknown_id")]);
}
