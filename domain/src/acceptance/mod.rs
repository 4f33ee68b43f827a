//! From peeled strips to readings: what each specimen of a trial showed, and how far the trial can be trusted.
//!
//! A specimen is a strip cut across the seam and peeled. The *mode* of its failure decides: the film tears while the
//! bond holds (good), or the interface opens (too cold). Scorching seen at the interface wins over either. Some strips
//! fail for reasons that have nothing to do with temperature (a narrow bond, dirt) and some say nothing at all (cut
//! along the seam, pulled while warm); neither enters an edge.
//!
//! [`judge`] reads all specimens of a trial at once, because a failure whose mode was not recorded can only be read
//! from its place among the other steps, and because contradictions show only between steps.

mod criteria;
mod grade;
mod judge;
mod shown;
mod specimen;
#[cfg(test)]
mod tests;

pub use criteria::Criteria;
pub use grade::{EvidenceGrade, GradeReason};
pub use judge::judge;
pub(crate) use judge::{Placed, judge_placed};
pub use shown::{SHOWN_LEVEL, ShownBySound, shown_by_sound};
pub use specimen::{Contamination, Coupon, CutDirection, Fault, Mode, Reading, Reason, Scorching, Specimen};

use crate::quantity::Temperature;

/// Two settings closer than this are one step: a tenth of a kelvin, far below any display step and far above the
/// rounding of a conversion from °F.
pub(crate) const SAME_STEP_KELVIN: f64 = 0.1;

/// Whether two settings are the same step.
pub(crate) fn same_step(a: Temperature, b: Temperature) -> bool {
    (a - b).abs().kelvin() < SAME_STEP_KELVIN
}

/// What the specimens of a trial showed.
#[derive(Debug, Clone, PartialEq)]
pub struct JudgedTrial {
    /// The coupons in the order they were given.
    pub coupons: Vec<JudgedCoupon>,
    /// The settings tried, at the held speed, from cold to hot, coupons of one setting taken together.
    pub steps: Vec<Step>,
    /// Whether strips contradict each other: a cold one at or above an all-sound step, a hot one at or below one, or a
    /// cold one above a hot one.
    pub strips_disagree: bool,
    /// How far the trial can be trusted.
    pub grade: EvidenceGrade,
    /// Why the grade is not better; empty when it is full.
    pub grade_reasons: Vec<GradeReason>,
}

impl JudgedTrial {
    /// The coolest and the hottest step at which every strip was sound, if there is any.
    #[must_use]
    pub fn all_sound_range(&self) -> Option<(Temperature, Temperature)> {
        let mut sound = self.steps.iter().filter(|step| step.counts.all_sound()).map(|step| step.temperature);
        let coolest = sound.next()?;
        Some((coolest, sound.next_back().unwrap_or(coolest)))
    }

    /// Whether every coupon was welded at the held speed.
    #[must_use]
    pub fn is_of_one_speed(&self) -> bool {
        self.coupons.iter().all(|coupon| coupon.at_held_speed == coupon.set_temperature)
    }

    /// The sum of the counts of all steps.
    #[must_use]
    pub fn totals(&self) -> Counts {
        self.steps.iter().fold(Counts::default(), |sum, step| sum.plus(step.counts))
    }

    /// The judged step at this setting, if one was tried.
    #[must_use]
    pub fn step_at(&self, temperature: Temperature) -> Option<&Step> {
        self.steps.iter().find(|step| same_step(step.temperature, temperature))
    }
}

/// A coupon and what its specimens showed.
#[derive(Debug, Clone, PartialEq)]
pub struct JudgedCoupon {
    /// The setting it was welded at.
    pub set_temperature: Temperature,
    /// The setting at the trial's held speed that heats the sheet as this coupon was heated: the same as
    /// `set_temperature` unless it was welded at another speed. Steps, edges, band and set point are such temperatures.
    pub at_held_speed: Temperature,
    /// Why it could not be compared with the held speed, if it could not. Its strips are then not counted, and
    /// `at_held_speed` is only as near as the calculation comes.
    pub set_aside: Option<Reason>,
    /// Its specimens in the order they were given.
    pub specimens: Vec<JudgedSpecimen>,
    /// How many specimens gave which reading.
    pub counts: Counts,
}

/// The reading of one specimen, with reasons.
#[derive(Debug, Clone, PartialEq)]
pub struct JudgedSpecimen {
    /// What it showed.
    pub reading: Reading,
    /// Why it was read so; the first reason is the deciding one.
    pub reasons: Vec<Reason>,
}

/// A setting and what the specimens of all its coupons showed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Step {
    /// The setting.
    pub temperature: Temperature,
    /// How many coupons were welded there.
    pub coupons: usize,
    /// How many specimens gave which reading.
    pub counts: Counts,
}

/// How many specimens gave which reading.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Hash)]
pub struct Counts {
    /// The interface opened: too cold.
    pub cold: usize,
    /// Sound.
    pub sound: usize,
    /// Scorched: too hot.
    pub hot: usize,
    /// Bonded over less than the required width.
    pub narrow: usize,
    /// Dirt, moisture or an aged surface at the interface.
    pub contaminated: usize,
    /// Asked back.
    pub unclear: usize,
    /// Not a valid test.
    pub not_counted: usize,
}

impl Counts {
    /// Specimens that say something about temperature: cold, sound and hot ones.
    #[must_use]
    pub const fn counted(self) -> usize {
        self.cold + self.sound + self.hot
    }

    /// Specimens that say nothing about temperature.
    #[must_use]
    pub const fn other(self) -> usize {
        self.narrow + self.contaminated + self.unclear + self.not_counted
    }

    /// Whether at least one specimen was sound and none failed or was left unclear. Specimens that were no valid test
    /// do not count against it.
    #[must_use]
    pub const fn all_sound(self) -> bool {
        self.sound > 0
            && self.cold == 0
            && self.hot == 0
            && self.narrow == 0
            && self.contaminated == 0
            && self.unclear == 0
    }

    /// Counts one more specimen.
    pub(crate) const fn add(&mut self, reading: Reading) {
        let counter = match reading {
            Reading::Cold => &mut self.cold,
            Reading::Sound => &mut self.sound,
            Reading::Hot => &mut self.hot,
            Reading::Narrow => &mut self.narrow,
            Reading::Contaminated => &mut self.contaminated,
            Reading::Unclear => &mut self.unclear,
            Reading::NotCounted => &mut self.not_counted,
        };
        *counter += 1;
    }

    /// The sum of two counts.
    #[must_use]
    pub(crate) const fn plus(self, other: Self) -> Self {
        Self {
            cold: self.cold + other.cold,
            sound: self.sound + other.sound,
            hot: self.hot + other.hot,
            narrow: self.narrow + other.narrow,
            contaminated: self.contaminated + other.contaminated,
            unclear: self.unclear + other.unclear,
            not_counted: self.not_counted + other.not_counted,
        }
    }
}
