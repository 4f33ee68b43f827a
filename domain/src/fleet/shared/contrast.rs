//! What one unit says of something shared: its trials with it against its trials without.

use super::effect::INTERACTION_K;

/// A difference of means, K, and how precisely the unit's trials tell it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Contrast {
    /// The unit, by its place in the evidence.
    pub(super) unit: usize,
    pub(super) mean: f64,
    /// What its trials tell, K⁻².
    pub(super) information: f64,
}

/// A unit informs a shift when its contrast alone has at most this standard deviation (K): two edge-finding trials, or some
/// ten checks, on the smaller side.
const INFORMS_K: f64 = 40.0;

impl Contrast {
    /// From the weights and weighted sums of the trials with and of those without.
    pub(super) fn of(unit: usize, (with, sum_with): (f64, f64), (without, sum_without): (f64, f64)) -> Self {
        if with <= 0.0 || without <= 0.0 {
            return Self { unit, mean: 0.0, information: 0.0 };
        }
        Self {
            unit,
            mean: sum_with / with - sum_without / without,
            information: with * without / (with + without),
        }
    }

    /// Two contrasts of one unit, of different segments of its life.
    pub(super) fn and(self, other: Self) -> Self {
        let information = self.information + other.information;
        if information <= 0.0 {
            return self;
        }
        let mean = (self.mean * self.information + other.mean * other.information) / information;
        Self { unit: self.unit, mean, information }
    }

    pub(super) fn informs(&self) -> bool {
        self.information * INFORMS_K * INFORMS_K >= 1.0
    }

    /// What it tells of the shift at large, the unit answering in its own way.
    pub(super) fn precision(&self) -> f64 {
        if self.information > 0.0 {
            (self.information.recip() + INTERACTION_K * INTERACTION_K).recip()
        } else {
            0.0
        }
    }
}
