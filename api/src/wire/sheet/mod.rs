//! Trials in a spreadsheet: comma-separated values with a line of names, a row for each strip. Nothing is guessed: whatever is in
//! doubt is a problem that says where it is and what to do.

mod cells;
mod columns;
mod head;
mod rows;
mod template;

#[cfg(test)]
mod tests;

use std::collections::BTreeMap;

use chrono_tz::Tz;
use serde::Deserialize;
use utoipa::ToSchema;
use uuid::Uuid;

use super::Reader;
use crate::model::{Directory, Finding, SheetProblem, SheetTrial};

pub use rows::of_trial;
pub use template::template;

/// Most problems that are told of one sheet.
pub const MOST_PROBLEMS: usize = 200;

/// Trials in a spreadsheet, as comma-separated values (RFC 4180) in UTF-8: a line of names, then a row for each strip.
///
/// Columns are named as in `/v1/imports/template` and in `/v1/exports/trials`; the unit of measure stands behind the name, as a UCUM
/// code in parentheses: `set_temperature (Cel)`. Rows of the same unit, time and `trial` make a trial; rows of the same `coupon` in
/// it make a coupon. A trial keeps the id in `trial_id`; without one it gets an id that follows from unit, time and `trial`, so that
/// the same sheet sent twice adds nothing, and a corrected one is held for a person to settle.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct TrialSheet {
    /// The sheet, at most 7 MB.
    pub sheet: String,
    /// What stands between two fields: `,` (the default), `;` or a tab.
    pub delimiter: Option<String>,
    /// Whether decimals stand behind a comma; default false.
    pub decimal_comma: Option<bool>,
    /// Names in the sheet that are other than those of the template, each with the template's name and unit.
    #[schema(example = json!({ "Set °F": "set_temperature ([degF])" }))]
    pub columns: Option<BTreeMap<String, String>>,
    /// Names in the sheet that are read over.
    pub ignore: Option<Vec<String>>,
    /// What holds for every row: columns of the template, with unit, and their values.
    #[schema(example = json!({ "purpose": "sweep" }))]
    pub constants: Option<BTreeMap<String, String>>,
    /// Words of the sheet for codes of the record, column by column.
    #[schema(example = json!({ "mode": { "tore": "film_tear", "peeled": "interface_opened" } }))]
    pub words: Option<BTreeMap<String, BTreeMap<String, String>>>,
    /// The zone of times without an offset, by its IANA name.
    #[schema(example = "America/Halifax")]
    pub time_zone: Option<String>,
    /// How such times are written, in strftime's signs; default `%Y-%m-%d %H:%M`, with seconds or without.
    #[schema(example = "%d.%m.%Y %H:%M")]
    pub time_format: Option<String>,
    /// What becomes of a sheet with problems: `refuse` (the default) keeps nothing of it; `hold` takes in what is sound and holds the
    /// other trials until a person settles them. A sheet with a line that cannot be told apart into its fields is always refused.
    pub on_problem: Option<String>,
}

/// A sheet with its settings looked at.
#[derive(Debug)]
pub struct Sheet {
    text: String,
    delimiter: u8,
    decimal_comma: bool,
    columns: BTreeMap<String, String>,
    ignore: Vec<String>,
    constants: BTreeMap<String, String>,
    words: BTreeMap<String, BTreeMap<String, String>>,
    zone: Option<Tz>,
    time_format: Option<String>,
    /// Whether trials with problems are held instead of the sheet being refused.
    pub hold: bool,
}

impl TrialSheet {
    /// The sheet with its settings.
    ///
    /// # Errors
    /// Every setting that is wrong, with its pointer.
    pub fn read(self) -> Result<Sheet, Vec<Finding>> {
        let mut reader = Reader::default();
        let delimiter = match self.delimiter.as_deref() {
            None | Some(",") => Some(b','),
            Some(";") => Some(b';'),
            Some("\t") => Some(b'\t'),
            Some(_) => None,
        };
        let detail = "Fields are told apart by `,`, `;` or a tab.";
        reader.require(delimiter.is_some(), "/delimiter", "unknown_code", detail);
        let decimal_comma = self.decimal_comma.unwrap_or_default();
        let detail = "Fields are told apart by a comma, so decimals cannot stand behind one; choose `;`.";
        reader.require(!decimal_comma || delimiter != Some(b','), "/decimal_comma", "contradiction", detail);
        let zone = self.time_zone.as_deref().map(str::parse::<Tz>);
        let detail = "It is no zone of the IANA database; send a name such as `America/Halifax`.";
        reader.require(!matches!(zone, Some(Err(_))), "/time_zone", "unknown_time_zone", detail);
        let on_problem = self.on_problem.as_deref().unwrap_or("refuse");
        let detail = "It is `refuse` or `hold`.";
        reader.require(["refuse", "hold"].contains(&on_problem), "/on_problem", "unknown_code", detail);
        let sheet = delimiter.map(|delimiter| Sheet {
            text: self.sheet,
            delimiter,
            decimal_comma,
            columns: self.columns.unwrap_or_default(),
            ignore: self.ignore.unwrap_or_default(),
            constants: self.constants.unwrap_or_default(),
            words: self.words.unwrap_or_default(),
            zone: zone.and_then(Result::ok),
            time_format: self.time_format,
            hold: on_problem == "hold",
        });
        reader.findings.into_result(sheet)
    }
}

/// What was read from a sheet.
#[derive(Debug, Default)]
pub struct ReadSheet {
    /// The trials, in the order of their first lines.
    pub trials: Vec<SheetTrial>,
    /// What is wrong, in the order of the sheet; at most [`MOST_PROBLEMS`].
    pub problems: Vec<SheetProblem>,
    /// How many problems there are in all.
    pub problem_count: usize,
    /// Whether a line could not be told apart into fields: a trial may lack it, so none may be taken in.
    pub torn: bool,
}

impl ReadSheet {
    /// Adds a problem.
    pub fn add(&mut self, problem: SheetProblem) {
        self.problem_count += 1;
        if self.problems.len() < MOST_PROBLEMS {
            self.problems.push(problem);
        }
    }
}

impl Sheet {
    /// The trials in the sheet, of this organization, by its names.
    pub fn trials(&self, organization: Uuid, directory: &Directory) -> ReadSheet {
        rows::read(self, organization, directory)
    }
}
