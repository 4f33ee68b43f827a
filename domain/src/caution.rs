//! Short cautions that go with an answer.

use crate::coded::coded_enum;
use crate::membrane::{Compatibility, MaterialClass, SheetCondition, SupplySource, compatible};
use crate::quantity::{Quantity, WindSpeedUnit};
use crate::trial::{Evaluation, TrialInput};
use crate::weather::Dryness;

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
        /// The sheet is close to the dew point.
        NearDewPoint = "near_dew_point",
        /// An aged sheet needs preparation.
        AgedSheet = "aged_sheet",
        /// Generator: exhaust, ground-fault protection, voltage under load.
        Generator = "generator",
        /// The voltage is far above the rated one.
        Overvoltage = "overvoltage",
        /// Cords in the wet; ground-fault protection.
        Cords = "cords",
        /// Roof edges, walking backwards.
        RoofEdge = "roof_edge",
        /// Knives, and the recoil of a strip that lets go.
        CuttingAndPulling = "cutting_and_pulling",
        /// The set point lies at the unit's limit.
        AtUnitLimit = "at_unit_limit",
        /// On this supply the set point is close to what the heater can reach.
        SupplySag = "supply_sag",
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
            Self::NearDewPoint => {
                "The sheet is close to the dew point: it may be damp without looking so. Dry it or wait, and \
                 test again; the membrane maker's rules on damp sheet come first."
            }
            Self::AgedSheet => {
                "Aged sheet: clean and prepare it as its maker says, and weld coupons on prepared sheet."
            }
            Self::Generator => {
                "Generator: keep the exhaust away from people and air intakes; measure the voltage under load."
            }
            Self::Overvoltage => {
                "The voltage lies far above the unit's rated one: switch off, and have the supply checked before anybody goes on."
            }
            Self::Cords => {
                "Use ground-fault protection; keep cords and connections dry, unrolled and undamaged."
            }
            Self::RoofEdge => {
                "Unprotected edges: do not walk backwards towards them; near one, somebody watches the edge, not the seam."
            }
            Self::CuttingAndPulling => "Cut away from yourself; a strip that lets go recoils.",
            Self::AtUnitLimit => "The set point is at the unit's limit: weld slower rather than hotter.",
            Self::SupplySag => {
                "On this supply the set point is close to what the heater can reach. Check the voltage under \
                 load at the machine; a shorter or thicker cord helps, as local codes allow."
            }
            Self::SmallMargin => {
                "Small margin on both sides; another speed does not mend that. Check cleaning, dryness, nozzle, airflow, roller, supply and lot, then repeat."
            }
        }
    }
}

/// The cautions that go with an evaluation, the most urgent first, each once.
pub(crate) fn cautions(input: &TrialInput, evaluation: &Evaluation) -> Vec<Caution> {
    let (upper, lower) = (input.upper_sheet, input.lower_sheet);
    let together = compatible(upper.class, lower.class);
    let chlorinated =
        [upper, lower].iter().any(|sheet| matches!(sheet.class, MaterialClass::Pvc | MaterialClass::Kee));
    let welds = evaluation.next_coupon.temperature().is_some() || evaluation.set_point.is_ok();
    let scorched = evaluation.judged.totals().hot > 0
        || input
            .coupons
            .iter()
            .flat_map(|coupon| &coupon.specimens)
            .any(|specimen| !specimen.scorching.is_empty());
    let overheats = scorched || evaluation.next_coupon.temperature().is_some();
    let windy = input.wind.is_some_and(|wind| {
        wind.value_in(WindSpeedUnit::MetrePerSecond)
            >= input.policy.wind_caution.value_in(WindSpeedUnit::MetrePerSecond)
    });
    let aged = [upper, lower].iter().any(|sheet| sheet.condition == SheetCondition::Aged);
    let overvoltage = input.surroundings.at_machine().is_some_and(|at_machine| at_machine.is_overvoltage());
    let chosen = [
        (overvoltage, Caution::Overvoltage),
        (together == Compatibility::NotWeldable, Caution::IncompatibleSheets),
        (together == Compatibility::Unknown, Caution::UnknownSheets),
        (evaluation.judged.strips_disagree, Caution::StripsDisagree),
        (at_unit_limit(input, evaluation), Caution::AtUnitLimit),
        (supply_sag(input, evaluation), Caution::SupplySag),
        (small_margin(input, evaluation), Caution::SmallMargin),
        (scorched, Caution::Smoulder),
        (overheats && chlorinated, Caution::ChlorideFumes),
        (overheats && !chlorinated, Caution::Fumes),
        (near_dew_point(input), Caution::NearDewPoint),
        (windy, Caution::Wind),
        (aged, Caution::AgedSheet),
        (input.supply == Some(SupplySource::Generator), Caution::Generator),
        (input.supply.is_some(), Caution::Cords),
        (welds, Caution::HotAir),
        (evaluation.next_coupon.temperature().is_some(), Caution::CuttingAndPulling),
        (welds, Caution::RoofEdge),
        (true, Caution::AdviceOnly),
    ];
    chosen.into_iter().filter(|(applies, _)| *applies).map(|(_, caution)| caution).collect()
}

/// Whether the set point lies within one display step of the unit's highest setting.
fn at_unit_limit(input: &TrialInput, evaluation: &Evaluation) -> bool {
    let set = evaluation.set_point.as_ref().map(|point| point.to_set);
    set.is_ok_and(|set| input.unit_maximum - set <= input.display_step)
}

/// Whether the supply has sagged so far that the set point lies close to what the heater can still reach. Without a
/// sag that is no matter of the supply.
fn supply_sag(input: &TrialInput, evaluation: &Evaluation) -> bool {
    let surroundings = &input.surroundings;
    let sags = surroundings.at_machine().is_some_and(|at_machine| at_machine.power_share < 1.0);
    let short = evaluation.set_point.as_ref().is_ok_and(|point| {
        surroundings
            .headroom(input.unit_maximum, point.to_set, input.policy.least_heater_reserve)
            .is_some_and(|headroom| headroom.is_short)
    });
    sags && short
}

/// Whether the sheet lies closer to the dew point than the organization wants, or below.
fn near_dew_point(input: &TrialInput) -> bool {
    let found = input.surroundings.condensation(input.policy.least_above_dew_point);
    found.is_some_and(|found| found.verdict != Dryness::Dry)
}

/// Whether both margins are smaller than the organization wants.
fn small_margin(input: &TrialInput, evaluation: &Evaluation) -> bool {
    evaluation.set_point.as_ref().is_ok_and(|point| {
        let small = |margin| matches!(margin, Some(margin) if margin < input.policy.least_margin);
        small(point.margin_below) && small(point.margin_above)
    })
}
