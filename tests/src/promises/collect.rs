//! From an OpenAPI document to its promises.

use std::collections::BTreeSet;

use serde_json::Value;

use super::{Kind, Promise};

/// Which way a value goes. What is optional in one direction is an offer there and something to cope with in the other.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Direction {
    /// From the caller.
    Sent,
    /// To the caller.
    Answered,
}

impl Direction {
    const fn word(self) -> &'static str {
        match self {
            Self::Sent => "sent",
            Self::Answered => "answered",
        }
    }

    /// Whether what a value may be is an offer (the caller chooses) or a demand (the caller copes).
    const fn alternative(self) -> Kind {
        match self {
            Self::Sent => Kind::Offer,
            Self::Answered => Kind::Demand,
        }
    }
}

/// Limits of JSON Schema that bind who sends.
pub(super) const LIMITS: [&str; 6] = ["minimum", "maximum", "minLength", "maxLength", "minItems", "maxItems"];

/// Everything that `document`, an OpenAPI 3.1 document with its schemas under `components`, promises.
pub fn collect(document: &Value) -> BTreeSet<Promise> {
    let mut collector = Collector { document, promises: BTreeSet::new(), seen: BTreeSet::new() };
    for (path, item) in members(&document["paths"]) {
        for (method, operation) in members(item) {
            collector.operation(&format!("{} {path}", method.to_uppercase()), operation);
        }
    }
    collector.promises
}

struct Collector<'a> {
    document: &'a Value,
    promises: BTreeSet<Promise>,
    seen: BTreeSet<(Direction, String)>,
}

impl Collector<'_> {
    fn add(&mut self, kind: Kind, about: &str, what: impl Into<String>) {
        self.promises.insert(Promise { about: about.to_owned(), what: what.into(), kind });
    }

    fn operation(&mut self, name: &str, operation: &Value) {
        self.add(Kind::Offer, name, "");
        for (scheme, scopes) in items(&operation["security"]).flat_map(members) {
            self.add(Kind::Demand, name, format!("needs {scheme} {}", list(scopes)));
        }
        for parameter in items(&operation["parameters"]) {
            let about =
                format!("{name} parameter {} in {}", text(&parameter["name"]), text(&parameter["in"]));
            self.add(Kind::Offer, &about, "");
            if parameter["required"] == true {
                self.add(
                    Kind::Demand,
                    name,
                    format!("needs {} in {}", text(&parameter["name"]), text(&parameter["in"])),
                );
            }
            self.value(Direction::Sent, &about, &parameter["schema"]);
        }
        let body = &operation["requestBody"];
        if body["required"] == true {
            self.add(Kind::Demand, name, "needs a body");
        }
        self.content(Direction::Sent, &format!("{name} body"), body);
        for (status, response) in members(&operation["responses"]) {
            let about = format!("{name} {status}");
            self.add(Kind::Offer, &about, "");
            for (header, _) in members(&response["headers"]) {
                self.add(Kind::Offer, &about, format!("header {header}"));
            }
            self.content(Direction::Answered, &about, response);
        }
    }

    fn content(&mut self, direction: Direction, about: &str, holder: &Value) {
        for (media_type, content) in members(&holder["content"]) {
            let about = format!("{about} {media_type}");
            self.add(Kind::Offer, &about, "");
            self.value(direction, &about, &content["schema"]);
        }
    }

    /// What the value at `about` may be. A schema with a name gets its lines once, under its name.
    fn value(&mut self, direction: Direction, about: &str, schema: &Value) {
        if let Some(name) =
            schema["$ref"].as_str().and_then(|path| path.strip_prefix("#/components/schemas/"))
        {
            self.add(direction.alternative(), about, name);
            if self.seen.insert((direction, name.to_owned())) {
                let about = format!("{} {name}", direction.word());
                self.add(Kind::Offer, &about, "");
                let document = self.document;
                self.value(direction, &about, &document["components"]["schemas"][name]);
            }
            return;
        }
        for alternatives in ["oneOf", "anyOf", "allOf"] {
            for alternative in items(&schema[alternatives]) {
                self.value(direction, about, alternative);
            }
        }
        for kind in kinds(schema) {
            self.add(direction.alternative(), about, kind);
        }
        if direction == Direction::Sent {
            for limit in LIMITS {
                if let Some(value) = schema[limit].as_f64() {
                    self.add(Kind::Demand, about, format!("{limit} {value}"));
                }
            }
            for value in items(&schema["enum"]) {
                self.add(Kind::Offer, about, value.to_string());
            }
        }
        self.object(direction, about, schema);
        if schema["items"].is_object() {
            self.value(direction, &format!("{about}[]"), &schema["items"]);
        }
    }

    fn object(&mut self, direction: Direction, about: &str, schema: &Value) {
        for (name, member) in members(&schema["properties"]) {
            let member_about = format!("{about}.{name}");
            self.add(Kind::Offer, &member_about, "");
            self.value(direction, &member_about, member);
        }
        for name in items(&schema["required"]).map(text) {
            match direction {
                Direction::Sent => self.add(Kind::Demand, about, format!("needs {name}")),
                Direction::Answered => self.add(Kind::Offer, &format!("{about}.{name}"), "always"),
            }
        }
        if schema["additionalProperties"].is_object() {
            self.value(direction, &format!("{about}.*"), &schema["additionalProperties"]);
        }
    }
}

/// Names of the JSON types of a schema, a string's with its format.
fn kinds(schema: &Value) -> Vec<String> {
    let types: Vec<&str> = match &schema["type"] {
        Value::Array(types) => types.iter().map(text).collect(),
        one => one.as_str().into_iter().collect(),
    };
    let named = |kind: &str| match schema["format"].as_str() {
        Some(format) if kind == "string" => format!("{kind} ({format})"),
        _ => kind.to_owned(),
    };
    types.into_iter().map(named).collect()
}

fn members(value: &Value) -> impl Iterator<Item = (&String, &Value)> {
    value.as_object().into_iter().flatten()
}

fn items(value: &Value) -> impl Iterator<Item = &Value> {
    value.as_array().into_iter().flatten()
}

fn text(value: &Value) -> &str {
    value.as_str().unwrap_or_default()
}

fn list(values: &Value) -> String {
    items(values).map(text).collect::<Vec<_>>().join(" ")
}
