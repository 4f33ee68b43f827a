//! Advice from a trial *and* its unit's history, carried to today's conditions.
//!
//! A confirmation check welds three coupons and mostly finds every strip sound. Alone it can say little of the edges; the unit's
//! history knows them. Here the two are put together: what the history lets expect today ([`Forecast`]) is the prior of both
//! edges, today's strips are the evidence, and edges, band, set point and next coupon follow from the product.
//!
//! # Kept apart
//!
//! What comes out serves advice for this one trial and nothing else. Histories, charts and fits see stand-alone evidence only
//! ([`crate::edges::stand_alone`]): a prior fed back would hide the shift that a chart is there to find. The types keep
//! it so: [`CarriedEvidence`] has no likelihood that a history could take.
//!
//! # What is expected
//!
//! An edge today is the level θ, carried moved by what other units' trials say of today's sheets, carried
//! through the heat share φ to today's sheet temperature and speed, and blurred by
//! what differs from trial to trial (τ), by drift too small for the charts to have seen, and by what may have happened since
//! the last trial. φ is one unknown for both edges: today's strips at one edge tell about φ, and so about the other.
//!
//! # When today's strips contradict
//!
//! A failed heater must not be smoothed away by a good past. The *agreement* of a trial with its history is the likelihood ratio
//! of "as expected" against "both edges moved as far as suits the strips best". If all is well, its −2 ln is about χ² with two
//! degrees of freedom, whose tail probability is the ratio itself: a trial agrees less than so only that often. Below
//! [`LEAST_AGREEMENT`] no carried advice is given, and the answer says why; what the trial says alone stands.
//!
//! Carried advice never loosens a limit: the set point stays between today's all-sound steps, with the same reserves on the
//! side where no strip failed, under every ceiling; the next coupon keeps its largest step up and stays below what scorched.

mod advice;
mod agreement;
mod forecast;
mod sentences;
mod start;
#[cfg(test)]
mod tests;

/// Edges are not sought below this, in °C; no band begins there.
const COOLEST_CELSIUS: f64 = 250.0;

pub use advice::carry;
pub use forecast::Forecast;
pub use start::{Slower, StartInput, StartingSteps, full_sweep, starting_steps, steps_around};

use chrono::{DateTime, Utc};

use crate::band::{Band, NoSetPoint, SetPoint};
use crate::coded::coded_enum;
use crate::drift::{Knowledge, Offsets};
use crate::edges::CarriedEvidence;
use crate::heat::{Dwell, Known};
use crate::plan::NextCoupon;
use crate::quantity::{Speed, Temperature};

/// Agreement with the history below which carried advice is withheld.
///
/// A wrong "contradicts" costs no more than the advice that a new unit gets anyway; a wrong "agrees" may cost a seam. So the test
/// doubts early. In a seeded simulation (`tests/carried`: 160 units with 30 trials, sweeps of six coupons; run on 2026-11-25) a
/// healthy unit's trial is doubted in 3 % of cases; of shifts of both edges by 40 °C 82 % are found out up and 86 % down, of
/// 80 °C all. Those that pass are held by today's all-sound steps: none of their set points came within 10 °C of a true edge
/// from where the trial alone would have put it. The number was chosen with such results in view, and a shift of one edge
/// alone is harder to tell: this is no substitute for the charts.
pub const LEAST_AGREEMENT: f64 = 0.10;

/// An edge that is expected to lie somewhere within more than this standard deviation (in kelvin) is not known well enough to
/// advise from: about what one edge-finding trial leaves, carried over 20 K of sheet temperature.
pub const LARGEST_KNOWN_SD_KELVIN: f64 = 30.0;

/// The conditions of the trial or the day to which knowledge is carried.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Today {
    /// Temperature of the sheet itself. Nothing is carried where it is not known: its effect, 1.5 to 4.6 K per K, is the largest
    /// of all.
    pub sheet: Option<Temperature>,
    /// The held speed.
    pub speed: Speed,
    /// Heated length and sheet thickness.
    pub dwell: Dwell,
    /// The time of the trial.
    pub at: DateTime<Utc>,
    /// What other units' trials say that today's sheets do to the edges.
    pub offsets: Offsets,
}

coded_enum! {
    /// Why nothing is carried.
    pub enum NotCarried {
        /// No trial of this unit with this material class before, or none since it was serviced.
        NoHistory = "no_history",
        /// The trials there are don't tell the edges well enough.
        NotKnown = "not_known",
        /// A chart says that an edge has moved.
        Moved = "moved",
        /// The sheet's temperature was not recorded.
        SheetTemperatureMissing = "sheet_temperature_missing",
        /// The nozzle stays over the sheet too long, as in hand welding.
        DwellTooLong = "dwell_too_long",
        /// The edges would lie where they are not sought: too far from the conditions that the history knows.
        BeyondRange = "beyond_range",
        /// The sheets don't weld to each other.
        IncompatibleSheets = "incompatible_sheets",
        /// Later trials have been taken since; advice for this one is past.
        NotRecent = "not_recent",
    }
}

impl NotCarried {
    /// The reason in one plain sentence.
    #[must_use]
    pub const fn sentence(self) -> &'static str {
        match self {
            Self::NoHistory => {
                "Nothing is carried: this unit has no earlier trial on this kind of sheet, or none since it was serviced."
            }
            Self::NotKnown => {
                "Nothing is carried: its earlier trials do not tell this unit's edges well enough yet."
            }
            Self::Moved => "Nothing is carried: this unit's chart says that an edge has moved.",
            Self::SheetTemperatureMissing => {
                "Nothing is carried: the sheet's temperature was not recorded. Measure it; it moves the band most."
            }
            Self::DwellTooLong => {
                "Nothing is carried: the nozzle stays over the sheet too long for the calculation, as in hand welding."
            }
            Self::BeyondRange => {
                "Nothing is carried: these conditions are too far from those that the unit is known under."
            }
            Self::IncompatibleSheets => "Nothing is carried: the sheets do not weld to each other.",
            Self::NotRecent => "Nothing is carried: carried advice is kept for a unit's latest trials only.",
        }
    }
}

/// What a trial and its unit's history say together.
#[derive(Debug, Clone, PartialEq)]
pub struct Carried {
    /// How many earlier trials it is carried from.
    pub trials: usize,
    /// When the latest of them was performed.
    pub latest: DateTime<Utc>,
    /// Where the history expects the lower and the upper edge under today's conditions.
    pub expected: [Known; 2],
    /// The agreement of today's strips with that, 0 to 1.
    pub agreement: f64,
    /// What follows; `None` when the strips contradict the history, agreement below [`LEAST_AGREEMENT`].
    pub advice: Option<Advice>,
    /// How it was carried and what follows, in plain sentences.
    pub explanation: Vec<String>,
}

/// Carried advice.
#[derive(Debug, Clone, PartialEq)]
pub struct Advice {
    /// Both edges.
    pub edges: CarriedEvidence,
    /// The band, if there is one.
    pub band: Option<CarriedBand>,
    /// The set point, inside today's limits, or why there is none.
    pub set_point: Result<SetPoint, NoSetPoint>,
    /// What to weld next, or why to stop.
    pub next_coupon: NextCoupon,
    /// At which speed to weld it, for a trial that holds the temperature and steps the speed.
    pub next_speed: Option<Speed>,
    /// The same in a sentence.
    pub next_sentence: String,
}

/// A band that may reach beyond the steps tried today.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CarriedBand {
    /// The band.
    pub band: Band,
    /// Whether it reaches below the coolest step tried today: that part is known from earlier trials only.
    pub below_tried: bool,
    /// Whether it reaches above the hottest step tried today.
    pub above_tried: bool,
}

/// What a unit's history knew before a trial, or why it cannot be used.
pub type Before<'a> = Result<&'a Knowledge, NotCarried>;
