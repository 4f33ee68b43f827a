//! Rechecks: which unit has to be tried when, and why.
//!
//! At most one recheck per unit and local day, however many reasons there are, and at most one open per unit.
//!
//! - *Daily*: each day on which the crew means to weld with the unit. A day plan says so; without one, a unit that
//!   welded or was tried within the last days is taken to be in use on working days. A day that is planned without
//!   welding (rain) asks for nothing, nor does a closed one.
//! - *A failed trial, a lost margin*: the same day, after the trial.
//! - *A drift flag*: from the next day on which the unit is in use, until a trial has looked for the edges.
//! - *A margin that runs out*: so many days before a drift may have used it up.
//! - *Edge-finding interval*: on the first day in use on which neither edge has been looked for in so many days; the interval
//!   lengthens with evidence and shortens with trouble.
//! - *In the course of the day*, from the event on: a restart or power loss; another supply, cord, nozzle or airflow; another
//!   sheet; another operator; a sheet or wind so much other than at the last good trial that its margin does not cover it; service
//!   that affects the heat.
//!
//! A recheck is satisfied by the first trial on or after the start of its local day that stands and is strong enough
//! for all its reasons: where edges have to be found, a confirmation check is not. When a newer recheck is due, an older
//! unsatisfied one is *missed*; its reasons, if they still hold, are in the newer one. Times of day are local and
//! survive the changes of the clocks (see [`local_instant`]).

mod derive;
mod events;
mod interval;
mod local;

use chrono::{DateTime, Duration, NaiveDate, NaiveTime, Utc, Weekday};
use chrono_tz::Tz;
use uuid::Uuid;

use crate::coded::coded_enum;
use crate::heat::HeatShare;
use crate::membrane::MaterialClass;
use crate::quantity::WindSpeed;
use crate::standing::{Decision, FlagFact, ServiceFact, TrialFact};
use crate::suspect::SpanFact;
use crate::trial::Purpose;

pub use derive::rechecks;
pub use events::{BandShift, DayEventFact, DayEventKind, band_shift};
pub use local::{local_day_start, local_instant};

/// An organization's rules for rechecks.
#[derive(Debug, Clone, PartialEq)]
pub struct RecheckPolicy {
    /// When a crew's day begins, local time.
    pub shift_start: NaiveTime,
    /// How long after that the day's trial is overdue.
    pub grace: Duration,
    /// How long after a failure the repetition is overdue.
    pub repeat_within: Duration,
    /// Longest time between two edge-finding trials, in days: what a unit starts with.
    pub edge_finding_days: u32,
    /// What that shortens to at most, with trouble.
    pub least_edge_finding_days: u32,
    /// What it lengthens to at most, with evidence.
    pub most_edge_finding_days: u32,
    /// So many days before a drift may have used up the margin a trial is due.
    pub limit_lead_days: u32,
    /// How much of its margin a band may lose to another sheet temperature before a trial is due, a ratio.
    pub carry_share: f64,
    /// A trial made in less wind than this does not cover more.
    pub wind_from: WindSpeed,
    /// Whether each operator makes a check of their own.
    pub operator_checks: bool,
    /// Days on which nobody works, without a day plan.
    pub closed_days: Vec<NaiveDate>,
    /// Without a day plan: a unit is in use if it welded or was tried within so many days before.
    pub in_use_days: u32,
    /// Without a day plan: the days on which crews work.
    pub working_days: Vec<Weekday>,
    /// How many local days back rechecks are listed.
    pub look_back_days: u32,
}

impl Default for RecheckPolicy {
    /// Common practice of the trade, no source: trial by two hours after seven, edges every 14 days, Monday to Friday, a new trial
    /// from 20 km/h of wind on.
    fn default() -> Self {
        Self {
            shift_start: NaiveTime::from_hms_opt(7, 0, 0).expect("seven o'clock exists"),
            grace: Duration::hours(2),
            repeat_within: Duration::hours(2),
            edge_finding_days: 14,
            least_edge_finding_days: 14,
            most_edge_finding_days: 14,
            limit_lead_days: 3,
            carry_share: 1.0,
            wind_from: WindSpeed::metres_per_second(5.5),
            operator_checks: false,
            closed_days: Vec::new(),
            in_use_days: 7,
            working_days: vec![Weekday::Mon, Weekday::Tue, Weekday::Wed, Weekday::Thu, Weekday::Fri],
            look_back_days: 60,
        }
    }
}

/// The day plan of the unit's crew for one local day.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct DayPlanFact {
    /// The local day.
    pub date: NaiveDate,
    /// Whether the crew means to weld.
    pub welding: bool,
    /// Whether the plan names this unit.
    pub names_unit: bool,
    /// When it was recorded: of several plans for a day the latest counts.
    pub recorded_at: DateTime<Utc>,
}

coded_enum! {
    /// Why a recheck is due, the weightiest first.
    pub enum RecheckReason {
        /// The last trial failed: repeat it.
        FailedTrial = "failed_trial",
        /// A drift flag stands: find both edges.
        DriftFlag = "drift_flag",
        /// A drift will soon have used up the margin.
        MarginRunsOut = "margin_runs_out",
        /// The margin was lost: find a new set point.
        MarginLost = "margin_lost",
        /// Service has changed how the unit heats.
        Service = "service",
        /// Another membrane or production run than at the last good trial.
        NewSheet = "new_sheet",
        /// Another supply, cord, nozzle or airflow.
        SetUpChanged = "set_up_changed",
        /// The sheet or the wind is so much other that the margin does not cover it.
        ConditionsChanged = "conditions_changed",
        /// The welder was started again, after a break or a loss of power.
        Restarted = "restarted",
        /// Somebody else runs the welder.
        OperatorChanged = "operator_changed",
        /// Both edges have not been looked for in a while.
        EdgeFinding = "edge_finding",
        /// The trial of the day.
        Daily = "daily",
    }
}

impl RecheckReason {
    /// The purpose the trial should have.
    #[must_use]
    pub const fn purpose(self) -> Purpose {
        match self {
            Self::FailedTrial
            | Self::DriftFlag
            | Self::MarginRunsOut
            | Self::MarginLost
            | Self::Service
            | Self::NewSheet
            | Self::EdgeFinding => Purpose::Sweep,
            Self::SetUpChanged
            | Self::ConditionsChanged
            | Self::Restarted
            | Self::OperatorChanged
            | Self::Daily => Purpose::Confirmation,
        }
    }

    /// Whether the trial has to look for the edges. The repetition of a failed trial, and the first with another sheet, may be
    /// of any purpose, so long as they stand.
    #[must_use]
    pub const fn needs_edges(self) -> bool {
        matches!(
            self,
            Self::DriftFlag | Self::MarginRunsOut | Self::MarginLost | Self::Service | Self::EdgeFinding
        )
    }
}

coded_enum! {
    /// Where a recheck stands.
    pub enum RecheckState {
        /// Due, or due later.
        Open = "open",
        /// Its time has passed.
        Overdue = "overdue",
        /// A trial satisfied it.
        Satisfied = "satisfied",
        /// A newer recheck took its place before any trial did.
        Missed = "missed",
        /// A person decided that it is not needed.
        Waived = "waived",
    }
}

/// A trial that is due.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Recheck {
    /// UUIDv5 of the unit and the local day.
    pub id: Uuid,
    /// Why, the weightiest first.
    pub reasons: Vec<RecheckReason>,
    /// The purpose the trial should have.
    pub purpose: Purpose,
    /// The local day.
    pub due_on: NaiveDate,
    /// When it is overdue: after the grace of its day, or from the day's start when it takes the place of a missed one.
    pub due_at: DateTime<Utc>,
    /// Where it stands.
    pub state: RecheckState,
    /// The trial that satisfied it.
    pub satisfied_by: Option<Uuid>,
    /// When it was satisfied, waived, or replaced.
    pub closed_at: Option<DateTime<Utc>>,
}

/// Everything that a unit's rechecks follow from.
#[derive(Debug, Clone, Copy)]
pub struct RecheckInput<'a> {
    /// The unit.
    pub unit: Uuid,
    /// The rules.
    pub policy: &'a RecheckPolicy,
    /// The zone of the site it is used at.
    pub zone: Tz,
    /// Its crew's day plans, in any order.
    pub day_plans: &'a [DayPlanFact],
    /// Its closed trials, in any order.
    pub trials: &'a [TrialFact],
    /// What was welded with it, in any order.
    pub spans: &'a [SpanFact],
    /// What its crew noted in the course of its days, in any order.
    pub day_events: &'a [DayEventFact],
    /// Its service events, in any order.
    pub services: &'a [ServiceFact],
    /// Its heat share on each class, by its own history; the usual one where nothing is known.
    pub heat_shares: &'a [(MaterialClass, HeatShare)],
    /// Its flags.
    pub flags: &'a [FlagFact],
    /// What people decided about it.
    pub decisions: &'a [Decision],
    /// The time for which the answer is.
    pub as_of: DateTime<Utc>,
}

/// Whether a trial of this purpose looks for the edges.
fn finds_edges(trial: &TrialFact) -> bool {
    trial.purpose.finds_edges()
}

#[cfg(test)]
mod tests;
