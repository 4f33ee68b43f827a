//! The line of names.

use super::columns::{Column, Kind, column, is_result};
use super::{ReadSheet, Sheet};
use crate::model::SheetProblem;

/// A column of the sheet.
#[derive(Debug)]
pub(super) struct Read {
    /// Its place in a row; none for what holds for every row.
    pub(super) place: Option<usize>,
    /// The name that stands over it.
    pub(super) name: String,
    /// What it is.
    pub(super) column: &'static Column,
    /// The unit of measure that stands behind the name.
    pub(super) unit: Option<String>,
}

/// The columns of the sheet, and those that hold for every row.
pub(super) fn read(sheet: &Sheet, names: &csv::StringRecord, found: &mut ReadSheet) -> Vec<Read> {
    let mut columns: Vec<Read> = Vec::new();
    let written = names.iter().map(str::trim).enumerate().filter(|(_, name)| {
        let ignored = sheet.ignore.iter().any(|ignored| ignored == name);
        !(ignored || is_result(name) || name.is_empty())
    });
    let constant = sheet.constants.keys().map(|name| (None, name.as_str()));
    for (place, name) in written.map(|(place, name)| (Some(place), name)).chain(constant) {
        let meant = sheet.columns.get(name).map_or(name, String::as_str);
        let mut refuse = |code, detail: String| {
            found.add(SheetProblem { line: Some(1), column: Some(name.to_owned()), code, detail });
        };
        let (own, unit) = split(meant);
        let Some(column) = column(own) else {
            refuse(
                "unknown_column",
                format!(
                    "`{own}` is no column of a trial. Name the one it means in `columns`, or name it in `ignore`; \
                     `/v1/imports/template` has all of them."
                ),
            );
            continue;
        };
        match (column.kind, unit) {
            (Kind::Measurement, None) => {
                let detail =
                    format!("The unit of measure is missing: write it behind the name, as in `{own} (Cel)`.");
                refuse("unit_missing", detail);
            }
            (kind, Some(unit)) if kind != Kind::Measurement => {
                refuse("unit_not_needed", format!("`{own}` has no unit of measure; leave `({unit})` away."));
            }
            _ if columns.iter().any(|read| read.column.name == column.name) => {
                refuse("column_twice", format!("`{own}` stands twice, or holds for every row besides."));
            }
            _ => columns.push(Read { place, name: name.to_owned(), column, unit: unit.map(str::to_owned) }),
        }
    }
    for name in sheet.columns.keys().filter(|name| !names.iter().any(|there| there.trim() == name.as_str())) {
        let detail = "`columns` names it, and the sheet has no such column.".to_owned();
        found.add(SheetProblem { line: Some(1), column: Some(name.clone()), code: "unknown_column", detail });
    }
    if !columns.iter().any(|read| read.column.name == "coupon") {
        let detail = "A column `coupon` is missing: it tells which strips are of one coupon.".to_owned();
        found.add(SheetProblem { line: Some(1), column: None, code: "column_missing", detail });
    }
    columns
}

/// A name and the unit behind it.
fn split(name: &str) -> (&str, Option<&str>) {
    match name.strip_suffix(')').and_then(|name| name.split_once(" (")) {
        Some((name, unit)) => (name.trim_end(), Some(unit)),
        None => (name, None),
    }
}
