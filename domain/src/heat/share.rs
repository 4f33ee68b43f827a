//! The one unknown number about a machine and its sheet.

use super::surface::{surface_share, surface_share_inverse};
use super::{HeatError, REFERENCE_SPEED_M_PER_MIN, metres_per_minute};
use crate::quantity::Speed;

/// φ of one unit at the reference speed of 3.05 m/min, with the β it comes from.
///
/// Between 0.02 and 0.9; what occurs with roofing welders is [`HeatShare::LOWEST`] to [`HeatShare::HIGHEST`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HeatShare {
    pub(super) ratio: f64,
    pub(super) beta: f64,
}

impl HeatShare {
    /// The lowest φ that is considered.
    pub const LOWEST: f64 = 0.18;
    /// The φ of a unit that nothing is known about.
    pub const USUAL: f64 = 0.27;
    /// The highest φ that is considered.
    pub const HIGHEST: f64 = 0.40;
    /// Standard deviation of φ among units that nothing is known about; from the range that occurs, no source.
    pub const USUAL_SD: f64 = 0.04;

    /// The heat share with this φ.
    ///
    /// # Errors
    /// [`HeatError::ShareOutOfRange`] unless 0.02 ≤ φ ≤ 0.9.
    pub fn new(ratio: f64) -> Result<Self, HeatError> {
        if (0.02..=0.9).contains(&ratio) {
            Ok(Self { ratio, beta: surface_share_inverse(ratio) })
        } else {
            Err(HeatError::ShareOutOfRange)
        }
    }

    /// Shares with this mean and the standard deviation `sd` (a ratio, zero or above), each with its probability: the
    /// three nodes of Gauss–Hermite quadrature, as far as they are shares.
    ///
    /// ```
    /// use lapwatch_domain::heat::HeatShare;
    /// let shares = HeatShare::default().give_or_take(0.02);
    /// let mean: f64 = shares.iter().map(|(share, weight)| share.ratio() * weight).sum();
    /// let variance: f64 = shares.iter().map(|(share, weight)| (share.ratio() - mean).powi(2) * weight).sum();
    /// assert!((mean - 0.27).abs() < 1e-12 && (variance.sqrt() - 0.02).abs() < 1e-12);
    /// ```
    #[must_use]
    pub fn give_or_take(self, sd: f64) -> Vec<(Self, f64)> {
        let reach = 3.0_f64.sqrt() * sd;
        let nodes = [(-reach, 1.0 / 6.0), (0.0, 2.0 / 3.0), (reach, 1.0 / 6.0)];
        nodes
            .into_iter()
            .filter_map(|(away, weight)| Some((Self::new(self.ratio + away).ok()?, weight)))
            .collect()
    }

    /// φ at the reference speed.
    #[must_use]
    pub fn ratio(self) -> f64 {
        self.ratio
    }

    /// β at the reference speed.
    #[must_use]
    pub fn beta(self) -> f64 {
        self.beta
    }

    /// φ at another speed: β₂ = β₁·√(v₁/v₂).
    #[must_use]
    pub fn at(self, speed: Speed) -> f64 {
        self.at_speed_ratio(metres_per_minute(speed) / REFERENCE_SPEED_M_PER_MIN)
    }

    pub(crate) fn at_speed_ratio(self, speed_ratio: f64) -> f64 {
        if speed_ratio == 1.0 { self.ratio } else { surface_share(self.beta / speed_ratio.sqrt()) }
    }

    /// Kelvins that the set point moves per kelvin of sheet temperature, at this speed: −(1 − φ)/φ.
    #[must_use]
    pub fn per_sheet(self, speed: Speed) -> f64 {
        let share = self.at(speed);
        -(1.0 - share) / share
    }
}

impl Default for HeatShare {
    /// [`HeatShare::USUAL`].
    fn default() -> Self {
        Self { ratio: Self::USUAL, beta: surface_share_inverse(Self::USUAL) }
    }
}
