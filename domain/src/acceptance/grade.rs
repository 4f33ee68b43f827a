//! How far a trial can be trusted.

use crate::coded::coded_enum;

coded_enum! {
    /// How far a trial can be trusted.
    pub enum EvidenceGrade {
        /// Nothing to object to.
        Full = "full",
        /// Usable, with the reservations named.
        Limited = "limited",
        /// Too little or too contradictory to build on.
        Poor = "poor",
    }
}

coded_enum! {
    /// Why a trial is not of full grade.
    pub enum GradeReason {
        /// Strips contradict each other.
        StripsDisagree = "strips_disagree",
        /// A coupon has fewer counted strips than required.
        FewStrips = "few_strips",
        /// Fewer coupons than required.
        FewCoupons = "few_coupons",
        /// A strip could not be read and is asked back.
        StripsUnclear = "strips_unclear",
        /// The mode of a failure was taken from its place among the steps.
        ModeAssumed = "mode_assumed",
        /// The bonded width of a strip counted as sound was not recorded.
        BondWidthNotRecorded = "bond_width_not_recorded",
        /// Strips failed for reasons other than temperature.
        OtherFailures = "other_failures",
        /// No strip was sound.
        NothingSound = "nothing_sound",
        /// No strip says anything about temperature.
        NothingCounted = "nothing_counted",
    }
}

impl GradeReason {
    /// The best grade that a trial with this reservation can have.
    #[must_use]
    pub const fn grade(self) -> EvidenceGrade {
        match self {
            Self::NothingSound | Self::NothingCounted => EvidenceGrade::Poor,
            _ => EvidenceGrade::Limited,
        }
    }

    /// The reason as one plain sentence.
    #[must_use]
    pub const fn sentence(self) -> &'static str {
        match self {
            Self::StripsDisagree => {
                "Strips disagree: look at the marked strips again, or weld those steps again."
            }
            Self::FewStrips => "A coupon has fewer counted strips than required.",
            Self::FewCoupons => "The trial has fewer coupons than required.",
            Self::StripsUnclear => "At least one strip cannot be read as recorded; please complete it.",
            Self::ModeAssumed => "The mode of a failed strip was not recorded and was taken from its place.",
            Self::BondWidthNotRecorded => "The bonded width of a sound strip was not recorded.",
            Self::OtherFailures => "Strips failed for reasons other than temperature.",
            Self::NothingSound => "No strip was sound.",
            Self::NothingCounted => "No strip says anything about temperature.",
        }
    }
}
