//! One field of a row, as a value of the record.

use std::collections::HashMap;

use chrono::{DateTime, LocalResult, NaiveDateTime, SecondsFormat, TimeZone, Utc};
use serde_json::{Value, json};
use uuid::Uuid;

use super::Sheet;
use super::columns::Kind;
use super::head::Read;
use crate::model::Directory;

/// Why a field is not understood: a code, and what to do.
pub(super) type Doubt = (&'static str, String);

/// The value in a field that is not empty; none of a mark.
pub(super) fn value(sheet: &Sheet, read: &Read, field: &str, directory: &Directory) -> Result<Value, Doubt> {
    let words = sheet.words.get(read.column.name);
    let said =
        |word: &str| words.and_then(|words| words.get(word)).map_or_else(|| word.to_owned(), Clone::clone);
    match read.column.kind {
        Kind::Text => Ok(json!(unguarded(field))),
        Kind::Code => Ok(json!(said(field))),
        Kind::Codes if words.is_some_and(|words| words.contains_key(field)) => {
            Ok(json!(said(field).split_whitespace().collect::<Vec<_>>()))
        }
        Kind::Codes => Ok(json!(field.split_whitespace().map(said).collect::<Vec<_>>())),
        Kind::Measurement => Ok(json!({ "value": number(sheet, field)?, "unit": read.unit })),
        Kind::Number => Ok(json!(number(sheet, field)?)),
        Kind::Truth => match said(field).as_str() {
            "true" => Ok(json!(true)),
            "false" => Ok(json!(false)),
            other => Err((
                "not_a_truth",
                format!("`{other}` is neither `true` nor `false`; say in `words` what it means."),
            )),
        },
        Kind::Time => Ok(json!(time(sheet, field)?.to_rfc3339_opts(SecondsFormat::AutoSi, true))),
        Kind::Id => match Uuid::try_parse(field) {
            Ok(id) => Ok(json!(id)),
            Err(_) => Err(("not_an_id", format!("`{field}` is no UUID."))),
        },
        Kind::Unit => named("unit", &directory.units, &said(field)),
        Kind::Crew => named("crew", &directory.crews, &said(field)),
        Kind::Membrane => named("membrane", &directory.membranes, &said(field)),
        Kind::Lot => named("lot", &directory.lots, &said(field)),
        Kind::Mark => Ok(Value::Null),
    }
}

/// A text without the apostrophe that kept a spreadsheet from taking it for a formula.
fn unguarded(field: &str) -> &str {
    match field.strip_prefix('\'') {
        Some(rest) if rest.starts_with(['=', '+', '-', '@', '\t', '\r', '\'']) => rest,
        _ => field,
    }
}

fn named(what: &str, directory: &HashMap<String, Vec<Uuid>>, name: &str) -> Result<Value, Doubt> {
    match directory.get(name).map(Vec::as_slice) {
        Some([id]) => Ok(json!(id)),
        Some(many) if many.len() > 1 => {
            let detail = format!(
                "{} have the name `{name}`; say which by its id, in a column `{what}_id`.",
                many.len()
            );
            Err(("ambiguous_name", detail))
        }
        _ => {
            let detail = format!(
                "No {what} of this organization has the name `{name}`. Add it first, or say in `words` which is meant."
            );
            Err(("unknown_name", detail))
        }
    }
}

/// The number in a field, in its own digits where JSON writes numbers so.
fn number(sheet: &Sheet, field: &str) -> Result<serde_json::Number, Doubt> {
    let (point, other) = if sheet.decimal_comma { (',', '.') } else { ('.', ',') };
    let plain = !field.is_empty()
        && !field.contains(other)
        && field.chars().all(|c| c.is_ascii_digit() || c == point || "+-eE".contains(c));
    let digits = field.replace(point, ".");
    let read = || digits.parse().ok().or_else(|| serde_json::Number::from_f64(digits.parse().ok()?));
    plain.then(read).flatten().ok_or_else(|| {
        let detail = format!(
            "`{field}` is no number with a decimal {}; write no unit and no sign between thousands.",
            if sheet.decimal_comma { "comma" } else { "point" }
        );
        ("not_a_number", detail)
    })
}

fn time(sheet: &Sheet, field: &str) -> Result<DateTime<Utc>, Doubt> {
    if let Ok(at) = DateTime::parse_from_rfc3339(field) {
        return Ok(at.to_utc());
    }
    let formats = match &sheet.time_format {
        Some(format) => vec![format.as_str()],
        None => vec!["%Y-%m-%d %H:%M", "%Y-%m-%d %H:%M:%S", "%Y-%m-%dT%H:%M", "%Y-%m-%dT%H:%M:%S"],
    };
    let local = formats.iter().find_map(|format| NaiveDateTime::parse_from_str(field, format).ok());
    let Some(local) = local else {
        let detail = format!(
            "`{field}` is not read as a time; say in `time_format` how times are written, or write 2026-06-10T07:30:00-03:00."
        );
        return Err(("not_a_time", detail));
    };
    let Some(zone) = sheet.zone else {
        let detail = format!("`{field}` says no offset; say in `time_zone` where it was written.");
        return Err(("time_zone_missing", detail));
    };
    match zone.from_local_datetime(&local) {
        LocalResult::Single(at) => Ok(at.to_utc()),
        LocalResult::Ambiguous(first, second) => {
            let detail = format!(
                "The clocks in {zone} showed `{field}` twice that night; write {} or {}.",
                first.to_rfc3339(),
                second.to_rfc3339()
            );
            Err(("ambiguous_time", detail))
        }
        LocalResult::None => {
            let detail = format!("The clocks in {zone} were put forward past `{field}`; correct the time.");
            Err(("no_such_time", detail))
        }
    }
}
