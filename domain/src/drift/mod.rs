//! Drift: has an edge of this unit moved, or does it only seem so?
//!
//! # What is charted
//!
//! Each closed trial says something about the unit's two edges: a likelihood, wide or narrow, perhaps open to one side
//! ([`Profile`]). Most trials are confirmation checks that find all strips sound. Nothing is dropped and nothing is
//! filled in: each trial counts for exactly what its likelihood says.
//!
//! # The model
//!
//! An edge at a trial's conditions is the *reference level* θ (sheet at 20 °C, 3.05 m/min), carried to the trial's sheet
//! temperature and speed through the unit's heat share φ ([`crate::heat`]), plus a normal error of standard deviation τ. What
//! other units' trials say of the same sheets or the same day is taken off first ([`Offsets`]), and what is unknown of it added to
//! τ: a bad production run is not a failing heater.
//! θ and φ are unknown, and one of each per unit and edge (φ shared by both edges): a grid holds their joint
//! posterior. A unit whose φ differs from the usual therefore teaches the chart its own sheet temperature coefficient,
//! instead of drifting every spring.
//!
//! # The chart
//!
//! For each edge and direction the chart compares two stories: θ stands where the baseline has it (H₀), or it has moved by
//! δ since some trial (H₁). With p₀ and p₁ the probability that each story gave the trial beforehand,
//!
//! > C ← max(0, C + ln p₁/p₀),
//!
//! Page's CUSUM of log likelihood ratios. Both probabilities are averages over what is still open about θ and φ, so that
//! ignorance is not taken for news: at a new unit they hardly differ, and in the first spring of a unit with an unusual φ both
//! allow for it.
//!
//! The baseline learns from every trial while no signal stands, up to [`ChartSettings::baseline_trials`]. A signal takes it
//! back to where the chart last stood at zero: what came after belongs to the shift.
//!
//! # The promise
//!
//! One false alarm in [`ChartSettings::promise_arl`] trials over all charts of a unit. Two edges and two directions share it
//! by stated weights; the limit of each follows from its share and from how much the unit's trials tell on average
//! ([`arl::likelihood_ratio_limit`]). Trials of different material classes are different series; every trial enters one of
//! them, so the promise per trial holds for the unit.

pub mod arl;
mod belief;
mod beside;
pub mod causes;
mod channels;
mod chart;
mod charts;
mod course;
mod evidence;
mod interval;
mod knowledge;
mod offset;
mod onset;
mod run;
mod settings;

use chrono::{DateTime, Utc};
use uuid::Uuid;

use crate::coded::coded_enum;
use crate::edges::{Edge, Profile};
use crate::heat::{Conditions, HeatShare, equivalent};
use crate::membrane::MaterialClass;
use crate::quantity::{Speed, Temperature, TemperatureDifference};

pub use beside::{Beside, ChangesBeside, Probe, changes_beside};
pub use channels::{Amount, Channel, ChannelSeries, ChannelSignal, channel_series};
pub use charts::{UnitCharts, unit_series};
pub use course::{Course, TimeToLimit, limit_levels};
pub(crate) use course::{LN_STEP, ln_sum};
pub use knowledge::Knowledge;
pub(crate) use knowledge::KnowledgePart;
#[cfg(test)]
pub(crate) use knowledge::LevelPart;
pub use offset::{Offset, Offsets};
pub use settings::{ChartSettings, FadeRate};

coded_enum! {
    /// The way an edge moves.
    pub enum Direction {
        /// To higher temperatures.
        Up = "up",
        /// To lower temperatures.
        Down = "down",
    }
}

/// The share of its limit from which a chart counts as a warning. A healthy unit's charts are there on a few days in a
/// hundred.
pub const WARNING_SHARE: f64 = 0.75;

/// One closed trial, as the charts see it.
#[derive(Debug, Clone, Copy)]
pub struct HistoryEntry<'a> {
    /// The trial.
    pub trial: Uuid,
    /// When it was performed.
    pub at: DateTime<Utc>,
    /// What was welded.
    pub class: MaterialClass,
    /// Temperature of the sheet. Missing: 20 °C is assumed with [`ChartSettings::unknown_sheet_sd`].
    pub sheet: Option<Temperature>,
    /// The held speed: timed if it was, else as set.
    pub speed: Speed,
    /// Stand-alone likelihood of the lower edge at the trial's conditions.
    pub lower: &'a Profile,
    /// Stand-alone likelihood of the upper edge at the trial's conditions.
    pub upper: &'a Profile,
    /// What is known beforehand to move its edges, from other units' trials ([`crate::fleet::Shared`]).
    pub offsets: Offsets,
}

impl HistoryEntry<'_> {
    /// Its place in the order of trials.
    #[must_use]
    pub const fn key(&self) -> (DateTime<Utc>, Uuid) {
        (self.at, self.trial)
    }

    /// How many points the longer of its profiles has.
    #[must_use]
    pub fn profile_points(&self) -> usize {
        self.lower.len().max(self.upper.len())
    }
}

/// A person's closing of a drift flag: the series stays quiet from then until its chart has fallen below half its limit,
/// or a service event.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Quiet {
    /// When the person decided.
    pub at: DateTime<Utc>,
    /// The series' material class.
    pub class: MaterialClass,
    /// The series' edge.
    pub edge: Edge,
    /// The direction of the signal that was closed.
    pub direction: Direction,
}

/// The history of one unit's edges with one material class.
#[derive(Debug, Clone, PartialEq)]
pub struct UnitSeries {
    /// The material class.
    pub class: MaterialClass,
    /// The lower edge.
    pub lower: EdgeSeries,
    /// The upper edge.
    pub upper: EdgeSeries,
    /// The unit's heat share φ as its history has it: mean and standard deviation, ratios.
    pub heat_share: (f64, f64),
}

impl UnitSeries {
    /// The series of one edge.
    #[must_use]
    pub fn edge(&self, edge: Edge) -> &EdgeSeries {
        match edge {
            Edge::Lower => &self.lower,
            Edge::Upper => &self.upper,
        }
    }

    /// The setting that is equivalent at reference conditions to `setting` at these, by the unit's own heat share.
    #[must_use]
    pub fn at_reference(&self, setting: Temperature, conditions: Conditions) -> Temperature {
        equivalent(setting, conditions, Conditions::reference(), self.mean_heat_share()).set_point
    }

    /// The unit's heat share as its history has it on average.
    #[must_use]
    pub fn mean_heat_share(&self) -> HeatShare {
        HeatShare::new(self.heat_share.0).unwrap_or_default()
    }
}

/// The history of one edge.
#[derive(Debug, Clone, PartialEq)]
pub struct EdgeSeries {
    /// Which edge.
    pub edge: Edge,
    /// One point per trial, in the order in which they were performed.
    pub points: Vec<Point>,
    /// The reference level since the last restart; `None` before the first trial after it.
    pub level: Option<Level>,
    /// The chart's present limit, in units of ln likelihood ratio.
    pub limit: f64,
    /// Evidence since the last restart, in edge-finding trials.
    pub effective_trials: f64,
    /// Whether the evidence is still too little to call the edge known.
    pub learning: bool,
    /// Every signal there has been, oldest first.
    pub signals: Vec<Signal>,
}

impl EdgeSeries {
    /// The signal that stands: not ended by service or by later evidence, and not closed by a person.
    #[must_use]
    pub fn signal(&self) -> Option<&Signal> {
        self.signals.iter().rev().find(|signal| signal.end.is_none() && signal.closed_at.is_none())
    }

    /// The larger of the two charts at the last trial as a share of the limit; zero when there is none or it does not yet
    /// speak.
    #[must_use]
    pub fn height(&self) -> f64 {
        self.points.last().map_or(0.0, Point::height)
    }
}

/// An estimate of a level.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Level {
    /// Mean, at reference conditions.
    pub mean: Temperature,
    /// Standard deviation.
    pub sd: TemperatureDifference,
}

/// One trial in the history of one edge.
#[derive(Debug, Clone, PartialEq)]
pub struct Point {
    /// The trial.
    pub trial: Uuid,
    /// When it was performed.
    pub at: DateTime<Utc>,
    /// How many restarts lie before it; charts are drawn per segment.
    pub segment: u32,
    /// What this trial alone says of the edge, brought to reference conditions.
    pub interval: Interval,
    /// Whether this trial alone could not say how low the edge might be: draw it open downwards.
    pub open_below: bool,
    /// Whether this trial alone could not say how high the edge might be: draw it open upwards.
    pub open_above: bool,
    /// The chart of rising after this trial, in ln likelihood ratio; ≥ 0.
    pub up: f64,
    /// The chart of falling after this trial; ≥ 0.
    pub down: f64,
    /// The limit that applied.
    pub limit: f64,
    /// Whether the charts may signal at this trial.
    pub speaks: bool,
    /// Evidence so far in this segment, in edge-finding trials.
    pub effective_trials: f64,
}

impl Point {
    /// The larger chart as a share of the limit; zero while the charts don't speak.
    #[must_use]
    pub fn height(&self) -> f64 {
        if self.speaks { self.up.max(self.down) / self.limit } else { 0.0 }
    }
}

/// A median and a central 95 % interval.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Interval {
    /// 2.5 % point.
    pub low: Temperature,
    /// Median.
    pub middle: Temperature,
    /// 97.5 % point.
    pub high: Temperature,
}

/// A chart that crossed its limit.
#[derive(Debug, Clone, PartialEq)]
pub struct Signal {
    /// The way the edge has moved.
    pub direction: Direction,
    /// The trial at which the chart crossed.
    pub trial: Uuid,
    /// When that was performed.
    pub at: DateTime<Utc>,
    /// The first trial at which the shift may have begun: the chart's last zero or before.
    pub onset_first: Onset,
    /// The last trial by which it must have begun.
    pub onset_last: Onset,
    /// How far the edge has moved from its level, with all trials since the likeliest onset until the signal ended (or
    /// now); at reference conditions, positive upwards.
    pub shift: TemperatureDifference,
    /// Standard deviation of the shift, the level's uncertainty included.
    pub shift_sd: TemperatureDifference,
    /// Levels of the lower and of the upper edge before the move, at reference conditions.
    pub levels: (Temperature, Temperature),
    /// How far the other edge has moved meanwhile, with the same trials, and the standard deviation of that.
    pub other_shift: (TemperatureDifference, TemperatureDifference),
    /// The chart when it crossed.
    pub chart: f64,
    /// The limit it crossed.
    pub limit: f64,
    /// How the edge goes on moving; `None` once something has ended the signal.
    pub course: Option<Course>,
    /// When a person closed it; `None` while nobody did.
    pub closed_at: Option<DateTime<Utc>>,
    /// What ended it.
    pub end: Option<SignalEnd>,
}

/// One end of the range in which a shift began.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Onset {
    /// A trial.
    pub trial: Uuid,
    /// When it was performed.
    pub at: DateTime<Utc>,
}

/// What ended a signal.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SignalEnd {
    /// A service event that affects heat: the chart began anew.
    Service {
        /// When the service was performed.
        at: DateTime<Utc>,
    },
    /// Later trials took the chart below half its limit.
    Subsided {
        /// The trial that did.
        trial: Uuid,
        /// When it was performed.
        at: DateTime<Utc>,
    },
}

#[cfg(test)]
mod tests;
