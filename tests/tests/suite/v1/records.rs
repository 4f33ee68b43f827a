//! Service events, day plans and production spans: taken in once, kept as they were sent.

use chrono::TimeDelta;
use lapwatch_tests::harness::{App, Shop, Trial};
use serde_json::{Value, json};
use uuid::Uuid;

/// One of each kind, with the address it is sent to.
fn one_of_each(shop: &Shop, app: &App) -> [(&'static str, Value); 3] {
    let now = app.now();
    [
        (
            "/v1/service-events",
            json!({
                "id": Uuid::now_v7(), "unit_id": shop.unit, "performed_at": now, "kind": "nozzle_cleaned",
                "affects_heat": false, "parts": [], "performed_by": "Reed", "remarks": "Soot.",
            }),
        ),
        (
            "/v1/day-plans",
            json!({
                "id": Uuid::now_v7(), "crew_id": shop.crew, "date": "2026-06-10", "welding": true,
                "unit_ids": [shop.unit], "reason": null, "recorded_at": now,
            }),
        ),
        (
            "/v1/production-spans",
            json!({
                "id": Uuid::now_v7(), "unit_id": shop.unit, "crew_id": shop.crew, "from": now - TimeDelta::hours(2),
                "to": now, "place": "Hall 3", "membrane_id": shop.membrane, "lot_id": shop.lot,
                "set_temperature": { "value": 475.0, "unit": "Cel" }, "speed": { "value": 3.05, "unit": "m/min" },
                "length": { "value": 120.0, "unit": "m" },
            }),
        ),
    ]
}

#[tokio::test]
async fn a_record_is_taken_in_once() {
    let app = App::start().await;
    let director = app.director();
    let shop = Shop::open(&director).await;
    for (path, record) in one_of_each(&shop, &app) {
        assert_eq!(director.post(path, &record).await.expect(201), record, "{path}");
        let reencoded = serde_json::to_string_pretty(&record).unwrap();
        assert_eq!(director.post_text(path, reencoded).await.expect(200), record, "{path}");
        assert_eq!(director.get(path).await.expect(200)["items"], json!([record]), "{path}");
        let mut other = record.clone();
        let member = if path == "/v1/day-plans" {
            "reason"
        } else if path == "/v1/production-spans" {
            "place"
        } else {
            "remarks"
        };
        other[member] = json!("something else");
        director.post(path, &other).await.problem(409, "conflict");
        assert_eq!(
            director.get(path).await.expect(200)["items"],
            json!([record]),
            "{path}: the first stands"
        );
    }
}

#[tokio::test]
async fn broken_rules_are_named() {
    let app = App::start().await;
    let director = app.director();
    let shop = Shop::open(&director).await;
    let [(events, event), (plans, plan), (spans, span)] = one_of_each(&shop, &app);
    let many: Vec<String> = (0..51).map(|number| format!("part {number}")).collect();
    let cases = [
        (events, &event, "kind", json!("fixed"), "/kind", "unknown_code"),
        (events, &event, "unit_id", json!(Uuid::nil()), "/unit_id", "unknown_id"),
        (events, &event, "parts", json!(many), "/parts", "wrong_count"),
        (events, &event, "parts", json!(["a\u{7}b"]), "/parts/0", "wrong_type"),
        (events, &event, "affects_heat", json!("yes"), "/affects_heat", "wrong_type"),
        (plans, &plan, "date", json!("10 June"), "/date", "wrong_type"),
        (plans, &plan, "unit_ids", json!([Uuid::nil()]), "/unit_ids/0", "unknown_id"),
        (spans, &span, "to", json!("2020-01-01T00:00:00Z"), "/to", "out_of_order"),
        (spans, &span, "place", json!(""), "/place", "wrong_type"),
        (spans, &span, "length", json!({ "value": -1, "unit": "m" }), "/length/value", "negative"),
        (spans, &span, "lot_id", json!(Uuid::nil()), "/lot_id", "unknown_id"),
        (spans, &span, "roof", json!("west"), "/roof", "unknown_field"),
    ];
    for (path, record, member, value, pointer, code) in cases {
        let mut record = record.clone();
        record[member] = value;
        director.post(path, &record).await.problem(422, "invalid_record").points_at(&[(pointer, code)]);
    }
    for path in [events, plans, spans] {
        assert_eq!(director.get(path).await.expect(200)["items"], json!([]), "{path}");
    }
}

/// Times that no database column holds are refused, and break nothing.
#[tokio::test]
async fn times_beyond_the_calendar_are_refused() {
    let app = App::start().await;
    let director = app.director();
    let shop = Shop::open(&director).await;
    let [(events, event), (plans, plan), (spans, span)] = one_of_each(&shop, &app);
    for (path, record, member, value) in [
        (events, &event, "performed_at", "+262000-01-01T00:00:00Z"),
        (events, &event, "performed_at", "-262000-01-01T00:00:00Z"),
        (plans, &plan, "date", "+262000-01-01"),
        (plans, &plan, "recorded_at", "-262000-01-01T00:00:00Z"),
        (spans, &span, "from", "-262000-01-01T00:00:00Z"),
        (spans, &span, "to", "+262000-01-01T00:00:00Z"),
    ] {
        let mut record = record.clone();
        record[member] = json!(value);
        let problem = director.post(path, &record).await.problem(422, "invalid_record");
        assert_eq!(problem.findings()[0].0, format!("/{member}"), "{value}");
    }
    director.post(events, &event).await.expect(201);
}

/// Work that changes how a unit heats starts its charts again; other work does not.
#[tokio::test]
async fn service_that_affects_heat_starts_the_history_again() {
    let app = App::start().await;
    let shop = Shop::open(&app.director()).await;
    let segments = async || {
        let history = app.director().get(&format!("/v1/units/{}/history", shop.unit)).await.expect(200);
        let points = history["series"][0]["lower"]["points"].as_array().unwrap().clone();
        points.iter().map(|point| point["segment"].as_u64().unwrap()).collect::<Vec<_>>()
    };
    for (kind, affects_heat, expected) in
        [("nozzle_cleaned", false, vec![0, 0]), ("heater_replaced", true, vec![0, 0, 1])]
    {
        app.director().post("/v1/trials", &Trial::good_sweep(&shop, app.now()).json()).await.expect(201);
        app.pass(TimeDelta::hours(1));
        let event = json!({
            "id": Uuid::now_v7(), "unit_id": shop.unit, "performed_at": app.now(), "kind": kind,
            "affects_heat": affects_heat,
        });
        app.director().post("/v1/service-events", &event).await.expect(201);
        app.pass(TimeDelta::hours(1));
        if affects_heat {
            app.director().post("/v1/trials", &Trial::good_sweep(&shop, app.now()).json()).await.expect(201);
            assert_eq!(segments().await, expected);
        }
    }
    let history = app.director().get(&format!("/v1/units/{}/history", shop.unit)).await.expect(200);
    assert_eq!(history["service_events"].as_array().unwrap().len(), 2);
}
