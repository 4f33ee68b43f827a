//! Where to weld the next coupon, or why to stop.
//!
//! Among the allowed settings the one is taken that is expected to leave the least variance of both edges together,
//! `Σ over edges Σₖ P(k | T)·Var(μ | data, k strips beyond at T)`; the cooler one of equals. Safety comes first: at most
//! one step above the hottest coupon so far, never at or above the lowest that scorched, never above a ceiling. To
//! reach the ceiling without a hot strip is a good result, not one to be chased.

mod search;
#[cfg(test)]
mod tests;

pub(crate) use search::{Welded, next_coupon};

use crate::coded::coded_enum;
use crate::quantity::Temperature;

coded_enum! {
    /// Why the next coupon is welded where it is.
    pub enum WeldReason {
        /// Nothing has been welded yet.
        FirstCoupon = "first_coupon",
        /// It is expected to tell most about both edges together.
        MostInformative = "most_informative",
        /// The check of the set point lacks this step.
        CompletesCheck = "completes_check",
    }
}

coded_enum! {
    /// Why no further coupon is needed or allowed.
    pub enum StopReason {
        /// Both edges are known well enough.
        EdgesKnown = "edges_known",
        /// No allowed setting would tell enough to be worth a coupon.
        LittleToGain = "little_to_gain",
        /// The trial has as many coupons as it may have.
        EnoughCoupons = "enough_coupons",
        /// The limits on temperature leave no setting.
        NoAllowedSetting = "no_allowed_setting",
        /// The check has confirmed the set point.
        Confirmed = "confirmed",
        /// The sheets do not weld to each other.
        IncompatibleSheets = "incompatible_sheets",
    }
}

/// What to do next.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum NextCoupon {
    /// Weld a coupon.
    Weld {
        /// At this setting.
        temperature: Temperature,
        /// For this reason.
        reason: WeldReason,
    },
    /// Stop.
    Stop {
        /// For this reason.
        reason: StopReason,
    },
}

impl NextCoupon {
    /// `weld` or `stop`.
    #[must_use]
    pub const fn action_code(&self) -> &'static str {
        match self {
            Self::Weld { .. } => "weld",
            Self::Stop { .. } => "stop",
        }
    }

    /// The code of the reason.
    #[must_use]
    pub const fn reason_code(&self) -> &'static str {
        match self {
            Self::Weld { reason, .. } => reason.code(),
            Self::Stop { reason } => reason.code(),
        }
    }

    /// The setting to weld at, if one is to be welded.
    #[must_use]
    pub const fn temperature(&self) -> Option<Temperature> {
        match self {
            Self::Weld { temperature, .. } => Some(*temperature),
            Self::Stop { .. } => None,
        }
    }
}
