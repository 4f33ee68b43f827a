//! The OpenAPI document.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

use lapwatch_api::routes::contract;
use lapwatch_tests::harness::{App, Shop, Trial, an_ordinary_noon};
use serde_json::Value;

/// How the committed document is made.
const COMMAND: &str = "cargo run -p lapwatch-api --bin lapwatch -- openapi > openapi/openapi.json";

fn document() -> Value {
    serde_json::from_str(&contract::json()).expect("the contract is JSON")
}

/// Each operation with its method and path.
fn operations(document: &Value) -> Vec<(String, Value)> {
    let paths = document["paths"].as_object().expect("paths");
    paths
        .iter()
        .flat_map(|(path, item)| {
            let methods = item.as_object().expect("methods");
            methods.iter().map(move |(method, operation)| (format!("{method} {path}"), operation.clone()))
        })
        .collect()
}

#[test]
fn the_committed_document_is_this_programs() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../openapi/openapi.json");
    let committed = std::fs::read_to_string(&path).unwrap_or_default();
    let current = contract::json();
    let difference = committed.lines().zip(current.lines()).position(|(a, b)| a != b);
    let line = difference.unwrap_or_else(|| committed.lines().count().min(current.lines().count())) + 1;
    assert!(
        committed == current,
        "openapi/openapi.json differs from the program's contract, first in line {line}. Read the difference; if it is \
         what you mean, run: {COMMAND}"
    );
}

#[tokio::test]
async fn the_served_document_is_the_same() {
    let app = App::start().await;
    let reply = app.anybody().get("/openapi.json").await;
    reply.expect_status(200);
    assert_eq!(reply.header("content-type"), "application/json");
    assert_eq!(reply.text(), contract::json());
}

#[test]
fn it_is_complete() {
    let document = document();
    assert_eq!(document["openapi"], "3.1.0");
    assert!(document["info"]["license"]["name"].is_string());
    let mut ids = BTreeMap::new();
    for (name, operation) in operations(&document) {
        let id = operation["operationId"].as_str().unwrap_or_else(|| panic!("{name} has no operationId"));
        assert_eq!(ids.insert(id.to_owned(), name.clone()), None, "{id} stands twice");
        let about = operation["summary"].as_str().or(operation["description"].as_str()).unwrap_or_default();
        assert!(about.len() > 8, "{name} is not described");
        assert_eq!(operation["tags"].as_array().map(Vec::len), Some(1), "{name} has one tag");
        let responses = operation["responses"].as_object().expect("responses");
        assert!(responses.keys().any(|status| status.starts_with('2')), "{name} cannot succeed");
        for (status, response) in responses {
            let described = response["description"].as_str().unwrap_or_default();
            assert!(!described.is_empty(), "{name} {status} is not described");
            if status.starts_with('4') || status.starts_with('5') {
                assert!(
                    response["content"]["application/problem+json"].is_object(),
                    "{name} {status}: {response}"
                );
            }
        }
        for parameter in operation["parameters"].as_array().into_iter().flatten() {
            let described = parameter["description"].as_str().unwrap_or_default();
            assert!(!described.is_empty(), "{name}: {} is not described", parameter["name"]);
        }
    }
    assert!(ids.len() > 40, "{} operations", ids.len());
}

/// A schema that is not used was meant for something: two types of one name hide each other here.
#[test]
fn every_reference_leads_somewhere_and_every_schema_is_used() {
    let text = contract::json();
    let document = document();
    let schemas = document["components"]["schemas"].as_object().expect("schemas");
    let mut used = BTreeSet::new();
    for part in text.split("\"$ref\": \"").skip(1) {
        let reference = part.split('"').next().unwrap_or_default();
        let name = reference.strip_prefix("#/components/schemas/").unwrap_or_else(|| panic!("{reference}"));
        assert!(schemas.contains_key(name), "{reference} leads nowhere");
        used.insert(name.to_owned());
    }
    let unused: Vec<&String> = schemas.keys().filter(|name| !used.contains(*name)).collect();
    assert!(unused.is_empty(), "{unused:?} are declared and not used");
}

/// Every member of a good trial stands in the contract, coupons, strips and all.
#[test]
fn a_trial_is_described_whole() {
    let document = document();
    let members = |name: &str| -> Vec<String> {
        let properties = document["components"]["schemas"][name]["properties"].as_object();
        properties.unwrap_or_else(|| panic!("{name} has no properties")).keys().cloned().collect()
    };
    let trial = Trial::good_sweep(&Shop::plan(), an_ordinary_noon()).json();
    let scorched = &trial["coupons"][5];
    for (name, value) in [("Trial", &trial), ("Coupon", scorched), ("Specimen", &scorched["specimens"][0])] {
        for member in value.as_object().expect("an object").keys() {
            assert!(members(name).contains(member), "{member} is not in the schema {name}");
        }
    }
}

/// Old clients must survive new members of answers.
#[test]
fn answers_may_grow() {
    let document = document();
    let schemas = document["components"]["schemas"].as_object().expect("schemas");
    for name in ["TrialAnswer", "Fleet", "UnitStanding", "History", "ProblemBody"] {
        assert!(schemas.contains_key(name), "{name}");
        assert_ne!(schemas[name]["additionalProperties"], Value::Bool(false), "{name} could not grow");
    }
}
