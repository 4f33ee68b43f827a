//! Entries of the change feed.

use chrono::{DateTime, Utc};
use lapwatch_domain::coded_enum;
use uuid::Uuid;

use super::{RecordKind, Scope};

coded_enum! {
    /// What kind of thing an entry of the change feed is about.
    pub enum ChangeKind {
        /// A trial.
        Trial = "trial",
        /// What another person read of a trial's strips.
        SecondReading = "second_reading",
        /// A held item.
        Custody = "custody",
        /// A service event.
        ServiceEvent = "service_event",
        /// A day plan.
        DayPlan = "day_plan",
        /// A production span.
        ProductionSpan = "production_span",
        /// Something that happened in the course of a day.
        DayEvent = "day_event",
        /// A seam check.
        SeamCheck = "seam_check",
        /// A record that withdraws another.
        Retraction = "retraction",
        /// The beginning of a trial that is sent piece by piece.
        OpenTrial = "open_trial",
        /// A coupon of such a trial.
        Coupon = "coupon",
        /// The end of such a trial.
        TrialClose = "trial_close",
        /// A photo, when it is told of and when its bytes come.
        Photo = "photo",
        /// A decision.
        Decision = "decision",
        /// A decision about a shift that units share.
        SharedDecision = "shared_decision",
        /// Where a unit stands.
        Standing = "standing",
        /// A flag.
        Flag = "flag",
        /// A recheck.
        Recheck = "recheck",
        /// A fit of the fleet.
        FleetFit = "fleet_fit",
        /// A fit of what units share.
        SharedFit = "shared_fit",
        /// A unit.
        Unit = "unit",
        /// A crew.
        Crew = "crew",
        /// A site.
        Site = "site",
        /// A membrane.
        Membrane = "membrane",
        /// A lot.
        Lot = "lot",
        /// Criteria of one job.
        CriteriaException = "criteria_exception",
        /// The organization's criteria.
        Criteria = "criteria",
        /// The organization's policy.
        Policy = "policy",
    }
}

impl From<RecordKind> for ChangeKind {
    fn from(kind: RecordKind) -> Self {
        match kind {
            RecordKind::Trial => Self::Trial,
            RecordKind::ServiceEvent => Self::ServiceEvent,
            RecordKind::DayPlan => Self::DayPlan,
            RecordKind::ProductionSpan => Self::ProductionSpan,
            RecordKind::DayEvent => Self::DayEvent,
            RecordKind::SeamCheck => Self::SeamCheck,
            RecordKind::Retraction => Self::Retraction,
            RecordKind::Decision => Self::Decision,
            RecordKind::SecondReading => Self::SecondReading,
            RecordKind::OpenTrial => Self::OpenTrial,
            RecordKind::SentCoupon => Self::Coupon,
            RecordKind::TrialClose => Self::TrialClose,
            RecordKind::Photo => Self::Photo,
            RecordKind::SharedDecision => Self::SharedDecision,
        }
    }
}

/// Whom an entry concerns, of the callers that act for one crew.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Concerns {
    /// Every crew.
    Everybody,
    /// The crew that the record names.
    ItsCrew,
    /// The crew that has the unit now.
    CrewOfUnit,
    /// Either, by the record that it is about; everybody, where neither is known.
    EitherCrew,
}

impl ChangeKind {
    /// What a caller needs to read things of this kind, and so to hear of them.
    pub fn scope(self) -> Scope {
        match self {
            Self::Trial
            | Self::SecondReading
            | Self::Custody
            | Self::Retraction
            | Self::OpenTrial
            | Self::Coupon
            | Self::TrialClose
            | Self::Photo => Scope::TrialsRead,
            Self::ServiceEvent
            | Self::Standing
            | Self::FleetFit
            | Self::SharedFit
            | Self::SharedDecision
            | Self::Unit => Scope::UnitsRead,
            Self::DayPlan | Self::ProductionSpan | Self::DayEvent | Self::SeamCheck => Scope::PlansRead,
            Self::Decision | Self::Flag | Self::Recheck => Scope::RechecksRead,
            Self::Crew
            | Self::Site
            | Self::Membrane
            | Self::Lot
            | Self::CriteriaException
            | Self::Criteria
            | Self::Policy => Scope::ConfigurationRead,
        }
    }

    /// Whom its entries concern.
    pub fn concerns(self) -> Concerns {
        match self {
            Self::Trial
            | Self::SecondReading
            | Self::Custody
            | Self::DayPlan
            | Self::DayEvent
            | Self::Recheck
            | Self::OpenTrial
            | Self::Coupon
            | Self::TrialClose => Concerns::ItsCrew,
            Self::ServiceEvent
            | Self::ProductionSpan
            | Self::SeamCheck
            | Self::Decision
            | Self::Standing
            | Self::Flag
            | Self::Unit => Concerns::CrewOfUnit,
            Self::Retraction | Self::Photo => Concerns::EitherCrew,
            Self::FleetFit
            | Self::SharedFit
            | Self::SharedDecision
            | Self::Crew
            | Self::Site
            | Self::Membrane
            | Self::Lot
            | Self::CriteriaException
            | Self::Criteria
            | Self::Policy => Concerns::Everybody,
        }
    }
}

coded_enum! {
    /// What happened to the thing that an entry is about.
    pub enum Happening {
        /// The feed tells of it for the first time.
        Added = "added",
        /// It is another than it was.
        Changed = "changed",
        /// It is there no more, or no longer the crew's.
        Gone = "gone",
    }
}

/// A place in an organization's change feed: behind the entry with this number. Ordered within one epoch only.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Place {
    /// The life of the database that gave the number.
    pub epoch: Uuid,
    /// Number of the entry before this place; 0 at the beginning.
    pub seq: i64,
}

/// One entry of the change feed.
#[derive(Debug, Clone, PartialEq)]
pub struct Change {
    /// The place behind it.
    pub place: Place,
    /// What it is about.
    pub kind: ChangeKind,
    /// Id of that.
    pub subject: Uuid,
    /// What happened to it.
    pub happening: Happening,
    /// When it was stored.
    pub at: DateTime<Utc>,
    /// The unit that it is about.
    pub unit: Option<Uuid>,
    /// The crew that the record names.
    pub crew: Option<Uuid>,
    /// When what it tells of happened, of records that are listed from a time on.
    pub since: Option<DateTime<Utc>>,
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Entries are written with the code of the record's kind.
    #[test]
    fn every_kind_of_record_is_told_of_under_its_own_name() {
        for kind in RecordKind::ALL {
            assert_eq!(ChangeKind::from(*kind).code(), kind.code());
        }
    }
}
