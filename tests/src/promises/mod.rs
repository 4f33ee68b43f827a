//! What the contract promises, a line each, and which changes of it break somebody's program.
//!
//! A line is an *offer* or a *demand*. An offer is what a caller may rely on: an operation, a member that may be sent, a
//! member that an answer always has. A demand is what a caller has to meet or to cope with: a member that must be sent, a
//! limit, an answer that may be null. Later contracts may add offers and drop demands. One that drops an offer, or
//! demands something new of what was offered before, breaks callers.
//!
//! `openapi/promises.txt` keeps the lines. [`COMMAND`] brings it up to date, and refuses to when something would break.

mod collect;
mod compare;

use std::collections::BTreeSet;
use std::fmt;
use std::path::PathBuf;
use std::str::FromStr;

pub use collect::collect;
pub use compare::broken;

/// Adds to the committed lines what the contract has come to promise.
pub const COMMAND: &str = "cargo run -p lapwatch-tests --bin add-promises";

/// Where the lines are kept.
pub fn path() -> PathBuf {
    PathBuf::from(concat!(env!("CARGO_MANIFEST_DIR"), "/../openapi/promises.txt"))
}

/// Whether a line may be added later or dropped later.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Kind {
    /// A caller may rely on it: it stays.
    Offer,
    /// A caller has to meet it: nothing of this kind comes later.
    Demand,
}

/// One line.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Promise {
    /// What it is about: an operation, a schema in one direction, a member of it.
    pub about: String,
    /// What is said of it; empty when the promise is that it is there.
    pub what: String,
    /// Offer or demand.
    pub kind: Kind,
}

impl fmt::Display for Promise {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let kind = match self.kind {
            Kind::Offer => "offer",
            Kind::Demand => "demand",
        };
        write!(f, "{kind} {}", self.about)?;
        if self.what.is_empty() { Ok(()) } else { write!(f, " | {}", self.what) }
    }
}

impl FromStr for Promise {
    type Err = String;

    fn from_str(line: &str) -> Result<Self, String> {
        let (kind, rest) = line.split_once(' ').ok_or_else(|| format!("{line:?} is no promise"))?;
        let kind = match kind {
            "offer" => Kind::Offer,
            "demand" => Kind::Demand,
            _ => return Err(format!("{line:?} starts with neither \"offer\" nor \"demand\"")),
        };
        let (about, what) = rest.split_once(" | ").unwrap_or((rest, ""));
        Ok(Self { about: about.to_owned(), what: what.to_owned(), kind })
    }
}

/// The promises in a text of one line each.
///
/// # Errors
///
/// The first line that is none.
pub fn parse(text: &str) -> Result<BTreeSet<Promise>, String> {
    text.lines().map(str::parse).collect()
}

/// The text of promises, a line each, in order.
pub fn text(promises: &BTreeSet<Promise>) -> String {
    promises.iter().map(|promise| format!("{promise}\n")).collect()
}
