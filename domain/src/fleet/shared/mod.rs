//! Shifts that units share: what a sheet product, a production run or a day on a site does to the edges of all welders that
//! meet it, and how much an edge varies from trial to trial besides.
//!
//! # Model
//!
//! A unit's edge in a trial, at reference conditions, is its level since its last service, plus what product, run and day
//! add, plus a normal error of standard deviation τ. What a trial's strips say of it is summed up as a normal likelihood with
//! the moments that they give a wide normal prior about the unit's level (one step of expectation propagation: Minka,
//! *Expectation propagation for approximate Bayesian inference*, UAI 2001). Checks that leave both edges open so count
//! for the little they say.
//!
//! A unit speaks of a run only by contrast: its trials with it against its trials without, other shifts taken off
//! ([`Contrast`]). Its level cancels, so a unit that runs hot says nothing of its sheets; and one that only ever met
//! one run says nothing of that run. Units answer differently to the same sheet, by some 6 K (no source). Among
//! several units the one that disagrees with the rest counts less, as under Student's t with four degrees of freedom (Lange,
//! Little & Taylor, *Robust statistical modeling using the t distribution*, JASA 1989): its own trouble is not the sheet's.
//!
//! Most runs are alike, a few are bad: a shift is normal about zero with a small standard deviation, which all of its kind
//! tell together, or, one in twenty, with one of 30 K.
//!
//! # When it is zero
//!
//! Shifts are counted from the ordinary ones of their kind. While there are but two that differ, neither is it.
//!
//! A shift is left at zero until [`super::FEWEST_UNITS`] units inform it. Days are kept only where they stand out by two
//! standard deviations.
//!
//! # Leaving a unit out
//!
//! A unit's own charts must not be told of a shift by its own trials, or a failing heater would excuse itself. For each unit
//! that met a run, the shift is therefore worked out from the others as well ([`SharedShift::own`]).

mod contrast;
mod effect;
mod noise;
mod sentences;
mod settled;
mod site;
mod solve;
#[cfg(test)]
mod tests;

use chrono::{DateTime, NaiveDate, Utc};
use uuid::Uuid;

pub use noise::TrialNoise;
pub use settled::{ShiftDecision, ShiftState};
pub use site::SharedEvidence;

use crate::coded::coded_enum;
use crate::drift::{Offset, Offsets};
use crate::edges::Edge;
use crate::membrane::MaterialClass;
use crate::quantity::TemperatureDifference;

coded_enum! {
    /// What units have in common.
    pub enum SharedKind {
        /// A sheet product, in both sheets.
        Membrane = "membrane",
        /// A production run, in both sheets.
        Lot = "lot",
        /// A day on a site.
        Day = "day",
    }
}

/// One thing that several units may have in common.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum SharedBy {
    /// A sheet product.
    Membrane(Uuid),
    /// A production run.
    Lot(Uuid),
    /// A site on a date there.
    Day(Uuid, NaiveDate),
}

impl SharedBy {
    /// Of what kind it is.
    #[must_use]
    pub const fn kind(&self) -> SharedKind {
        match self {
            Self::Membrane(_) => SharedKind::Membrane,
            Self::Lot(_) => SharedKind::Lot,
            Self::Day(..) => SharedKind::Day,
        }
    }
}

/// What a trial had in common with those of other units.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Setting {
    /// The product, if both sheets are of it.
    pub membrane: Option<Uuid>,
    /// The production run, if both sheets are of it.
    pub lot: Option<Uuid>,
    /// The site, and the date there.
    pub day: Option<(Uuid, NaiveDate)>,
}

impl Setting {
    /// Each of them that is known, in the order of [`SharedKind::ALL`].
    #[must_use]
    pub fn shared(&self) -> [Option<SharedBy>; 3] {
        [
            self.membrane.map(SharedBy::Membrane),
            self.lot.map(SharedBy::Lot),
            self.day.map(|(site, date)| SharedBy::Day(site, date)),
        ]
    }
}

/// How far something moves an edge, at reference conditions.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Shift {
    /// Posterior mean, positive upwards.
    pub mean: TemperatureDifference,
    /// Posterior standard deviation.
    pub sd: TemperatureDifference,
    /// 2.5 % point of the posterior.
    pub low: TemperatureDifference,
    /// 97.5 % point of the posterior.
    pub high: TemperatureDifference,
}

impl Shift {
    /// Whether it lies beyond ±5 K with all of its 95 % interval: far enough to be told to people.
    #[must_use]
    pub fn is_notable(&self) -> bool {
        self.low.kelvin() > NOTABLE_K || self.high.kelvin() < -NOTABLE_K
    }

    /// Whether it stands out by two standard deviations.
    fn is_plain(&self) -> bool {
        self.mean.kelvin().abs() >= 2.0 * self.sd.kelvin()
    }

    fn offset(&self) -> Offset {
        Offset { mean: self.mean, sd: self.sd }
    }
}

const NOTABLE_K: f64 = 5.0;

/// A shift of both edges; `None` where it is left at zero.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Shifts {
    /// Of the lower edge.
    pub lower: Option<Shift>,
    /// Of the upper edge.
    pub upper: Option<Shift>,
}

impl Shifts {
    /// That of one edge.
    #[must_use]
    pub const fn of(&self, edge: Edge) -> Option<&Shift> {
        match edge {
            Edge::Lower => self.lower.as_ref(),
            Edge::Upper => self.upper.as_ref(),
        }
    }

    fn offsets(&self) -> Offsets {
        let of = |shift: Option<Shift>| shift.as_ref().map_or_else(Offset::default, Shift::offset);
        Offsets { lower: of(self.lower), upper: of(self.upper) }
    }
}

/// What one product, run or day does to the edges on one material class.
#[derive(Debug, Clone, PartialEq)]
pub struct SharedShift {
    /// The material class.
    pub class: MaterialClass,
    /// What is shared.
    pub by: SharedBy,
    /// Units that met it.
    pub units: usize,
    /// Trials that they made with it.
    pub trials: usize,
    /// When the latest of these was performed.
    pub latest: DateTime<Utc>,
    /// Units that inform the shift of the lower and of the upper edge.
    pub informing: [usize; 2],
    /// The shifts, from all units.
    pub shifts: Shifts,
    /// For each unit that met it, ascending: the shifts as the other units have them, zero where too little is known.
    pub own: Vec<(Uuid, Offsets)>,
}

impl SharedShift {
    /// Whether one of its edges is moved far enough to be told to people.
    #[must_use]
    pub fn is_notable(&self) -> bool {
        Edge::ALL.iter().filter_map(|edge| self.shifts.of(*edge)).any(Shift::is_notable)
    }

    /// What a unit's charts take off: what the others say.
    #[must_use]
    pub fn for_unit(&self, unit: Uuid) -> Offsets {
        let own = self.own.binary_search_by_key(&unit, |(unit, _)| *unit);
        own.map_or_else(|_| self.shifts.offsets(), |found| self.own[found].1)
    }
}

/// How much the shifts of one kind differ.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ordinary {
    /// Of which kind.
    pub kind: SharedKind,
    /// Shifts that enough units inform, over classes and edges.
    pub informed: usize,
    /// Standard deviation of the ordinary ones.
    pub sd: TemperatureDifference,
}

/// What the units of a fleet share.
#[derive(Debug, Clone, PartialEq)]
pub struct Shared {
    /// How much an edge varies from trial to trial.
    pub noise: TrialNoise,
    /// One for each kind, in the order of [`SharedKind::ALL`].
    pub ordinary: Vec<Ordinary>,
    /// The shifts that enough units inform, by class, then by what is shared.
    pub shifts: Vec<SharedShift>,
}

impl Shared {
    /// The fit from what was gathered unit by unit, each unit once, in any order.
    #[must_use]
    pub fn of(evidence: impl IntoIterator<Item = SharedEvidence>) -> Self {
        let mut evidence: Vec<SharedEvidence> = evidence.into_iter().collect();
        evidence.sort_by_key(|evidence| evidence.unit);
        solve::solve(&evidence)
    }

    /// What a unit's charts take off a trial on this class in this setting.
    #[must_use]
    pub fn offsets(&self, unit: Uuid, class: MaterialClass, setting: &Setting) -> Offsets {
        let found = setting.shared().into_iter().flatten().filter_map(|by| {
            let place = self.shifts.binary_search_by_key(&(class, by), |shift| (shift.class, shift.by));
            place.ok().map(|place| self.shifts[place].for_unit(unit))
        });
        found.fold(Offsets::default(), Offsets::plus)
    }
}
