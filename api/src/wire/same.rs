//! Whether two texts are the same JSON value.

use std::collections::BTreeMap;

use serde::Deserialize;
use serde_json::value::RawValue;

/// Whether two texts are the same JSON value: members by name, whatever their order and spacing; numbers by what they are worth,
/// exactly, so that `1.50`, `1.5` and `15e-1` are equal and no two that a double cannot tell apart are. What is not JSON equals
/// nothing.
pub fn same_value(a: &[u8], b: &[u8]) -> bool {
    value(a).is_some_and(|a| Some(a) == value(b))
}

/// A JSON value with its numbers as written.
#[derive(Debug, PartialEq)]
enum Value {
    Object(BTreeMap<String, Value>),
    Array(Vec<Value>),
    Text(String),
    Number(Decimal),
    /// `true`, `false` or `null`.
    Word(String),
}

/// A number: ± 0.`digits` · 10^`exponent`, without zeros at either end of the digits; zero has none and no sign.
#[derive(Debug, PartialEq)]
struct Decimal {
    negative: bool,
    digits: String,
    exponent: i64,
}

fn value(bytes: &[u8]) -> Option<Value> {
    of_raw(serde_json::from_slice(bytes).ok()?)
}

/// Each level is read by serde_json, which takes no more than 128 of them.
fn of_raw(raw: &RawValue) -> Option<Value> {
    let text = raw.get();
    Some(match text.as_bytes().first()? {
        b'{' => {
            let members: BTreeMap<String, &RawValue> = read(text)?;
            Value::Object(
                members.into_iter().map(|(name, raw)| Some((name, of_raw(raw)?))).collect::<Option<_>>()?,
            )
        }
        b'[' => Value::Array(read::<Vec<&RawValue>>(text)?.into_iter().map(of_raw).collect::<Option<_>>()?),
        b'"' => Value::Text(read(text)?),
        b't' | b'f' | b'n' => Value::Word(text.to_owned()),
        _ => Value::Number(decimal(text)?),
    })
}

fn read<'a, T: Deserialize<'a>>(text: &'a str) -> Option<T> {
    serde_json::from_str(text).ok()
}

/// The number in a JSON literal; none when its exponent is beyond all reason.
fn decimal(literal: &str) -> Option<Decimal> {
    let (mantissa, exponent) = literal.split_once(['e', 'E']).unwrap_or((literal, "0"));
    let (negative, mantissa) = mantissa.strip_prefix('-').map_or((false, mantissa), |rest| (true, rest));
    let (whole, fraction) = mantissa.split_once('.').unwrap_or((mantissa, ""));
    let all = format!("{whole}{fraction}");
    let from_first = all.trim_start_matches('0');
    let digits = from_first.trim_end_matches('0').to_owned();
    if digits.is_empty() {
        return Some(Decimal { negative: false, digits, exponent: 0 });
    }
    // Places of the whole part, less the zeros in front.
    let places = i64::try_from(whole.len()).ok()? - i64::try_from(all.len() - from_first.len()).ok()?;
    let exponent = exponent.parse::<i64>().ok()?.checked_add(places)?;
    Some(Decimal { negative, digits, exponent })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_worth_what_they_are_worth() {
        for (a, b) in [
            ("20", "20.0"),
            ("20", "2e1"),
            ("1.50", "15e-1"),
            ("0.001", "1E-3"),
            ("-0", "0.0"),
            ("0e9", "0"),
            ("-12.340", "-0.1234e+2"),
            ("100", "1e2"),
        ] {
            assert!(same_value(a.as_bytes(), b.as_bytes()), "{a} {b}");
        }
        for (a, b) in [
            ("20", "-20"),
            ("20", "200"),
            ("0.1", "0.01"),
            // The nearest double of both is the same.
            ("0.1", "0.1000000000000000055511151231257827"),
            ("9007199254740992", "9007199254740993"),
        ] {
            assert!(!same_value(a.as_bytes(), b.as_bytes()), "{a} {b}");
        }
    }

    #[test]
    fn members_by_name_and_lists_in_order() {
        let same = |a: &str, b: &str| same_value(a.as_bytes(), b.as_bytes());
        assert!(same(r#"{"a":1,"b":[true,null,"x"]}"#, "{ \"b\" : [true, null, \"\\u0078\"], \"a\" : 1.0 }"));
        assert!(!same(r"[1,2]", r"[2,1]"));
        assert!(!same(r#"{"a":1}"#, r#"{"a":1,"b":null}"#));
        assert!(!same(r#""1""#, "1"));
        assert!(!same("true", "null"));
        assert!(!same("{", "{"), "what is not JSON equals nothing");
    }
}
