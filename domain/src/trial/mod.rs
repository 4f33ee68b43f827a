//! One trial in, the whole answer out.
//!
//! [`evaluate`] takes what was welded and under which limits, and gives readings, edges, band, set point, the next
//! coupon, the outcome, cautions and an explanation in plain sentences.
//!
//! A trial holds one speed and steps the temperature, or holds the temperature and steps the speed, or both: every
//! coupon is brought to the held speed first ([`crate::heat::equivalent`]), and everything else happens there.

mod check;
mod evaluate;
mod explain;
mod next;
mod outcome;
mod speeds;
mod surroundings;
#[cfg(test)]
mod tests;

pub use check::{Implausible, ImplausibleKind, Place};
pub use evaluate::evaluate;
pub(crate) use evaluate::{limits, weldable};
pub(crate) use explain::next_coupon as next_sentence;
pub(crate) use next::{check_step, display, welded};
pub(crate) use speeds::next_speed;
pub use speeds::{BroughtSpeeds, FURTHEST_SPEED_RATIO, SpeedBand};
pub use surroundings::Surroundings;

use crate::acceptance::{Coupon, Criteria, JudgedTrial};
use crate::band::{Band, NoSetPoint, SetPoint};
use crate::caution::Caution;
use crate::coded::coded_enum;
use crate::edges::TrialEvidence;
use crate::heat::Dwell;
use crate::membrane::{Sheet, SupplySource, WeldMethod};
use crate::plan::NextCoupon;
use crate::policy::{Ceilings, Policy};
use crate::quantity::{Speed, SpeedUnit, Temperature, TemperatureDifference, TemperatureUnit, WindSpeed};

coded_enum! {
    /// What a trial is for.
    pub enum Purpose {
        /// The first trial of a unit or a new membrane.
        Commissioning = "commissioning",
        /// Find both edges.
        Sweep = "sweep",
        /// Below, at and above the set point.
        Confirmation = "confirmation",
        /// A scheduled or requested repeat.
        Recheck = "recheck",
    }
}

impl Purpose {
    /// Whether a trial of this purpose looks for the edges.
    #[must_use]
    pub const fn finds_edges(self) -> bool {
        matches!(self, Self::Sweep | Self::Commissioning | Self::Recheck)
    }
}

coded_enum! {
    /// What came of a trial.
    pub enum Outcome {
        /// There is a sound set point, or the one in use is confirmed.
        Stands = "stands",
        /// The set point in use is sound, a neighbouring step is not.
        MarginLost = "margin_lost",
        /// No sound set point, or the one in use is not sound.
        Failed = "failed",
        /// Too little was recorded to say.
        NoVerdict = "no_verdict",
    }
}

/// A trial and all that bears on its evaluation.
#[derive(Debug, Clone, PartialEq)]
pub struct TrialInput {
    /// What it is for.
    pub purpose: Purpose,
    /// How the tool is moved.
    pub method: WeldMethod,
    /// The highest temperature the unit can be set to.
    pub unit_maximum: Temperature,
    /// The step of the unit's display, on the scale `temperature_unit`.
    pub display_step: TemperatureDifference,
    /// The scale on which the crew works: sentences and roundings speak it.
    pub temperature_unit: TemperatureUnit,
    /// Temperatures never to be exceeded.
    pub ceilings: Ceilings,
    /// What the unit was set to before the trial; for a confirmation the step that is being confirmed.
    pub set_point_before: Option<Temperature>,
    /// The upper sheet.
    pub upper_sheet: Sheet,
    /// The lower sheet.
    pub lower_sheet: Sheet,
    /// What is required of a specimen.
    pub criteria: Criteria,
    /// What the organization has decided about advice.
    pub policy: Policy,
    /// What was welded.
    pub coupons: Vec<Coupon>,
    /// Where the electricity came from.
    pub supply: Option<SupplySource>,
    /// Wind on the roof.
    pub wind: Option<WindSpeed>,
    /// The held speed. Coupons of other speeds are brought to it, and every temperature of the answer is one at this
    /// speed.
    pub speed: Speed,
    /// The unit in which the crew reads speeds.
    pub speed_unit: SpeedUnit,
    /// Heated length and sheet thickness, if known: they say whether coupons of different speeds can be compared.
    pub dwell: Option<Dwell>,
    /// What else was measured around the trial; for cautions, and the sheet's temperature for comparing speeds.
    pub surroundings: Surroundings,
}

/// The answer to a trial.
#[derive(Debug, Clone, PartialEq)]
pub struct Evaluation {
    /// Readings, counts, steps and grade.
    pub judged: JudgedTrial,
    /// Both edges, from this trial alone.
    pub evidence: TrialEvidence,
    /// Whether the trial found an edge.
    pub is_edge_finding: bool,
    /// The band, if there is one.
    pub band: Option<Band>,
    /// The set point, or why there is none.
    pub set_point: Result<SetPoint, NoSetPoint>,
    /// How coupons of other speeds were brought to the held one; `None` when there are none.
    pub speeds: Option<BroughtSpeeds>,
    /// Where the trial held one temperature and stepped the speed: which speeds lie in the band at that temperature.
    pub held_temperature: Option<SpeedBand>,
    /// What to weld next, or why to stop.
    pub next_coupon: NextCoupon,
    /// At which speed to weld it, for a trial that holds the temperature and steps the speed.
    pub next_speed: Option<Speed>,
    /// What came of the trial.
    pub outcome: Outcome,
    /// The outcome in one plain sentence.
    pub outcome_sentence: String,
    /// Why to weld next or stop, in one plain sentence.
    pub next_sentence: String,
    /// Cautions, the most urgent first.
    pub cautions: Vec<Caution>,
    /// The whole answer in plain sentences.
    pub explanation: Vec<String>,
}
