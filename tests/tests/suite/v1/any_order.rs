//! Everything that bears on a unit, in any order and grouping: the same standing, flags, rechecks and suspects, byte for byte.

use std::collections::BTreeMap;

use chrono::{DateTime, TimeDelta, Utc};
use futures_util::future::join_all;
use lapwatch_tests::harness::{App, Caller, Shop, Trial, seed};
use rand::rngs::StdRng;
use rand::seq::SliceRandom;
use rand::{RngExt, SeedableRng};
use serde_json::{Value, json};
use uuid::Uuid;

const DAYS: i64 = 44;

/// A season of one unit: sweeps and checks whose edges move up from day 20 on, a failure, spans, plans with a rain day, events,
/// seam checks, second thoughts, a service late in it, and what people decided meanwhile.
fn season(shop: &Shop, now: DateTime<Utc>, random: &mut StdRng) -> Vec<Value> {
    let mut records = Vec::new();
    let mut id = || Uuid::from_u128(random.random());
    let day = |number: i64| now - TimeDelta::days(DAYS - number);
    for number in 0..DAYS {
        let at = day(number);
        let moved = 3.0 * (number - 20).max(0) as f64;
        let trial = match number % 4 {
            0 => [(380.0, "ccc"), (420.0, "css"), (460.0, "sss"), (500.0, "sss"), (540.0, "shh")]
                .into_iter()
                .fold(Trial::sweep(shop, at), |trial, (celsius, strips)| {
                    trial.coupon(celsius + moved, strips)
                }),
            _ if number == 30 => Trial::confirmation(shop, at, ["ccc", "css", "sss"]),
            _ => Trial::confirmation(shop, at, ["sss", "sss", "sss"]),
        };
        records.push(trial.id(id()).json());
        let span = id();
        records.push(json!({
            "schema": "production_span/1", "id": span, "unit_id": shop.unit, "crew_id": shop.crew,
            "from": at + TimeDelta::hours(1), "to": at + TimeDelta::hours(6), "place": format!("Row {number}"),
        }));
        if number % 3 == 2 {
            let result = if number % 2 == 0 { "sound" } else { "defect" };
            records.push(json!({
                "schema": "seam_check/1", "id": id(), "span_id": span, "unit_id": shop.unit, "method": "probe",
                "result": result, "at": at + TimeDelta::hours(7),
            }));
        }
        if number % 5 == 0 {
            records.push(json!({
                "schema": "day_plan/1", "id": id(), "crew_id": shop.crew, "date": at.date_naive(),
                "welding": number % 10 == 0, "unit_ids": [shop.unit], "recorded_at": at - TimeDelta::hours(3),
            }));
        }
        if number % 7 == 0 {
            records.push(json!({
                "schema": "day_event/1", "id": id(), "crew_id": shop.crew, "at": at + TimeDelta::hours(2),
                "kind": if number % 2 == 0 { "power_loss" } else { "cord_changed" },
            }));
        }
    }
    // Second thoughts: a trial and a span are withdrawn, one retraction as well; two trials are corrected, one of them twice.
    let of_kind = |records: &[Value], schema: &str, number: usize| {
        records.iter().filter(|record| record["schema"] == schema).nth(number).unwrap().clone()
    };
    let (mut second, mut withdrawn) = (Vec::new(), Vec::new());
    for (schema, number) in [("trial/1", 10), ("trial/1", 25), ("production_span/1", 28), ("day_event/1", 3)]
    {
        let record = of_kind(&records, schema, number);
        withdrawn.push(id());
        second.push(json!({
            "schema": "retraction/1", "id": withdrawn.last(), "record_id": record["id"], "at": now,
            "reason": "Entered twice.",
        }));
    }
    second.push(json!({
        "schema": "retraction/1", "id": id(), "record_id": withdrawn[1], "at": now, "reason": "It was right after all.",
    }));
    for (number, minutes) in [(13, 10), (30, 10), (30, 20)] {
        let mut corrected = of_kind(&records, "trial/1", number);
        corrected["supersedes"] = corrected["id"].clone();
        corrected["id"] = json!(id());
        corrected["recorded_at"] = json!(now + TimeDelta::minutes(minutes));
        corrected["operator"] = json!("Reed");
        second.push(corrected);
    }
    records.extend(second);
    for (number, kind, concern) in [
        (26, "acknowledge", json!("drift_up")),
        (29, "close", json!("drift_up")),
        (31, "assign", json!("failed_trial")),
        (30, "waive", Value::Null),
    ] {
        records.push(json!({
            "schema": "decision/1", "id": id(), "kind": kind, "unit_id": shop.unit, "concern": concern,
            "at": day(number) + TimeDelta::minutes(90), "remark": "Seen on site.",
        }));
    }
    records.push(json!({
        "schema": "service_event/1", "id": id(), "unit_id": shop.unit, "performed_at": day(40) + TimeDelta::hours(4),
        "kind": "heater_replaced", "affects_heat": true,
    }));
    records
}

/// What is derived of the unit. Ids that the service makes are not in it; times of receipt are left out.
async fn derived(app: &App, shop: &Shop) -> BTreeMap<String, Value> {
    let mut answers = BTreeMap::new();
    for path in ["units/{}/standing", "units/{}/history", "flags?unit_id={}", "rechecks?unit_id={}"] {
        let path = format!("/v1/{}", path.replace("{}", &shop.unit.to_string()));
        answers.insert(path.clone(), app.director().get(&path).await.expect(200));
    }
    answers
}

async fn send(caller: &Caller<'_>, items: &[Value]) {
    let answer = caller.post("/v1/envelopes", &json!(items)).await.expect(200);
    for result in answer["results"].as_array().unwrap() {
        let kept = ["created", "duplicate", "quarantined"].contains(&result["result"].as_str().unwrap());
        assert!(kept, "{result}");
    }
}

#[tokio::test]
async fn any_order_and_grouping_of_everything_leaves_the_same() {
    let mut random = StdRng::seed_from_u64(seed());
    let (alone, crowd) = (App::start().await, App::start_for_a_crowd().await);
    let shop = Shop::plan();
    for app in [&alone, &crowd] {
        shop.add_to(&app.director()).await;
    }
    let mut records = season(&shop, alone.now(), &mut random);
    for record in &records {
        send(&alone.director(), std::slice::from_ref(record)).await;
    }

    // Shuffled, a third of them twice, in envelopes of any size, by four senders at once.
    let again: Vec<Value> = records.iter().step_by(3).cloned().collect();
    records.extend(again);
    records.shuffle(&mut random);
    let mut envelopes = Vec::new();
    while !records.is_empty() {
        let size = random.random_range(1..=12).min(records.len());
        envelopes.push(records.split_off(records.len() - size));
    }
    for turn in envelopes.chunks(4) {
        let director = crowd.director();
        join_all(turn.iter().map(|items| send(&director, items))).await;
    }
    // What had to wait for its span is taken in by the jobs.
    // A retraction of a retraction may have to wait for one that waits itself.
    for app in [&crowd, &alone] {
        for _ in 0..3 {
            app.run_jobs().await;
        }
    }
    let held = crowd.director().get("/v1/custody?state=open").await.expect(200);
    assert_eq!(held["items"], json!([]));

    let (expected, found) = (derived(&alone, &shop).await, derived(&crowd, &shop).await);
    for (path, expected) in &expected {
        assert_eq!(found[path], *expected, "{path} differs");
    }
    let text = json!(expected).to_string();
    for word in ["drift_up", "\"closed\"", "failed_trial", "restarted", "set_up_changed", "waived", "defect"]
    {
        assert!(text.contains(word), "the season has no {word}: a test of nothing");
    }
}
