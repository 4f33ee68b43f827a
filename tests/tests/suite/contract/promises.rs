//! What was promised to callers stays. Each way to break it is tried on the contract itself.

use std::collections::BTreeSet;

use lapwatch_api::routes::contract;
use lapwatch_tests::promises::{COMMAND, Promise, broken, collect, parse, path, text};
use serde_json::{Value, json};

fn document() -> Value {
    serde_json::from_str(&contract::json()).expect("the contract is JSON")
}

fn lines(promises: &[&Promise]) -> Vec<String> {
    promises.iter().map(ToString::to_string).collect()
}

#[test]
fn the_committed_promises_are_kept_and_complete() {
    let committed = std::fs::read_to_string(path()).expect("the committed promises");
    let before = parse(&committed).expect("lines of promises");
    let now = collect(&document());
    let broken = lines(&broken(&before, &now));
    assert!(
        broken.is_empty(),
        "this contract breaks callers that relied on the last one. Add beside what is there, or make a new version:\n{}",
        broken.join("\n")
    );
    assert!(
        committed == text(&now),
        "the contract promises more than openapi/promises.txt says; run: {COMMAND}"
    );
}

/// The lines that a change of the contract breaks.
fn broken_by(change: impl Fn(&mut Value)) -> Vec<String> {
    let before = collect(&document());
    let mut changed = document();
    change(&mut changed);
    assert_ne!(changed, document(), "the change changes something");
    lines(&broken(&before, &collect(&changed)))
}

fn schema<'a>(document: &'a mut Value, name: &str) -> &'a mut Value {
    let schema = &mut document["components"]["schemas"][name];
    assert!(schema.is_object(), "{name}");
    schema
}

fn remove(object: &mut Value, name: &str) {
    object.as_object_mut().expect("an object").remove(name).unwrap_or_else(|| panic!("{name} is there"));
}

/// Takes `name` out of a list of names.
fn drop_name(list: &mut Value, name: &str) {
    let list = list.as_array_mut().expect("a list");
    let place = list.iter().position(|item| item == name).expect("the name is there");
    list.remove(place);
}

#[test]
fn what_is_gone_breaks() {
    let gone = broken_by(|document| remove(&mut document["paths"], "/v1/flags/{id}"));
    assert!(gone.contains(&"offer GET /v1/flags/{id}".to_owned()), "{gone:?}");

    let gone = broken_by(|document| remove(&mut document["paths"]["/v1/trials"]["post"]["responses"], "201"));
    assert!(gone.contains(&"offer POST /v1/trials 201".to_owned()), "{gone:?}");

    let gone = broken_by(|document| {
        let parameters = document["paths"]["/v1/trials"]["get"]["parameters"].as_array_mut();
        parameters.expect("parameters").retain(|parameter| parameter["name"] != "unit_id");
    });
    assert!(gone.contains(&"offer GET /v1/trials parameter unit_id in query".to_owned()), "{gone:?}");

    let gone = broken_by(|document| remove(&mut schema(document, "Fleet")["properties"], "units"));
    assert!(gone.contains(&"offer answered Fleet.units".to_owned()), "{gone:?}");

    let gone = broken_by(|document| remove(&mut schema(document, "Trial")["properties"], "operator"));
    assert!(gone.contains(&"offer sent Trial.operator".to_owned()), "{gone:?}");
}

#[test]
fn what_an_answer_no_longer_always_has_breaks() {
    let broken = broken_by(|document| drop_name(&mut schema(document, "Fleet")["required"], "units"));
    assert_eq!(broken, ["offer answered Fleet.units | always"]);
}

#[test]
fn what_an_answer_may_newly_be_breaks() {
    let broken = broken_by(|document| {
        schema(document, "NextCoupon")["properties"]["sentence"]["type"] = json!(["string", "null"]);
    });
    assert_eq!(broken, ["demand answered NextCoupon.sentence | null"]);
}

/// A trial is sent and read back: who reads it relies on what it always has.
#[test]
fn what_need_not_be_sent_any_more_breaks_those_who_read_it() {
    let broken = broken_by(|document| drop_name(&mut schema(document, "Trial")["required"], "purpose"));
    assert_eq!(broken, ["offer answered Trial.purpose | always"]);
}

#[test]
fn what_must_newly_be_sent_breaks() {
    let broken = broken_by(|document| {
        let trial = schema(document, "Trial");
        trial["required"].as_array_mut().expect("names").push(json!("operator"));
    });
    assert_eq!(broken, ["demand sent Trial | needs operator"]);

    let broken = broken_by(|document| {
        let trial = schema(document, "Trial");
        trial["properties"]["mood"] = json!({ "type": "string" });
        trial["required"].as_array_mut().expect("names").push(json!("mood"));
    });
    assert_eq!(broken, ["demand sent Trial | needs mood"]);

    let broken = broken_by(|document| {
        document["paths"]["/v1/fleet"]["get"]["security"] = json!([{ "bearer": ["access:write"] }]);
    });
    assert_eq!(broken, ["demand GET /v1/fleet | needs bearer access:write"]);
}

#[test]
fn a_narrower_limit_breaks_and_a_wider_one_does_not() {
    let limited = |most: u64| {
        broken_by(move |document| {
            schema(document, "Trial")["properties"]["coupons"]["maxItems"] = json!(most)
        })
    };
    let now = document()["components"]["schemas"]["Trial"]["properties"]["coupons"]["maxItems"].as_u64();
    let now = now.expect("coupons are limited");
    assert_eq!(limited(now - 1), [format!("demand sent Trial.coupons | maxItems {}", now - 1)]);
    assert_eq!(limited(now + 1), Vec::<String>::new());
    let broken = broken_by(|document| {
        schema(document, "Trial")["properties"]["operator"]["maxLength"] = json!(3);
    });
    assert_eq!(broken, ["demand sent Trial.operator | maxLength 3"]);
}

#[test]
fn growth_breaks_nothing() {
    let broken = broken_by(|document| {
        document["paths"]["/v1/moods"] = json!({ "post": {
            "security": [{ "bearer": ["access:write"] }],
            "requestBody": { "required": true, "content": { "application/json": {
                "schema": { "type": "object", "required": ["mood"], "properties": { "mood": { "type": "string" } } }
            } } },
            "responses": { "201": { "description": "Noted." } },
        } });
        schema(document, "Fleet")["properties"]["mood"] = json!({ "type": ["string", "null"] });
        let trial = schema(document, "Trial");
        trial["properties"]["mood"] = json!({ "type": "object", "required": ["size"], "properties": {
            "size": { "type": "number", "maximum": 5 },
        } });
        drop_name(&mut schema(document, "NewApp")["required"], "name");
        schema(document, "NextCoupon")["required"].as_array_mut().expect("names").push(json!("temperature"));
    });
    assert_eq!(broken, Vec::<String>::new());
}

#[test]
fn lines_are_read_as_they_are_written() {
    let promises = collect(&document());
    assert!(promises.len() > 1000, "{} lines", promises.len());
    assert_eq!(parse(&text(&promises)), Ok(promises));
    assert!(parse("offer\n").is_err() && parse("promise GET /v1/fleet\n").is_err());
    assert_eq!(parse(""), Ok(BTreeSet::new()));
}
