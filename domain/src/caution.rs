//! Short cautions that go with an answer.

use crate::coded::coded_enum;

coded_enum! {
    /// A short caution that goes with an answer.
    pub enum Caution {
        /// The two sheets do not weld to each other.
        IncompatibleSheets = "incompatible_sheets",
        /// Nothing is known of how the two sheets weld to each other.
        UnknownSheets = "unknown_sheets",
        /// The advice does not replace those who decide.
        AdviceOnly = "advice_only",
        /// Strips contradict each other.
        StripsDisagree = "strips_disagree",
        /// Hot air and nozzle burn.
        HotAir = "hot_air",
        /// Scorched sheet may smoulder.
        Smoulder = "smoulder",
        /// Overheated chlorinated sheet gives off hydrogen chloride.
        ChlorideFumes = "chloride_fumes",
        /// Overheated sheet gives off fumes.
        Fumes = "fumes",
        /// Wind cools the weld.
        Wind = "wind",
        /// An aged sheet needs preparation.
        AgedSheet = "aged_sheet",
        /// Generator: exhaust, ground-fault protection, voltage under load.
        Generator = "generator",
        /// Cords in the wet; ground-fault protection.
        Cords = "cords",
        /// Roof edges, walking backwards.
        RoofEdge = "roof_edge",
        /// Knives, and the recoil of a strip that lets go.
        CuttingAndPulling = "cutting_and_pulling",
        /// The set point lies at the unit's limit.
        AtUnitLimit = "at_unit_limit",
        /// The margin is small on both sides.
        SmallMargin = "small_margin",
    }
}

impl Caution {
    /// The caution in a few words.
    #[must_use]
    pub const fn text(self) -> &'static str {
        match self {
            Self::IncompatibleSheets => {
                "These two sheets do not weld to each other at any setting. Ask the membrane makers."
            }
            Self::UnknownSheets => {
                "Whether these two sheets weld to each other is not known here. Ask the makers."
            }
            Self::AdviceOnly => {
                "Advice only: the membrane maker, the specification, local codes and the qualified person on site decide."
            }
            Self::StripsDisagree => "Strips disagree: look at them again before you rely on this trial.",
            Self::HotAir => {
                "Air and nozzle are far above burning temperature. Gloves; never point the nozzle at anyone."
            }
            Self::Smoulder => {
                "Scorched sheet can go on smouldering. Keep an extinguisher at hand and a fire watch."
            }
            Self::ChlorideFumes => {
                "Overheated sheet gives off hydrogen chloride. Stay upwind; do not breathe the fumes."
            }
            Self::Fumes => "Overheated sheet gives off fumes. Stay upwind; do not breathe them.",
            Self::Wind => {
                "Wind cools the weld and is not in the calculation. Shield it, and check again when it changes."
            }
            Self::AgedSheet => {
                "Aged sheet: clean and prepare it as its maker says, and weld coupons on prepared sheet."
            }
            Self::Generator => {
                "Generator: keep the exhaust away from people and air intakes; measure the voltage under load."
            }
            Self::Cords => {
                "Use ground-fault protection; keep cords and connections dry, unrolled and undamaged."
            }
            Self::RoofEdge => {
                "Unprotected edges: do not walk backwards towards them; near one, somebody watches the edge, not the seam."
            }
            Self::CuttingAndPulling => "Cut away from yourself; a strip that lets go recoils.",
            Self::AtUnitLimit => "The set point is at the unit's limit: weld slower rather than hotter.",
            Self::SmallMargin => {
                "Small margin on both sides; another speed does not mend that. Check cleaning, dryness, nozzle, airflow, roller, supply and lot, then repeat."
            }
        }
    }
}
