//! What strips that are all sound show, and what they don't.

use std::fmt;

use super::Counts;
use crate::numerics::binomial::at_least;

/// The level of confidence of [`shown_by_sound`], one-sided.
pub const SHOWN_LEVEL: f64 = 0.95;

/// What a number of strips, all of them sound, shows. Displayed it is one plain sentence.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ShownBySound {
    /// How many strips were sound, out of as many.
    pub strips: usize,
    /// Least share of sound strips among all such strips that this shows at the level [`SHOWN_LEVEL`], one-sided, if
    /// strips were independent of each other: .05^(1/n), 0 to 1.
    pub least_share: f64,
}

/// What the strips of a step show if all of them were sound; `None` when they were not, or none was read.
///
/// The lower limit of Clopper and Pearson ([`at_least`]). It takes strips as independent. Strips of one coupon are
/// alike, so they show less than that; strips of more coupons come nearer to it.
///
/// ```
/// use lapwatch_domain::acceptance::{Counts, shown_by_sound};
/// let three = shown_by_sound(Counts { sound: 3, ..Counts::default() }).unwrap();
/// assert!((three.least_share - 0.3684).abs() < 5e-5);
/// assert_eq!(
///     three.to_string(),
///     "3 of 3 sound shows only that at least about 37 % of such strips hold (one-sided 95 %, if strips were \
///      independent), not that all do; more coupons say more than more strips on one coupon."
/// );
/// assert_eq!(shown_by_sound(Counts { sound: 3, cold: 1, ..Counts::default() }), None);
/// ```
#[must_use]
pub fn shown_by_sound(counts: Counts) -> Option<ShownBySound> {
    if !counts.all_sound() {
        return None;
    }
    let least_share = at_least(counts.sound, counts.sound, SHOWN_LEVEL).ok()?;
    Some(ShownBySound { strips: counts.sound, least_share })
}

impl fmt::Display for ShownBySound {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        // Down to a tenth near 100 %, so that a large number of strips never reads as certainty.
        let percent = 100.0 * self.least_share;
        let percent = if percent < 99.0 { percent.round() } else { (percent * 10.0).floor() / 10.0 };
        write!(
            f,
            "{n} of {n} sound shows only that at least about {percent} % of such strips hold (one-sided {level} %, if \
             strips were independent), not that all do; more coupons say more than more strips on one coupon.",
            n = self.strips,
            level = 100.0 * SHOWN_LEVEL,
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sound(strips: usize) -> ShownBySound {
        shown_by_sound(Counts { sound: strips, ..Counts::default() }).unwrap()
    }

    /// .05^(1/n): 36.8 % for 3 of 3, 60.7 % for 6 of 6.
    #[test]
    fn three_and_six_strips() {
        assert!((100.0 * sound(3).least_share - 36.8).abs() < 0.051);
        assert!((100.0 * sound(6).least_share - 60.7).abs() < 0.051);
        assert!(sound(6).to_string().starts_with("6 of 6 sound shows only that at least about 61 %"));
    }

    #[test]
    fn more_strips_show_more_but_never_certainty() {
        let mut before = 0.0;
        for strips in [1, 2, 3, 6, 12, 60, 298, 299, 1000, 1_000_000] {
            let shown = sound(strips);
            assert!(shown.least_share > before && shown.least_share < 1.0);
            assert!(!shown.to_string().contains("100 %"), "{shown}");
            before = shown.least_share;
        }
        assert!(sound(1000).to_string().contains("about 99.7 %"));
    }

    #[test]
    fn nothing_is_shown_unless_all_are_sound() {
        let three = Counts { sound: 3, ..Counts::default() };
        assert!(shown_by_sound(Counts { not_counted: 1, ..three }).is_some());
        for counts in [
            Counts::default(),
            Counts { cold: 1, ..three },
            Counts { hot: 1, ..three },
            Counts { narrow: 1, ..three },
            Counts { contaminated: 1, ..three },
            Counts { unclear: 1, ..three },
        ] {
            assert_eq!(shown_by_sound(counts), None);
        }
    }
}
