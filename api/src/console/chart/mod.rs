//! Charts as inline SVG. Rust works out where everything goes, templates write it down, the stylesheet colours it, so that
//! one drawing serves light, dark and paper.

pub(super) mod history;
mod scale;
pub(super) mod trial;

use std::fmt;

use askama::filters::HtmlSafe;

pub(super) use scale::Linear;

/// A coordinate or length in a drawing, to a tenth of its unit.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub(super) struct Px(pub(super) f64);

impl fmt::Display for Px {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        // Whole numbers without a point: a chart of a year has thousands of them.
        let tenths = (self.0 * 10.0).round() / 10.0;
        write!(f, "{}", tenths + 0.0)
    }
}

impl HtmlSafe for Px {}

/// Roughly how wide a text is at the charts' 13 units font size; the truth depends on the reader's font.
fn text_width(text: &str) -> f64 {
    #[expect(clippy::cast_precision_loss, reason = "labels are short")]
    let characters = text.chars().count() as f64;
    characters * 6.9
}
