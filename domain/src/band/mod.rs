//! The band in which few strips fail, and the set point inside it.
//!
//! The predicted share of cold strips at `T` is `E[Φ((μL − T)/σ)]` over the posterior of the lower edge, that of hot
//! strips `E[Φ((T − μU)/σ)]` over that of the upper edge. The band is where both are at most the limit (10 % by default),
//! never beyond the steps tried. The set point has the least weighted sum of both shares, and some limits that no
//! calculation overrides:
//!
//! - it lies between the coolest and the hottest step of the trial at which every strip was sound;
//! - on a side where no strip has failed yet it keeps a reserve from the last of those steps;
//! - it is never above the unit's, the maker's or the organization's highest temperature;
//! - all of this still holds after rounding to what the unit can display.

mod choose;
mod find;
mod shares;
#[cfg(test)]
mod tests;

pub(crate) use choose::{Display, Limits, recommend};
pub(crate) use find::{band, between, ceiling};
pub(crate) use shares::Shares;

use crate::coded::coded_enum;
use crate::quantity::{Percent, Temperature, TemperatureDifference};

coded_enum! {
    /// What ends a band or holds a set point.
    pub enum Limit {
        /// The predicted share of cold strips.
        ColdShare = "cold_share",
        /// The predicted share of hot strips.
        HotShare = "hot_share",
        /// The coolest step tried: nothing is known below it.
        CoolestStep = "coolest_step",
        /// The hottest step tried: nothing is known above it.
        HottestStep = "hottest_step",
        /// The coolest step at which every strip was sound.
        CoolestSound = "coolest_sound",
        /// The hottest step at which every strip was sound.
        HottestSound = "hottest_sound",
        /// The reserve kept because no strip has been cold yet.
        LowerReserve = "lower_reserve",
        /// The reserve kept because no strip has been hot yet.
        UpperReserve = "upper_reserve",
        /// The membrane maker's ceiling.
        MakerCeiling = "maker_ceiling",
        /// The organization's ceiling.
        OrganizationCeiling = "organization_ceiling",
        /// The highest temperature the unit can be set to.
        UnitMaximum = "unit_maximum",
    }
}

/// The temperatures at which the predicted share of cold strips and that of hot strips are each at most the limit,
/// never reaching beyond the steps tried.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Band {
    /// Its cool end.
    pub low: Temperature,
    /// Its hot end.
    pub high: Temperature,
    /// The largest share of cold strips, and of hot strips, inside it.
    pub share_limit: Percent,
    /// What ends it below.
    pub low_limited_by: Limit,
    /// What ends it above.
    pub high_limited_by: Limit,
}

impl Band {
    /// From its cool to its hot end.
    #[must_use]
    pub fn width(&self) -> TemperatureDifference {
        self.high - self.low
    }
}

coded_enum! {
    /// Where the temperature to set comes from.
    pub enum SetPointBasis {
        /// Computed from this trial.
        Computed = "computed",
        /// The set point in use, which this trial has confirmed.
        Confirmed = "confirmed",
    }
}

/// The recommended temperature at the held speed.
#[derive(Debug, Clone, PartialEq)]
pub struct SetPoint {
    /// The temperature with the least weighted sum of shares inside the limits, before rounding.
    pub computed: Temperature,
    /// The temperature to set: a whole number of display steps, still inside the limits.
    pub to_set: Temperature,
    /// Where `to_set` comes from.
    pub basis: SetPointBasis,
    /// From the cool end of the band up to `to_set`; negative outside the band, absent without a band.
    pub margin_below: Option<TemperatureDifference>,
    /// From `to_set` up to the hot end of the band; negative outside the band, absent without a band.
    pub margin_above: Option<TemperatureDifference>,
    /// Predicted share of cold strips at `to_set`, 0 to 1.
    pub cold_share: f64,
    /// Predicted share of hot strips at `to_set`, 0 to 1.
    pub hot_share: f64,
    /// The limits that hold the computed value where it is; empty when none does.
    pub limited_by: Vec<Limit>,
}

coded_enum! {
    /// Why there is no set point.
    pub enum NoSetPoint {
        /// No step was sound throughout.
        NothingSound = "nothing_sound",
        /// The sheets do not weld to each other.
        IncompatibleSheets = "incompatible_sheets",
        /// Every step that was sound throughout lies above a ceiling.
        CeilingBelowSound = "ceiling_below_sound",
        /// Between the sound steps there is no temperature at which both shares are small enough.
        NoBand = "no_band",
        /// Fewer than two coupons, or fewer strips than one coupon needs.
        TooLittle = "too_little",
    }
}
