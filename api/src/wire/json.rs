//! Reading a JSON body strictly, with errors that say where.

use serde::de::DeserializeOwned;
use serde_path_to_error::{Path, Segment};

use super::objects::Strict;
use super::sentence;
use crate::model::Finding;

/// Why a body could not be read.
#[derive(Debug)]
pub enum JsonError {
    /// Not JSON at all: says line, column and what was expected.
    Malformed(String),
    /// JSON, but not of the form of the record.
    Shape(Finding),
}

/// Reads one JSON value of type `T`; nothing but white space may follow it.
///
/// # Errors
/// [`JsonError::Malformed`] for broken JSON, numbers out of range, lone surrogates and nesting past 128 levels;
/// [`JsonError::Shape`] for unknown, missing, repeated or mistyped members.
pub fn parse<T: DeserializeOwned>(bytes: &[u8]) -> Result<T, JsonError> {
    let mut deserializer = serde_json::Deserializer::from_slice(bytes);
    let value = serde_path_to_error::deserialize(Strict(&mut deserializer)).map_err(|error| {
        let pointer = pointer(error.path());
        explain(error.into_inner(), pointer)
    })?;
    deserializer.end().map_err(|error| explain(error, String::new()))?;
    Ok(value)
}

pub(super) fn explain(error: serde_json::Error, pointer: String) -> JsonError {
    if !error.is_data() {
        return JsonError::Malformed(format!(
            "{error}. Check the body with a JSON validator and send it again."
        ));
    }
    let message = error.to_string();
    // serde_json appends the position, which means nothing to a caller who has the pointer.
    let message = message.rsplit_once(" at line ").map_or(message.as_str(), |(message, _)| message);
    let quoted = message.split('`').nth(1).unwrap_or_default();
    // The path of a member that should not be there ends with it already.
    let inside = |member: &str| {
        let member = escape(member);
        let last = pointer.rsplit('/').next().unwrap_or_default();
        if last == member { pointer.clone() } else { format!("{pointer}/{member}") }
    };
    JsonError::Shape(if message.starts_with("unknown field") {
        let expected = message.split_once("expected ").map_or("none", |(_, list)| list);
        let own = if expected.contains("`extra`") { " Data of your own go in `extra`." } else { "" };
        let detail = format!("`{quoted}` is not a member of this record; it takes {expected}.{own}");
        Finding::new(inside(quoted), "unknown_field", detail)
    } else if message.starts_with("missing field") {
        Finding::new(inside(quoted), "required", format!("The member `{quoted}` is missing."))
    } else if message.starts_with("duplicate field") {
        Finding::new(
            inside(quoted),
            "duplicate_field",
            format!("The member `{quoted}` stands twice; send it once."),
        )
    } else {
        Finding::new(pointer, "wrong_type", mistyped(message))
    })
}

/// What is wrong with a value, in the words of JSON.
fn mistyped(message: &str) -> String {
    const MOMENTS: [&str; 6] = [
        "premature end of input",
        "input contains invalid characters",
        "input is out of range",
        "trailing input",
        "no possible date and time matching input",
        "input is not enough for unique date and time",
    ];
    if MOMENTS.contains(&message) {
        return "It is not read as a time here. Send a moment as 2026-06-10T07:30:00Z or with an offset such as -03:00, a \
                day as 2026-06-10, a time of day as 07:30:00."
            .to_owned();
    }
    let (found, expected) = message.split_once(", expected ").unwrap_or((message, ""));
    let words = match expected {
        "" => String::new(),
        "f64" | "f32" => ", expected a number".to_owned(),
        "u8" | "u16" | "u32" | "u64" | "usize" | "i64" => ", expected a whole number".to_owned(),
        "a sequence" => ", expected a list".to_owned(),
        object if object.starts_with("struct ") => ", expected an object".to_owned(),
        other => format!(", expected {other}"),
    };
    let found = found.replace("sequence", "list").replace("map", "object");
    sentence(&format!("{found}{words}"))
}

/// RFC 6901 of a path into the body.
fn pointer(path: &Path) -> String {
    path.iter().fold(String::new(), |mut pointer, segment| {
        match segment {
            Segment::Seq { index } => pointer.push_str(&format!("/{index}")),
            Segment::Map { key } => pointer.push_str(&format!("/{}", escape(key))),
            Segment::Enum { .. } | Segment::Unknown => {}
        }
        pointer
    })
}

fn escape(member: &str) -> String {
    member.replace('~', "~0").replace('/', "~1")
}

#[cfg(test)]
mod tests {
    use serde::Deserialize;

    use super::*;

    #[derive(Debug, Deserialize)]
    #[serde(deny_unknown_fields)]
    #[expect(dead_code, reason = "only its form matters")]
    struct Inner {
        value: f64,
    }

    #[derive(Debug, Deserialize)]
    #[serde(deny_unknown_fields)]
    #[expect(dead_code, reason = "only its form matters")]
    struct Outer {
        items: Vec<Inner>,
    }

    fn shape(body: &str) -> (String, &'static str) {
        match parse::<Outer>(body.as_bytes()) {
            Err(JsonError::Shape(finding)) => (finding.pointer, finding.code),
            other => panic!("{other:?}"),
        }
    }

    #[test]
    fn findings_point_at_the_member() {
        assert_eq!(
            shape(r#"{"items":[{"value":1},{"value":"x"}]}"#),
            ("/items/1/value".into(), "wrong_type")
        );
        assert_eq!(shape(r#"{"items":[{"value":1,"a/b":2}]}"#), ("/items/0/a~1b".into(), "unknown_field"));
        // The order of our source is no form of the contract.
        assert_eq!(shape(r#"{"items":[[1]]}"#), ("/items/0".into(), "wrong_type"));
        assert_eq!(shape(r"[[]]"), (String::new(), "wrong_type"));
        assert_eq!(shape(r#"{"items":[{}]}"#), ("/items/0/value".into(), "required"));
        assert_eq!(
            shape(r#"{"items":[{"value":1,"value":1}]}"#),
            ("/items/0/value".into(), "duplicate_field")
        );
    }

    #[test]
    fn what_is_not_json_is_malformed() {
        for body in ["", "{", "{} x", "{\"items\":[{\"value\":1e999}]}", "\"\\ud800\"", &"[".repeat(200)] {
            assert!(
                matches!(parse::<serde_json::Value>(body.as_bytes()), Err(JsonError::Malformed(_))),
                "{body}"
            );
        }
    }
}
