//! Shapes that go with words, so that nothing is told by colour alone.

use std::fmt;

use askama::filters::HtmlSafe;
use lapwatch_domain::acceptance::Reading;
use lapwatch_domain::standing::StandingCode;
use lapwatch_domain::trial::Outcome;

use super::words;

/// A shape with a word. Size and colour come from the stylesheet, by class.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Mark {
    /// Class that colours it.
    pub(super) class: &'static str,
    /// The shape, an SVG path in a box of 16 by 16 units.
    pub(super) path: &'static str,
    /// The word.
    pub(super) word: &'static str,
}

const DISC: &str = "M8 3a5 5 0 1 0 0 10A5 5 0 1 0 8 3z";
const DASHED_RING: &str = "M6.5 1.7a6.5 6.5 0 0 1 3 0l-.5 2a4.5 4.5 0 0 0-2 0zM12.9 3.8a6.5 6.5 0 0 1 1.5 2.7l-2 .5a4.5 \
                           4.5 0 0 0-1-1.8zM14.4 9.5a6.5 6.5 0 0 1-1.5 2.7l-1.5-1.4a4.5 4.5 0 0 0 1-1.8zM9.5 14.3a6.5 6.5 \
                           0 0 1-3 0l.5-2a4.5 4.5 0 0 0 2 0zM3.1 12.2a6.5 6.5 0 0 1-1.5-2.7l2-.5a4.5 4.5 0 0 0 1 1.8zM1.6 \
                           6.5a6.5 6.5 0 0 1 1.5-2.7l1.5 1.4a4.5 4.5 0 0 0-1 1.8z";
const TRIANGLE: &str = "M8 1.5 15.5 14.5H.5z";
const DIAMOND: &str = "M8 .5 15.5 8 8 15.5.5 8z";
const CROSSED_SQUARE: &str =
    "M1 1h14v14H1zM4 5.4 6.6 8 4 10.6 5.4 12 8 9.4l2.6 2.6 1.4-1.4L9.4 8 12 5.4 10.6 4 8 6.6 5.4 4z";
const CLOCK: &str = "M8 .5a7.5 7.5 0 1 0 0 15 7.5 7.5 0 0 0 0-15zm-1 3h2v4.1l2.9 2.9-1.4 1.4L7 8.4z";
const OPEN_RING: &str = "M8 2a6 6 0 1 0 0 12A6 6 0 1 0 8 2zm0 2a4 4 0 1 1 0 8 4 4 0 1 1 0-8z";
const TICK: &str = "M1.5 8.6 3.4 6.7l3 3 6.2-6.9 2 1.8-8.1 9z";
const HALF: &str = "M2 2h12v12H2zM4 4v8h4V4z";
const CROSS: &str =
    "M3.4 1.5 8 6.1l4.6-4.6 1.9 1.9L9.9 8l4.6 4.6-1.9 1.9L8 9.9l-4.6 4.6-1.9-1.9L6.1 8 1.5 3.4z";
const QUESTION: &str = "M4 5.5C4 3 5.7 1.5 8.1 1.5S12 3 12 5.1c0 1.7-.9 2.5-1.8 3.2-.8.6-1.2 1-1.2 2H7c0-1.9.8-2.7 1.7-3.4.7-.6 \
                        1.2-.9 1.2-1.8 0-1-.7-1.6-1.8-1.6-1.2 0-2 .7-2.1 2zM7 12h2v2.5H7z";
const BAR: &str = "M2 6h12v4H2z";
/// Two sheets that came apart.
const PARTED: &str = "M1 3.5 15 1v2.6L5 6.2v3.6l10 2.6V15L1 12.5z";
const DOTTED_SQUARE: &str = "M2 2h12v12H2zm2 2v8h8V4zm2.5 2.5h3v3h-3z";

impl Mark {
    /// How a unit stands.
    pub(super) fn standing(code: StandingCode) -> Self {
        let (class, path) = match code {
            StandingCode::New => ("new", DASHED_RING),
            StandingCode::Steady => ("steady", DISC),
            StandingCode::Warning => ("warning", TRIANGLE),
            StandingCode::Drifting => ("drifting", DIAMOND),
            StandingCode::Withdrawn => ("withdrawn", CROSSED_SQUARE),
        };
        Self { class, path, word: words::standing(code) }
    }

    /// What came of a trial.
    pub(super) fn outcome(outcome: Outcome) -> Self {
        let (class, path) = match outcome {
            Outcome::Stands => ("stands", TICK),
            Outcome::MarginLost => ("margin-lost", HALF),
            Outcome::Failed => ("failed", CROSS),
            Outcome::NoVerdict => ("no-verdict", QUESTION),
        };
        Self { class, path, word: words::outcome(outcome) }
    }

    /// What a strip showed.
    pub(super) fn reading(reading: Reading) -> Self {
        let (class, path) = match reading {
            Reading::Cold => ("cold", PARTED),
            Reading::Sound => ("sound", DISC),
            Reading::Hot => ("hot", TRIANGLE),
            Reading::Narrow => ("other-reading", BAR),
            Reading::Contaminated => ("other-reading", DOTTED_SQUARE),
            Reading::Unclear => ("other-reading", QUESTION),
            Reading::NotCounted => ("other-reading", CROSS),
        };
        Self { class, path, word: words::reading(reading) }
    }

    /// A recheck whose time has passed.
    pub(super) const OVERDUE: Self = Self { class: "overdue", path: CLOCK, word: "Overdue" };
    /// A recheck that is due.
    pub(super) const DUE: Self = Self { class: "due", path: OPEN_RING, word: "Due" };
    /// A recheck that a trial satisfied.
    pub(super) const DONE: Self = Self { class: "stands", path: TICK, word: "Done" };
    /// A recheck that nothing came of.
    pub(super) const LET_GO: Self = Self { class: "no-verdict", path: BAR, word: "Let go" };
}

impl fmt::Display for Mark {
    /// All three parts are constants of this program, so there is nothing to escape.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { class, path, word } = self;
        write!(
            f,
            "<span class=\"mark {class}\"><svg viewBox=\"0 0 16 16\" aria-hidden=\"true\"><path d=\"{path}\" \
             fill-rule=\"evenodd\"/></svg>{word}</span>"
        )
    }
}

impl HtmlSafe for Mark {}

#[cfg(test)]
mod tests {
    use std::collections::HashSet;

    use super::*;

    #[test]
    fn every_standing_and_outcome_has_a_shape_of_its_own() {
        let standings: HashSet<&str> =
            StandingCode::ALL.iter().map(|code| Mark::standing(*code).path).collect();
        assert_eq!(standings.len(), StandingCode::ALL.len());
        let outcomes: HashSet<&str> =
            Outcome::ALL.iter().map(|outcome| Mark::outcome(*outcome).path).collect();
        assert_eq!(outcomes.len(), Outcome::ALL.len());
        let readings: HashSet<&str> =
            Reading::ALL.iter().map(|reading| Mark::reading(*reading).path).collect();
        assert_eq!(readings.len(), Reading::ALL.len());
    }
}
