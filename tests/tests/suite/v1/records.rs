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
        let mut shown = record.clone();
        for member in ["supersedes", "recorded_at"] {
            shown.as_object_mut().unwrap().entry(member).or_insert(Value::Null);
        }
        if let Some(kind) = record.get("kind") {
            shown["work"] = json!([kind]);
        }
        assert_eq!(director.post(path, &record).await.expect(201), shown, "{path}");
        let reencoded = serde_json::to_string_pretty(&record).unwrap();
        assert_eq!(director.post_text(path, reencoded).await.expect(200), shown, "{path}");
        assert_eq!(director.get(path).await.expect(200)["items"], json!([shown]), "{path}");
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
        assert_eq!(director.get(path).await.expect(200)["items"], json!([shown]), "{path}: the first stands");
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

/// A visit in the form of newer clients: several things at once, and the service knows which of them change how the unit heats.
#[tokio::test]
async fn a_visit_may_do_several_things() {
    let app = App::start().await;
    let director = app.director();
    let shop = Shop::open(&director).await;
    let visit = |work: Value, affects_heat: Value| {
        let mut visit = json!({
            "schema": "service_event/2", "id": Uuid::now_v7(), "unit_id": shop.unit, "performed_at": app.now(), "work": work,
            "parts": ["heating element"],
        });
        if !affects_heat.is_null() {
            visit["affects_heat"] = affects_heat;
        }
        visit
    };
    for (work, said, affects) in [
        (json!(["nozzle_cleaned", "heater_replaced"]), json!(null), true),
        (json!(["inspection", "cord_replaced"]), json!(null), false),
        (json!(["nozzle_cleaned"]), json!(true), true),
        (json!(["drive_serviced"]), json!(false), false),
        (json!(["other"]), json!(false), false),
    ] {
        let sent = visit(work.clone(), said);
        let shown = director.post("/v1/service-events", &sent).await.expect(201);
        assert_eq!((&shown["kind"], &shown["work"]), (&work[0], &work));
        assert_eq!(shown["affects_heat"], json!(affects), "{work}");
        assert_eq!(director.post("/v1/service-events", &sent).await.expect(200), shown);
        let history = director.get(&format!("/v1/units/{}/history", shop.unit)).await.expect(200);
        assert!(history["service_events"].as_array().unwrap().contains(&shown), "{history}");
    }
    for (work, pointer, code) in [
        (json!([]), "/work", "required"),
        (json!(["inspection", "magic"]), "/work/1", "unknown_code"),
        (json!(["inspection", "other"]), "/affects_heat", "required"),
        (json!("inspection"), "/work", "wrong_type"),
    ] {
        let refused = director.post("/v1/service-events", &visit(work, json!(null))).await;
        refused.problem(422, "invalid_record").points_at(&[(pointer, code)]);
    }
    // Each form is whole in itself.
    let mut mixed = visit(json!(["inspection"]), json!(null));
    mixed["kind"] = json!("inspection");
    director
        .post("/v1/service-events", &mixed)
        .await
        .problem(422, "invalid_record")
        .points_at(&[("/kind", "unknown_field")]);
    let mut older = json!({
        "id": Uuid::now_v7(), "unit_id": shop.unit, "performed_at": app.now(), "kind": "inspection", "affects_heat": false,
        "work": ["nozzle_cleaned", "inspection"],
    });
    let refused = director.post("/v1/service-events", &older).await;
    refused.problem(422, "invalid_record").points_at(&[("/work", "out_of_order")]);
    older["work"] = json!(["inspection", "nozzle_cleaned"]);
    let shown = director.post("/v1/service-events", &older).await.expect(201);
    assert_eq!(shown["work"], older["work"], "what answers show can be sent");
    let mut unknown = older;
    unknown["id"] = json!(Uuid::now_v7());
    unknown["schema"] = json!("service_event/3");
    let refused = director.post("/v1/service-events", &unknown).await.problem(422, "invalid_record");
    refused.points_at(&[("/schema", "schema_unknown")]).advises("`service_event/1` or `service_event/2`");
}

/// What was stored before visits had lists is shown as a list of one.
#[tokio::test]
async fn old_rows_have_one_thing_done() {
    let app = App::start().await;
    let director = app.director();
    let shop = Shop::open(&director).await;
    let [(events, event), ..] = one_of_each(&shop, &app);
    let shown = director.post(events, &event).await.expect(201);
    app.superuser().await.execute("UPDATE service_event SET work = NULL", &[]).await.expect("as before");
    assert_eq!(director.get(events).await.expect(200)["items"], json!([shown]));
}
