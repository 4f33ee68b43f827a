//! What a spreadsheet of trials says by name.

use std::collections::HashMap;

use uuid::Uuid;

/// The ids behind the names that an organization uses. A name may stand for several things.
#[derive(Debug, Clone, Default)]
pub struct Directory {
    /// Units by what is painted on them.
    pub units: HashMap<String, Vec<Uuid>>,
    /// Crews by name.
    pub crews: HashMap<String, Vec<Uuid>>,
    /// Membranes by name.
    pub membranes: HashMap<String, Vec<Uuid>>,
    /// Lots by what is printed on the roll.
    pub lots: HashMap<String, Vec<Uuid>>,
}

/// What is wrong in a spreadsheet.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SheetProblem {
    /// The line of the file, the line of names being 1; none when it concerns the whole.
    pub line: Option<u64>,
    /// The name that stands over the column, if it concerns one.
    pub column: Option<String>,
    /// Stable code.
    pub code: &'static str,
    /// What is wrong and what to do.
    pub detail: String,
}

/// A trial that was read from a spreadsheet.
#[derive(Debug, Clone, PartialEq)]
pub struct SheetTrial {
    /// The record, as it would be sent.
    pub record: serde_json::Value,
    /// Its id.
    pub id: Uuid,
    /// The lines it was read from, in order.
    pub lines: Vec<u64>,
    /// How many coupons and strips it has.
    pub counts: (usize, usize),
    /// Whether everything in it was understood.
    pub sound: bool,
}
