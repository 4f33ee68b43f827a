//! What an organization requires of a specimen.

use crate::membrane::WeldMethod;
use crate::quantity::Length;

/// What an organization requires of a specimen. Project specifications differ; every number is configurable.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Criteria {
    /// Least bonded width of an automatic weld. Default 38 mm (1.5 in; common practice, no source).
    pub bond_width_automatic: Length,
    /// Least bonded width of a hand weld. Default 50 mm (2 in; common practice, no source).
    pub bond_width_hand: Length,
    /// Nominal width of a specimen. Default 25.4 mm (1 in).
    pub strip_width: Length,
    /// How far a specimen's width may differ from the nominal one before it is not counted. Default 3 mm.
    pub strip_width_tolerance: Length,
    /// Least number of counted specimens on a coupon. Default 3 (common practice, no source).
    pub minimum_strips: usize,
    /// Least number of coupons in a trial of full grade. Default 3: below, at and above.
    pub minimum_coupons: usize,
}

impl Default for Criteria {
    fn default() -> Self {
        Self {
            bond_width_automatic: Length::millimetres(38.0),
            bond_width_hand: Length::millimetres(50.0),
            strip_width: Length::millimetres(25.4),
            strip_width_tolerance: Length::millimetres(3.0),
            minimum_strips: 3,
            minimum_coupons: 3,
        }
    }
}

impl Criteria {
    /// The least bonded width for this way of welding.
    #[must_use]
    pub const fn bond_width(&self, method: WeldMethod) -> Length {
        match method {
            WeldMethod::Automatic => self.bond_width_automatic,
            WeldMethod::Hand => self.bond_width_hand,
        }
    }
}
