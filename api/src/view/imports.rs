//! What a spreadsheet comes to.

use chrono::{DateTime, Utc};
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;

use super::envelope::ItemResult;
use crate::model;
use crate::service::imports::{Imported, Seen};

/// What a sheet comes to.
#[derive(Debug, Serialize, ToSchema)]
pub struct SheetReport {
    /// The trials in it, in the order of their first lines.
    pub trials: Vec<SheetTrial>,
    /// What is wrong with it; at most 200 are listed.
    pub problems: Vec<SheetProblem>,
    /// How many problems there are in all.
    pub problem_count: usize,
    /// Whether its trials were sent on: false for a preview, and for a sheet with problems that was to be refused.
    pub imported: bool,
    /// What became of each trial, as of an item of an envelope; empty unless `imported`.
    pub results: Vec<ItemResult>,
}

/// A trial in a sheet.
#[derive(Debug, Serialize, ToSchema)]
pub struct SheetTrial {
    /// The id that it has or gets.
    pub id: Uuid,
    /// The unit, if it was understood.
    pub unit_id: Option<Uuid>,
    /// When it was performed, if that was understood.
    pub performed_at: Option<DateTime<Utc>>,
    /// Its first line; the line of names is 1.
    #[schema(example = 2)]
    pub first_line: u64,
    /// Its last line.
    #[schema(example = 19)]
    pub last_line: u64,
    /// How many coupons it has.
    pub coupons: usize,
    /// How many strips it has.
    pub strips: usize,
    /// Whether nothing is wrong with it.
    pub sound: bool,
    /// Whether a record of this id was accepted before: the same content is a duplicate, other content is held.
    pub known: bool,
}

/// Something that is wrong with a sheet.
#[derive(Debug, Serialize, ToSchema)]
pub struct SheetProblem {
    /// The line, the line of names being 1; null when it concerns the whole.
    #[schema(example = 17)]
    pub line: Option<u64>,
    /// The name that stands over the column; null when it concerns none.
    pub column: Option<String>,
    /// Stable code.
    #[schema(example = "not_a_number")]
    pub code: &'static str,
    /// What is wrong and what to do.
    pub detail: String,
}

impl SheetReport {
    /// What a sheet would come to.
    pub fn preview(seen: &Seen) -> Self {
        Self {
            trials: seen.read.trials.iter().map(|trial| SheetTrial::of(trial, seen)).collect(),
            problems: seen.read.problems.iter().map(SheetProblem::from).collect(),
            problem_count: seen.read.problem_count,
            imported: false,
            results: Vec::new(),
        }
    }

    /// What became of a sheet.
    pub fn of(imported: &Imported) -> Self {
        let results = (0..).zip(&imported.handled);
        Self {
            imported: !imported.handled.is_empty(),
            results: results.map(|(index, handled)| ItemResult::of(index, handled, false)).collect(),
            ..Self::preview(&imported.seen)
        }
    }
}

impl SheetTrial {
    fn of(trial: &model::SheetTrial, seen: &Seen) -> Self {
        let text = |member: &str| trial.record[member].as_str();
        Self {
            id: trial.id,
            unit_id: text("unit_id").and_then(|id| id.parse().ok()),
            performed_at: text("performed_at").and_then(|at| at.parse().ok()),
            first_line: trial.lines.first().copied().unwrap_or_default(),
            last_line: trial.lines.last().copied().unwrap_or_default(),
            coupons: trial.counts.0,
            strips: trial.counts.1,
            sound: trial.sound,
            known: seen.known.contains(&trial.id),
        }
    }
}

impl From<&model::SheetProblem> for SheetProblem {
    fn from(problem: &model::SheetProblem) -> Self {
        let model::SheetProblem { line, column, code, detail } = problem.clone();
        Self { line, column, code, detail }
    }
}
