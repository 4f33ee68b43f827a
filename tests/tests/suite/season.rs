//! A season of work with one welder, as records of every kind, and what the service makes of it.

use std::collections::BTreeMap;

use chrono::{DateTime, TimeDelta, Utc};
use lapwatch_tests::harness::{Caller, Shop, Trial};
use rand::RngExt;
use rand::rngs::StdRng;
use serde_json::{Value, json};
use uuid::Uuid;

/// A season of one unit that ends `now`, of so many days, at least 44: sweeps and checks whose edges move up from day 20 on, a
/// failure, spans, plans with a rain day, events, seam checks, photos, second thoughts, a service late in it, corrections of
/// most kinds, and what people decided meanwhile. Each record stands behind those it names.
pub(crate) fn season(shop: &Shop, now: DateTime<Utc>, days: i64, random: &mut StdRng) -> Vec<Value> {
    let mut records = Vec::new();
    let mut id = || Uuid::from_u128(random.random());
    let day = |number: i64| now - TimeDelta::days(days - number);
    for number in 0..days {
        let at = day(number);
        let moved = 3.0 * (number - 20).clamp(0, 24) as f64;
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
        if number % 6 == 1 {
            records.push(json!({
                "schema": "photo/1", "id": id(), "subject_id": span, "sha256": format!("{number:064x}"),
                "taken_at": at + TimeDelta::hours(6), "caption": "The seam before it was probed",
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
    records.extend(second);
    records.push(json!({
        "schema": "service_event/1", "id": id(), "unit_id": shop.unit, "performed_at": day(39) + TimeDelta::hours(4),
        "kind": "heater_replaced", "affects_heat": true,
    }));
    let last = |schema: &str| records.iter().filter(|record| record["schema"] == schema).count() - 1;
    let corrections = [
        ("trial/1", 13, 10, json!({ "operator": "Reed" })),
        ("trial/1", 30, 10, json!({ "operator": "Reed" })),
        ("trial/1", 30, 20, json!({ "operator": "Reed" })),
        ("service_event/1", 0, 10, json!({ "performed_at": day(40) + TimeDelta::hours(4) })),
        ("production_span/1", last("production_span/1"), 10, json!({ "place": "The row beside it" })),
        ("seam_check/1", last("seam_check/1"), 10, json!({ "result": "patched" })),
        ("day_event/1", last("day_event/1"), 10, json!({ "kind": "supply_changed" })),
        (
            "day_event/1",
            last("day_event/1"),
            30,
            json!({ "kind": "reading", "wind_speed": { "value": 7, "unit": "m/s" } }),
        ),
        ("day_plan/1", last("day_plan/1"), 10, json!({ "welding": true })),
    ];
    for (schema, number, minutes, change) in corrections {
        let mut corrected = of_kind(&records, schema, number);
        corrected["supersedes"] = corrected["id"].clone();
        corrected["id"] = json!(id());
        corrected["recorded_at"] = json!(now + TimeDelta::minutes(minutes));
        for (member, value) in change.as_object().unwrap() {
            corrected[member] = value.clone();
        }
        records.push(corrected);
    }
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
    records
}

/// What is derived of the unit. Ids that the service makes are not in it; times of receipt are left out.
pub(crate) async fn derived(director: &Caller<'_>, shop: &Shop) -> BTreeMap<String, Value> {
    let mut answers = BTreeMap::new();
    for path in ["units/{}/standing", "units/{}/history", "flags?unit_id={}", "rechecks?unit_id={}"] {
        let path = format!("/v1/{}", path.replace("{}", &shop.unit.to_string()));
        answers.insert(path.clone(), director.get(&path).await.expect(200));
    }
    answers
}
