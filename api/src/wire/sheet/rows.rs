//! Rows to trials.

use std::collections::HashMap;

use csv::StringRecord;
use serde_json::{Map, Value, json};
use uuid::Uuid;

use super::columns::{Kind, Level};
use super::head::{self, Read};
use super::{ReadSheet, Sheet, cells};
use crate::model::{Directory, Finding, SheetProblem, SheetTrial};
use crate::wire::trial::{TRIAL_SCHEMA, Trial};
use crate::wire::{JsonError, parse};

/// A trial that is being read.
#[derive(Debug, Default)]
struct Draft {
    /// What tells it apart.
    key: String,
    trial: Map<String, Value>,
    coupons: Vec<Coupon>,
    lines: Vec<u64>,
    doubtful: bool,
}

#[derive(Debug, Default)]
struct Coupon {
    mark: String,
    coupon: Map<String, Value>,
    /// Each strip with its line.
    strips: Vec<(u64, Map<String, Value>)>,
    line: u64,
}

/// What a row says of each level.
#[derive(Debug, Default)]
struct Row {
    trial: Map<String, Value>,
    coupon: Map<String, Value>,
    strip: Map<String, Value>,
    marks: HashMap<&'static str, String>,
}

pub(super) fn read(sheet: &Sheet, organization: Uuid, directory: &Directory) -> ReadSheet {
    let mut found = ReadSheet::default();
    let text = sheet.text.strip_prefix('\u{feff}').unwrap_or(&sheet.text);
    let mut rows = csv::ReaderBuilder::new()
        .delimiter(sheet.delimiter)
        .flexible(true)
        .has_headers(true)
        .from_reader(text.as_bytes());
    let names = rows.headers().cloned().unwrap_or_default();
    let columns = head::read(sheet, &names, &mut found);
    if found.problem_count > 0 {
        // Whatever the rows say, it would be misread.
        return found;
    }
    let mut lines = Lines { text: text.as_bytes(), at: 0, line: 1 };
    let mut drafts: Vec<Draft> = Vec::new();
    let mut places: HashMap<String, usize> = HashMap::new();
    for row in rows.records() {
        let row = match row {
            Ok(row) => row,
            Err(error) => {
                let detail = format!("The rest of the sheet cannot be read: {error}.");
                found.add(SheetProblem { line: None, column: None, code: "malformed_sheet", detail });
                found.torn = true;
                break;
            }
        };
        let line = lines.of(row.position().map_or(0, csv::Position::byte));
        if row.iter().all(|field| field.trim().is_empty()) {
            continue;
        }
        if row.len() != names.len() {
            let detail = format!(
                "The line has {} fields and the line of names {}; a field with a delimiter in it stands in quotation marks.",
                row.len(),
                names.len()
            );
            found.add(SheetProblem { line: Some(line), column: None, code: "wrong_count", detail });
            found.torn = true;
            continue;
        }
        let before = found.problem_count;
        let said = read_row(sheet, &columns, &row, line, directory, &mut found);
        let key = key(&said);
        let place = *places.entry(key.clone()).or_insert_with(|| {
            drafts.push(Draft { key, ..Draft::default() });
            drafts.len() - 1
        });
        let doubtful = found.problem_count > before;
        drafts[place].add(said, line, doubtful, &columns, &mut found);
    }
    let trials = drafts.into_iter().map(|draft| draft.finish(organization, &columns, &mut found)).collect();
    ReadSheet { trials, ..found }
}

/// Which line a row begins in, asked in the order of the rows.
struct Lines<'a> {
    text: &'a [u8],
    at: usize,
    line: u64,
}

impl Lines<'_> {
    /// The line of the first character at or behind this byte: what ends the line before belongs to a row too.
    fn of(&mut self, byte: u64) -> u64 {
        let from = usize::try_from(byte).unwrap_or(usize::MAX).min(self.text.len());
        let breaks = self.text[from..].iter().take_while(|byte| matches!(byte, b'\r' | b'\n')).count();
        let to = from + breaks;
        let passed = self.text.get(self.at..to).unwrap_or_default();
        self.line += passed.iter().filter(|byte| **byte == b'\n').count() as u64;
        self.at = self.at.max(to);
        self.line
    }
}

/// What tells trials apart.
fn key(row: &Row) -> String {
    let of = |name: &str| row.trial.get(name).map(Value::to_string).unwrap_or_default();
    let mark = row.marks.get("trial").cloned().unwrap_or_default();
    match row.trial.get("id") {
        Some(id) => id.to_string(),
        None => format!("{}\n{}\n{mark}", of("unit_id"), of("performed_at")),
    }
}

fn read_row(
    sheet: &Sheet,
    columns: &[Read],
    fields: &StringRecord,
    line: u64,
    directory: &Directory,
    found: &mut ReadSheet,
) -> Row {
    let mut row = Row::default();
    // Names last: an id that stands beside one says it better.
    let is_name =
        |read: &&Read| matches!(read.column.kind, Kind::Unit | Kind::Crew | Kind::Membrane | Kind::Lot);
    let (names, others): (Vec<&Read>, Vec<&Read>) = columns.iter().partition(is_name);
    for read in others.into_iter().chain(names) {
        let field = match read.place {
            Some(place) => fields.get(place).unwrap_or_default(),
            None => sheet.constants.get(&read.name).map_or("", String::as_str),
        };
        let field = field.trim();
        if field.is_empty() {
            continue;
        }
        if read.column.kind == Kind::Mark {
            row.marks.insert(read.column.name, field.to_owned());
            continue;
        }
        let level = match read.column.level {
            Level::Trial => &mut row.trial,
            Level::Coupon => &mut row.coupon,
            Level::Strip => &mut row.strip,
        };
        let paths = paths(read);
        if is_name(&read) && paths.iter().all(|path| get(level, path).is_some()) {
            continue;
        }
        let value = cells::value(sheet, read, field, directory).unwrap_or_else(|(code, detail)| {
            found.add(SheetProblem { line: Some(line), column: Some(read.name.clone()), code, detail });
            // As it stands there: whoever settles it sees what was meant.
            json!(field)
        });
        for path in paths {
            if get(level, &path).is_none() {
                set(level, &path, value.clone());
            }
        }
    }
    row
}

/// The members that a column fills.
fn paths(read: &Read) -> Vec<Vec<&'static str>> {
    read.column.paths.iter().map(|path| path.to_vec()).collect()
}

fn get<'a>(map: &'a Map<String, Value>, path: &[&str]) -> Option<&'a Value> {
    match path {
        [] => None,
        [name] => map.get(*name),
        [name, rest @ ..] => get(map.get(*name)?.as_object()?, rest),
    }
}

fn set(map: &mut Map<String, Value>, path: &[&str], value: Value) {
    match path {
        [] => {}
        [name] => drop(map.insert((*name).to_owned(), value)),
        [name, rest @ ..] => {
            let inner = map.entry(*name).or_insert_with(|| json!({}));
            if let Some(inner) = inner.as_object_mut() {
                set(inner, rest, value);
            }
        }
    }
}

impl Draft {
    fn add(&mut self, row: Row, line: u64, doubtful: bool, columns: &[Read], found: &mut ReadSheet) {
        self.doubtful |= doubtful;
        let first = self.lines.first().copied();
        self.lines.push(line);
        match first {
            None => self.trial = row.trial,
            Some(first) => {
                self.doubtful |= differs(&self.trial, &row.trial, Level::Trial, (first, line), columns, found)
            }
        }
        let mark = row.marks.get("coupon").cloned().unwrap_or_default();
        if mark.is_empty() {
            let detail = "It does not say of which coupon the strip is.".to_owned();
            found.add(SheetProblem {
                line: Some(line),
                column: Some("coupon".into()),
                code: "required",
                detail,
            });
            self.doubtful = true;
        }
        let place = self.coupons.iter().position(|coupon| coupon.mark == mark);
        let place = place.unwrap_or_else(|| {
            self.coupons.push(Coupon { mark, coupon: row.coupon.clone(), strips: Vec::new(), line });
            self.coupons.len() - 1
        });
        let coupon = &mut self.coupons[place];
        let lines = (coupon.line, line);
        self.doubtful |= differs(&coupon.coupon, &row.coupon, Level::Coupon, lines, columns, found);
        if !row.strip.is_empty() {
            coupon.strips.push((line, row.strip));
        }
    }

    /// The record, checked by the rules of a trial.
    fn finish(self, organization: Uuid, columns: &[Read], found: &mut ReadSheet) -> SheetTrial {
        let id = match self.trial.get("id").and_then(Value::as_str).and_then(|id| Uuid::try_parse(id).ok()) {
            Some(id) => id,
            None => Uuid::new_v5(&organization, format!("trial of a sheet\n{}", self.key).as_bytes()),
        };
        let counts = (self.coupons.len(), self.coupons.iter().map(|coupon| coupon.strips.len()).sum());
        let mut record = self.trial;
        record.insert("schema".into(), json!(TRIAL_SCHEMA));
        record.insert("id".into(), json!(id));
        let lines_of: Vec<(u64, Vec<u64>)> = self
            .coupons
            .iter()
            .map(|coupon| (coupon.line, coupon.strips.iter().map(|(line, _)| *line).collect()))
            .collect();
        let coupons = self.coupons.into_iter().map(|coupon| {
            let mut members = coupon.coupon;
            let strips: Vec<Value> =
                coupon.strips.into_iter().map(|(_, strip)| Value::Object(strip)).collect();
            members.insert("specimens".into(), json!(strips));
            Value::Object(members)
        });
        record.insert("coupons".into(), coupons.collect());
        let record = Value::Object(record);
        let mut sound = !self.doubtful;
        // What was in doubt was told already, and would be told again in other words.
        if sound {
            for finding in broken_rules(&record) {
                found.add(told(&finding, &self.lines, &lines_of, columns));
                sound = false;
            }
        }
        SheetTrial { record, id, lines: self.lines, counts, sound }
    }
}

/// Whether two lines of one trial or coupon say different things of it; each is told.
fn differs(
    first: &Map<String, Value>,
    other: &Map<String, Value>,
    level: Level,
    (first_line, line): (u64, u64),
    columns: &[Read],
    found: &mut ReadSheet,
) -> bool {
    if first == other {
        return false;
    }
    let mut told = false;
    for read in columns.iter().filter(|read| read.column.level == level) {
        if paths(read).iter().any(|path| get(first, path) != get(other, path)) {
            let what = if level == Level::Trial { "trial" } else { "coupon" };
            let detail = format!(
                "Line {first_line} says something else of the same {what}; make them alike, or tell them apart by the column `{what}`."
            );
            found.add(SheetProblem {
                line: Some(line),
                column: Some(read.name.clone()),
                code: "differs",
                detail,
            });
            told = true;
        }
    }
    told
}

/// The rules of a trial's record that this one breaks.
fn broken_rules(record: &Value) -> Vec<Finding> {
    match parse::<Trial>(record.to_string().as_bytes()) {
        Ok(trial) => trial.read().err().unwrap_or_default(),
        Err(JsonError::Shape(finding)) => vec![finding],
        Err(JsonError::Malformed(detail)) => vec![Finding::new("", "malformed_json", detail)],
    }
}

/// A finding about a record, as a problem of the sheet.
fn told(finding: &Finding, lines: &[u64], lines_of: &[(u64, Vec<u64>)], columns: &[Read]) -> SheetProblem {
    let parts: Vec<&str> = finding.pointer.split('/').skip(1).collect();
    let index = |part: Option<&&str>| part.and_then(|part| part.parse::<usize>().ok());
    let (level, rest, line) = match parts.as_slice() {
        ["coupons", coupon, "specimens", strip, rest @ ..] => {
            let line = index(Some(coupon)).and_then(|coupon| lines_of.get(coupon));
            let line = line.zip(index(Some(strip))).and_then(|((_, strips), strip)| strips.get(strip));
            (Level::Strip, rest, line.copied())
        }
        ["coupons", coupon, rest @ ..] => {
            let line = index(Some(coupon)).and_then(|coupon| lines_of.get(coupon));
            (Level::Coupon, rest, line.map(|(line, _)| *line))
        }
        rest => (Level::Trial, rest, None),
    };
    let about = |read: &&Read| {
        read.column.level == level
            && paths(read).iter().any(|path| !path.is_empty() && rest.starts_with(path))
    };
    let column = columns.iter().find(about).map(|read| read.name.clone());
    let detail = match &column {
        Some(_) => finding.detail.clone(),
        None => format!("{} ({})", finding.detail, finding.pointer),
    };
    SheetProblem { line: line.or_else(|| lines.first().copied()), column, code: finding.code, detail }
}

/// A finding of the service about a record that was read from these lines.
pub fn of_trial(finding: &Finding, trial: &SheetTrial) -> SheetProblem {
    let detail = format!("{} ({})", finding.detail, finding.pointer);
    SheetProblem { line: trial.lines.first().copied(), column: None, code: finding.code, detail }
}
