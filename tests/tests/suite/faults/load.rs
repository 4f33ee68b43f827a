//! What devices have to send: a season each, partly out of order, partly more than once, with things in between that nobody
//! could accept.

use chrono::{DateTime, TimeDelta, Utc};
use lapwatch_tests::harness::Shop;
use rand::RngExt;
use rand::rngs::StdRng;
use rand::seq::SliceRandom;
use serde_json::{Value, json};
use uuid::Uuid;

use crate::season::season;

/// Everything that one device sends.
pub(super) struct Load {
    /// The records of its season, each behind those it names.
    pub(super) season: Vec<Value>,
    /// What it puts into its outbox, in this order.
    pub(super) items: Vec<Vec<u8>>,
}

/// How far a device's clock is off, and whether it knows.
#[derive(Debug, Clone, Copy)]
pub(super) struct Skew {
    pub(super) ahead: TimeDelta,
    pub(super) known: bool,
}

/// What kind of device it is.
#[derive(Debug, Clone, Copy)]
pub(super) struct Make {
    pub(super) skew: Skew,
    /// Whether its app is of the newer version.
    pub(super) newer: bool,
}

/// The load of one device.
pub(super) fn load(shop: &Shop, now: DateTime<Utc>, days: i64, device: Make, random: &mut StdRng) -> Load {
    let mut season = season(shop, now, days, random);
    for record in &mut season {
        shift(record, device.skew);
        if device.newer {
            renew(record);
        }
    }
    let mut items: Vec<Vec<u8>> = season.iter().map(|record| record.to_string().into_bytes()).collect();
    // Near each other out of order, and some from long ago.
    for near in items.chunks_mut(16) {
        near.shuffle(random);
    }
    for _ in 0..items.len() / 30 {
        let (from, to) = (random.random_range(0..items.len()), random.random_range(0..items.len()));
        items.swap(from, to);
    }
    for again in 0..items.len() / 6 {
        let record = &season[random.random_range(0..season.len())];
        let bytes = match again % 3 {
            0 => otherwise(record).into_bytes(),
            _ => record.to_string().into_bytes(),
        };
        items.insert(random.random_range(0..=items.len()), bytes);
    }
    for poison in poison(shop, &season, random) {
        items.insert(random.random_range(0..=items.len()), poison);
    }
    Load { season, items }
}

/// A record as a newer client writes it.
fn renew(record: &mut Value) {
    if record["schema"] == "service_event/1"
        && let Some(members) = record.as_object_mut()
    {
        members.insert("schema".to_owned(), json!("service_event/2"));
        let kind = members.remove("kind");
        members.insert("work".to_owned(), json!([kind, "nozzle_cleaned"]));
        members.remove("affects_heat");
    }
}

/// Moves what the device's clock wrote.
fn shift(record: &mut Value, Skew { ahead, known }: Skew) {
    for member in ["performed_at", "recorded_at", "at", "from", "to"] {
        let written = record.get(member).and_then(Value::as_str).and_then(|text| text.parse().ok());
        if let Some(written) = written {
            let written: DateTime<Utc> = written;
            record[member] = json!(written + ahead);
        }
    }
    if known && record["schema"] == "trial/1" {
        record["clock_offset_s"] = json!(-ahead.num_seconds());
    }
}

/// The same value in other bytes: members in another order, blanks between them, whole numbers with a fraction.
fn otherwise(value: &Value) -> String {
    match value {
        Value::Object(members) => {
            let members =
                members.iter().rev().map(|(name, value)| format!("{} : {}", json!(name), otherwise(value)));
            format!("{{ {} }}", members.collect::<Vec<_>>().join(" , "))
        }
        Value::Array(items) => {
            format!("[ {} ]", items.iter().map(otherwise).collect::<Vec<_>>().join(" , "))
        }
        Value::Number(number) if number.is_i64() => format!("{number}.0"),
        other => other.to_string(),
    }
}

/// What no service accepts, and what it has to keep all the same.
fn poison(shop: &Shop, season: &[Value], random: &mut StdRng) -> Vec<Vec<u8>> {
    let any = |random: &mut StdRng, schema: &str| -> Value {
        let alike: Vec<&Value> = season.iter().filter(|record| record["schema"] == schema).collect();
        alike[random.random_range(0..alike.len())].clone()
    };
    let mut with = |schema: &str, member: &str, value: Value| {
        let mut record = any(random, schema);
        record["id"] = json!(Uuid::from_u128(random.random()));
        record[member] = value;
        record.to_string()
    };
    let event = |text: &str| {
        let id = Uuid::from_u128(shop.unit.as_u128() ^ u128::from(text.len() as u64));
        format!(
            r#"{{"schema":"service_event/1","id":"{id}","unit_id":"{}","performed_at":"2026-06-01T12:00:00Z","kind":"cleaned","remarks":{text}}}"#,
            shop.unit
        )
    };
    let mut poison: Vec<Vec<u8>> = vec![
        with("trial/1", "schema", json!("trial/99")).into_bytes(),
        with("trial/1", "schema", json!("trial/0")).into_bytes(),
        with("trial/1", "purpose", json!("for fun")).into_bytes(),
        with("trial/1", "unit_id", json!(Uuid::from_u128(1))).into_bytes(),
        with("trial/1", "not_a_member", json!(1)).into_bytes(),
        with("trial/1", "operator", json!("a NUL: \0")).into_bytes(),
        with("trial/1", "humidity", json!({"value": 0, "unit": "%"}))
            .replace("\"value\":0,", "\"value\":1e400,")
            .into_bytes(),
        with("production_span/1", "from", json!("the other day")).into_bytes(),
        event(r#""half a pair: \ud83d""#).into_bytes(),
        event(r#""twice","remarks":"twice the same name""#).into_bytes(),
        [event("\"").as_bytes(), b"\xff\xfe\"}"].concat(),
        vec![b'['; 10_000],
        b"{\"schema\":\"trial/1\",\"id\":".to_vec(),
        b"not JSON at all".to_vec(),
    ];
    // The id of another record: whichever comes first stands.
    let mut other = any(random, "production_span/1");
    other["place"] = json!("Somewhere else");
    poison.push(other.to_string().into_bytes());
    // Ids that stand nowhere else make bytes that stand nowhere else.
    for item in poison.iter_mut().filter(|item| !item.starts_with(b"{") || item.len() < 100) {
        item.extend(format!(" {}", shop.unit).into_bytes());
    }
    poison
}
