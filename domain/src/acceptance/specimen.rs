//! What was recorded of a specimen, and how it can be read.

use crate::coded::coded_enum;
use crate::quantity::{Length, Speed, Temperature};

/// A piece welded at one setting, and the strips cut from it.
#[derive(Debug, Clone, PartialEq)]
pub struct Coupon {
    /// The temperature the welder was set to.
    pub set_temperature: Temperature,
    /// The speed it was welded at; `None` for the trial's held speed.
    pub speed: Option<Speed>,
    /// The strips.
    pub specimens: Vec<Specimen>,
}

/// What was recorded of one strip. Everything is optional: a record from a roof has gaps, and a gap is never filled by
/// a guess.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Specimen {
    /// Measured width of the strip.
    pub width: Option<Length>,
    /// How it failed.
    pub mode: Option<Mode>,
    /// Whether whoever read it passed it.
    pub passed: Option<bool>,
    /// Width over which the sheets were bonded.
    pub bonded_width: Option<Length>,
    /// Signs of too much heat.
    pub scorching: Vec<Scorching>,
    /// Signs of an unclean interface.
    pub contamination: Vec<Contamination>,
    /// Direction of the cut relative to the seam.
    pub cut: Option<CutDirection>,
    /// What went wrong with the test itself.
    pub faults: Vec<Fault>,
}

coded_enum! {
    /// How a peeled strip failed.
    pub enum Mode {
        /// The film tore from the scrim, or the sheet tore, while the bond held.
        FilmTear = "film_tear",
        /// The two sheets came apart at the interface.
        InterfaceOpened = "interface_opened",
    }
}

coded_enum! {
    /// A sign of too much heat.
    pub enum Scorching {
        /// Black char at the interface.
        Char = "char",
        /// Browning at the interface.
        Browning = "browning",
        /// Smoke while welding.
        Smoke = "smoke",
        /// The sheet is thinned beside or in the weld.
        Thinning = "thinning",
        /// The sheet is stiff or brittle at the weld.
        Brittle = "brittle",
    }
}

impl Scorching {
    /// Whether the sign is decisive even when the interface opened. Char, browning and smoke are; a strip that is only
    /// thinned or brittle and yet opened is taken for what it did.
    #[must_use]
    pub const fn wins_over_opening(self) -> bool {
        matches!(self, Self::Char | Self::Browning | Self::Smoke)
    }
}

coded_enum! {
    /// A sign of an unclean interface.
    pub enum Contamination {
        /// Dirt or dust.
        Dirt = "dirt",
        /// Moisture.
        Moisture = "moisture",
        /// A weathered surface that was not prepared.
        AgedSheet = "aged_sheet",
    }
}

coded_enum! {
    /// Direction of a cut relative to the seam.
    pub enum CutDirection {
        /// Across the seam: the only valid peel specimen.
        Across = "across",
        /// Along the seam.
        Along = "along",
    }
}

coded_enum! {
    /// What went wrong with the test of a strip.
    pub enum Fault {
        /// Pulled before the weld had cooled.
        WarmPull = "warm_pull",
        /// Badly cut: nicked, tapered, from the start of the weld.
        CutFault = "cut_fault",
    }
}

coded_enum! {
    /// What a specimen showed.
    pub enum Reading {
        /// The interface opened: too cold.
        Cold = "cold",
        /// The film tore and the bond held over the required width.
        Sound = "sound",
        /// Scorched, thinned or brittle: too hot.
        Hot = "hot",
        /// The film tore, but the bond is narrower than required: nozzle, roller or tracking. Fails the coupon, does
        /// not enter an edge.
        Narrow = "narrow",
        /// Dirt, moisture or an aged surface at the interface. Fails the coupon, does not enter an edge.
        Contaminated = "contaminated",
        /// Cannot be read as recorded: asked back.
        Unclear = "unclear",
        /// Not a valid test.
        NotCounted = "not_counted",
    }
}

coded_enum! {
    /// Why a specimen was read as it was.
    pub enum Reason {
        /// The film tore while the bond held.
        FilmTore = "film_tore",
        /// The interface opened.
        InterfaceOpened = "interface_opened",
        /// Char at the interface.
        Char = "char",
        /// Browning at the interface.
        Browning = "browning",
        /// Smoke while welding.
        Smoke = "smoke",
        /// Thinned sheet.
        Thinning = "thinning",
        /// Brittle sheet.
        Brittle = "brittle",
        /// Bonded over less than the required width.
        BondTooNarrow = "bond_too_narrow",
        /// Dirt at the interface.
        Dirt = "dirt",
        /// Moisture at the interface.
        Moisture = "moisture",
        /// Aged surface at the interface.
        AgedSheet = "aged_sheet",
        /// Cut along the seam.
        CutAlongSeam = "cut_along_seam",
        /// Not of the required strip width.
        WrongStripWidth = "wrong_strip_width",
        /// Pulled while warm.
        WarmPull = "warm_pull",
        /// Badly cut.
        CutFault = "cut_fault",
        /// Welded at a speed too far from the held one to be compared.
        SpeedTooFar = "speed_too_far",
        /// Welded at another speed than the held one, and at one of the two the nozzle stays over the sheet too long
        /// for them to be compared.
        DwellTooLong = "dwell_too_long",
        /// Passed by whoever read it; the mode was not recorded.
        PassedWithoutMode = "passed_without_mode",
        /// Failed without a recorded mode, below every all-sound step.
        FailedBelowSound = "failed_below_sound",
        /// Failed without a recorded mode, above every all-sound step.
        FailedAboveSound = "failed_above_sound",
        /// Failed without a recorded mode, and its place among the steps does not tell which way.
        FailedWithoutMode = "failed_without_mode",
        /// Neither mode nor verdict was recorded.
        NothingRecorded = "nothing_recorded",
        /// Recorded as passed although the interface opened; the mode decides.
        PassedYetOpened = "passed_yet_opened",
        /// Recorded as failed although the film tore over the required width.
        FailedYetTore = "failed_yet_tore",
        /// The bonded width was not recorded.
        BondWidthNotRecorded = "bond_width_not_recorded",
        /// Contradicts the strips of other steps; please look again.
        Disagrees = "disagrees",
    }
}

impl Reason {
    /// The reason as one plain sentence for the person who read the strip.
    #[must_use]
    pub const fn sentence(self) -> &'static str {
        match self {
            Self::FilmTore => "The film tore and the bond held.",
            Self::InterfaceOpened => "The sheets came apart at the interface.",
            Self::Char => "There was char at the interface.",
            Self::Browning => "There was browning at the interface.",
            Self::Smoke => "It smoked while welding.",
            Self::Thinning => "The sheet was thinned.",
            Self::Brittle => "The sheet had become brittle.",
            Self::BondTooNarrow => "The bond is narrower than required: check nozzle, roller and tracking.",
            Self::Dirt => "There was dirt at the interface: clean and repeat.",
            Self::Moisture => "There was moisture at the interface: dry and repeat.",
            Self::AgedSheet => "The surface was aged: prepare it and repeat.",
            Self::CutAlongSeam => "Not counted: cut along the seam, not across it.",
            Self::WrongStripWidth => "Not counted: the strip does not have the required width.",
            Self::WarmPull => "Not counted: pulled before the weld had cooled.",
            Self::CutFault => "Not counted: badly cut.",
            Self::SpeedTooFar => {
                "Not counted: welded more than three times as fast or slow as the held speed; check number and unit."
            }
            Self::DwellTooLong => {
                "Not counted: so slow, as in hand welding, that it cannot be compared with another speed."
            }
            Self::PassedWithoutMode => "Recorded as passed; the mode was not recorded.",
            Self::FailedBelowSound => {
                "Failed without a recorded mode; taken as cold, because it lies below every all-sound step."
            }
            Self::FailedAboveSound => {
                "Failed without a recorded mode; taken as hot, because it lies above every all-sound step."
            }
            Self::FailedWithoutMode => {
                "Failed: please say whether the interface opened or the sheet was scorched."
            }
            Self::NothingRecorded => "Please say how this strip failed.",
            Self::PassedYetOpened => "Recorded as passed although the interface opened; the mode decides.",
            Self::FailedYetTore => {
                "Recorded as failed although the film tore over the required width: please say what was wrong."
            }
            Self::BondWidthNotRecorded => "The bonded width was not recorded.",
            Self::Disagrees => "This strip contradicts other steps: please look at it again.",
        }
    }
}
