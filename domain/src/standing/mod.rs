//! What the evidence says of a unit, and the flags it raises.
//!
//! Both are functions of the history, the outcomes of the trials, the service, what people decided, and the time for
//! which they are asked. Nothing here is stored state: a late record changes the past, and with it the answer.

mod flags;
mod sentence;
mod state;
mod withdrawal;

use chrono::{DateTime, Utc};
use uuid::Uuid;

use crate::coded::coded_enum;
use crate::drift::{Amount, Channel, ChannelSeries, Direction, TimeToLimit, UnitSeries};
use crate::edges::Edge;
use crate::membrane::MaterialClass;
use crate::quantity::{Speed, Temperature, TemperatureDifference, WindSpeed};
use crate::trial::{Outcome, Purpose};

pub use flags::{flags, quiet_decisions};
pub use state::standing;

/// A closed trial of the unit, as standing, rechecks and suspect seams see it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TrialFact {
    /// The trial.
    pub trial: Uuid,
    /// When it was performed.
    pub at: DateTime<Utc>,
    /// What was welded.
    pub class: MaterialClass,
    /// Why it was made.
    pub purpose: Purpose,
    /// What became of it.
    pub outcome: Outcome,
    /// Distance of its set point to the cold end of the band, if it found a band.
    pub margin_below: Option<TemperatureDifference>,
    /// Distance of its set point to the hot end of the band, if it found a band.
    pub margin_above: Option<TemperatureDifference>,
    /// The temperature to set that it found.
    pub set_point: Option<Temperature>,
    /// Temperature of the sheet, if it was written down.
    pub sheet: Option<Temperature>,
    /// The held speed.
    pub speed: Speed,
    /// Wind, if it was measured.
    pub wind: Option<WindSpeed>,
    /// What was welded, product and production run.
    pub material: Material,
    /// How far the set point lies below what the heater can reach on the measured supply, if known.
    pub heater_reserve: Option<TemperatureDifference>,
}

/// Both sheets of a seam.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Material {
    /// The products, upper and lower.
    pub membranes: [Uuid; 2],
    /// Their production runs, where known.
    pub lots: [Option<Uuid>; 2],
}

coded_enum! {
    /// What a person decided.
    pub enum DecisionKind {
        /// Seen.
        Acknowledge = "acknowledge",
        /// Given to somebody.
        Assign = "assign",
        /// Something to remember.
        Remark = "remark",
        /// A recheck is not needed.
        Waive = "waive",
        /// A flag is settled; for a withdrawn unit, its cause is known and stated.
        Close = "close",
        /// A withdrawn unit may be used again.
        Release = "release",
    }
}

/// A person's decision about the unit. It applies to the flag of its series and kind whose span covers its own time,
/// whatever that flag's present id.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Decision {
    /// The decision's own id.
    pub id: Uuid,
    /// What was decided.
    pub kind: DecisionKind,
    /// The series it is about; `None`: any series of the unit.
    pub series: Option<SeriesKey>,
    /// The kind of flag it is about; `None`: any.
    pub concern: Option<FlagKind>,
    /// When it was decided.
    pub at: DateTime<Utc>,
}

/// A service event of the unit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ServiceFact {
    /// When it was performed.
    pub at: DateTime<Utc>,
    /// Whether it affects heat, and so restarts the charts.
    pub affects_heat: bool,
}

/// What a flag is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum SeriesKey {
    /// The unit as such.
    Unit,
    /// One edge with one material class.
    Edge(MaterialClass, Edge),
    /// A quantity measured beside the strips.
    Channel(Channel),
}

impl SeriesKey {
    /// `unit`, class and edge (`pvc.lower`), or a quantity measured beside the strips (`channel.volts_under_load`).
    #[must_use]
    pub fn code(self) -> String {
        match self {
            Self::Unit => "unit".to_owned(),
            Self::Edge(class, edge) => format!("{}.{}", class.code(), edge.code()),
            Self::Channel(channel) => format!("channel.{}", channel.code()),
        }
    }

    /// The series with exactly this code.
    #[must_use]
    pub fn from_code(code: &str) -> Option<Self> {
        if code == "unit" {
            return Some(Self::Unit);
        }
        let (class, edge) = code.split_once('.')?;
        if class == "channel" {
            return Channel::from_code(edge).map(Self::Channel);
        }
        Some(Self::Edge(MaterialClass::from_code(class)?, Edge::from_code(edge)?))
    }
}

coded_enum! {
    /// The kinds of flag.
    pub enum FlagKind {
        /// An edge has moved up.
        DriftUp = "drift_up",
        /// An edge has moved down.
        DriftDown = "drift_down",
        /// A trial found no sound set point.
        FailedTrial = "failed_trial",
        /// A trial's set point has lost its margin.
        MarginLost = "margin_lost",
        /// Two trials in a row failed: out of use.
        Withdrawn = "withdrawn",
        /// The set point is near what the heater can reach.
        HeaterLimit = "heater_limit",
        /// A quantity measured beside the strips has risen.
        ChannelUp = "channel_up",
        /// A quantity measured beside the strips has fallen.
        ChannelDown = "channel_down",
    }
}

impl FlagKind {
    /// The flag kind of a channel that moved in this direction.
    #[must_use]
    pub const fn channel(direction: Direction) -> Self {
        match direction {
            Direction::Up => Self::ChannelUp,
            Direction::Down => Self::ChannelDown,
        }
    }

    /// The flag kind of a drift in this direction.
    #[must_use]
    pub const fn drift(direction: Direction) -> Self {
        match direction {
            Direction::Up => Self::DriftUp,
            Direction::Down => Self::DriftDown,
        }
    }
}

coded_enum! {
    /// Where a flag stands.
    pub enum FlagState {
        /// Nobody has seen it.
        Open = "open",
        /// Somebody has.
        Acknowledged = "acknowledged",
        /// Settled by a person, by service, or by the trials that it asked for.
        Closed = "closed",
        /// Later evidence did not confirm it.
        NotConfirmed = "not_confirmed",
    }
}

coded_enum! {
    /// How soon somebody should act.
    pub enum Severity {
        /// The margin grows, or the matter is small.
        Notice = "notice",
        /// Part of the margin is used up.
        Moderate = "moderate",
        /// Little or no margin is left, or the unit is out of use.
        Severe = "severe",
    }
}

/// A raised concern.
#[derive(Debug, Clone, PartialEq)]
pub struct FlagFact {
    /// UUIDv5 of unit, series, kind and first evidence.
    pub id: Uuid,
    /// What it is.
    pub kind: FlagKind,
    /// What it is about.
    pub series: SeriesKey,
    /// The trial that raised it.
    pub first_evidence: Uuid,
    /// When that was performed.
    pub opened_at: DateTime<Utc>,
    /// The range in which a drift began.
    pub onset: Option<(DateTime<Utc>, DateTime<Utc>)>,
    /// How soon somebody should act.
    pub severity: Severity,
    /// The estimated shift of the edge and its standard deviation, for a drift.
    pub shift: Option<(TemperatureDifference, TemperatureDifference)>,
    /// The chart as a share of its limit when it signalled, for a drift.
    pub chart_share: Option<f64>,
    /// The margin that is left on the side concerned.
    pub margin_left: Option<TemperatureDifference>,
    /// Where it stands.
    pub state: FlagState,
    /// Since when.
    pub state_since: DateTime<Utc>,
    /// Every decision that applies to it, oldest first.
    pub decisions: Vec<Uuid>,
    /// Where a heater limit stands: how far the set point lies below what the heater can reach.
    pub heater_reserve: Option<TemperatureDifference>,
    /// When a drift that costs margin has used up that of the working set point; `None` for any other flag, for one that is
    /// settled, and where no working set point is known.
    pub time_to_limit: Option<TimeToLimit>,
    /// How far a channel has moved, and the standard deviation of that.
    pub channel_change: Option<(Amount, Amount)>,
}

impl FlagFact {
    /// Whether nobody and nothing has settled it yet.
    #[must_use]
    pub const fn stands(&self) -> bool {
        matches!(self.state, FlagState::Open | FlagState::Acknowledged)
    }

    /// The class of its series, if it is about an edge.
    #[must_use]
    pub const fn class(&self) -> Option<MaterialClass> {
        match self.series {
            SeriesKey::Unit | SeriesKey::Channel(_) => None,
            SeriesKey::Edge(class, _) => Some(class),
        }
    }

    /// Whether it is a drift that costs margin: the lower edge rising or the upper edge falling.
    #[must_use]
    pub const fn costs_margin(&self) -> bool {
        matches!(
            (self.series, self.kind),
            (SeriesKey::Edge(_, Edge::Lower), FlagKind::DriftUp)
                | (SeriesKey::Edge(_, Edge::Upper), FlagKind::DriftDown)
        )
    }
}

coded_enum! {
    /// What the evidence says of a unit, the worst last.
    pub enum StandingCode {
        /// Too little evidence yet.
        New = "new",
        /// Nothing speaks of change.
        Steady = "steady",
        /// Something to look at.
        Warning = "warning",
        /// An edge has moved.
        Drifting = "drifting",
        /// Out of use until mended, tried twice and released.
        Withdrawn = "withdrawn",
    }
}

coded_enum! {
    /// Why a unit stands as it does.
    pub enum StandingReason {
        /// No trial in the last 60 days.
        NoRecentTrial = "no_recent_trial",
        /// The charts do not speak yet.
        TooFewTrials = "too_few_trials",
        /// An edge is not well known yet.
        StillLearning = "still_learning",
        /// Most of its last trials lack the temperature of the sheet.
        SheetTemperatureMissing = "sheet_temperature_missing",
        /// No chart is near its limit.
        ChartsQuiet = "charts_quiet",
        /// A chart is near its limit.
        ChartNearLimit = "chart_near_limit",
        /// The last trial failed.
        TrialFailed = "trial_failed",
        /// The last trial's margin is lost.
        MarginLost = "margin_lost",
        /// The set point is near what the heater can reach.
        HeaterNearLimit = "heater_near_limit",
        /// Something measured beside the strips has moved.
        ChannelMoved = "channel_moved",
        /// The lower edge has moved up.
        LowerEdgeUp = "lower_edge_up",
        /// The lower edge has moved down.
        LowerEdgeDown = "lower_edge_down",
        /// The upper edge has moved up.
        UpperEdgeUp = "upper_edge_up",
        /// The upper edge has moved down.
        UpperEdgeDown = "upper_edge_down",
        /// Two trials in a row failed.
        TwoFailuresInARow = "two_failures_in_a_row",
        /// Mending is missing: neither service nor a stated cause since.
        AwaitsService = "awaits_service",
        /// Two good trials in a row are missing.
        AwaitsTwoGoodTrials = "awaits_two_good_trials",
        /// The release by an equipment person is missing.
        AwaitsRelease = "awaits_release",
    }
}

/// What the evidence says of a unit at a time.
#[derive(Debug, Clone, PartialEq)]
pub struct Standing {
    /// The code.
    pub code: StandingCode,
    /// Since when it stands so; `None` for a unit without trials.
    pub since: Option<DateTime<Utc>>,
    /// Why, the weightiest first.
    pub reasons: Vec<StandingReason>,
}

/// The level at which an edge uses up the margin of the working set point, see [`crate::drift::limit_levels`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EdgeLimit {
    /// What is welded.
    pub class: MaterialClass,
    /// The edge.
    pub edge: Edge,
    /// The level, at reference conditions.
    pub level: Temperature,
}

/// Everything that standing and flags follow from.
#[derive(Debug, Clone, Copy)]
pub struct UnitRecord<'a> {
    /// The unit.
    pub unit: Uuid,
    /// Its charts, one per material class, as [`crate::drift::unit_series`] gives them.
    pub series: &'a [UnitSeries],
    /// Its closed trials, in any order.
    pub trials: &'a [TrialFact],
    /// Its service events, in any order.
    pub services: &'a [ServiceFact],
    /// What people decided about it, in any order.
    pub decisions: &'a [Decision],
    /// How far its edges may move; at most one level for each edge and class.
    pub limits: &'a [EdgeLimit],
    /// The charts of what its trials measured beside their strips.
    pub channels: &'a [ChannelSeries],
}

#[cfg(test)]
mod tests;
