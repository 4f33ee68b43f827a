//! Codes as words. Each `match` is exhaustive: a new code does not compile until it has its words.

use lapwatch_domain::acceptance::{EvidenceGrade, Reading};
use lapwatch_domain::band::Limit;
use lapwatch_domain::drift::Channel;
use lapwatch_domain::drift::causes::{Cause, Measurement};
use lapwatch_domain::edges::Edge;
use lapwatch_domain::membrane::{MaterialClass, WeldMethod};
use lapwatch_domain::recheck::{RecheckReason, RecheckState};
use lapwatch_domain::standing::{DecisionKind, FlagKind, FlagState, StandingCode};
use lapwatch_domain::suspect::Urgency;
use lapwatch_domain::trial::{Outcome, Purpose};

use crate::model::ServiceKind;

pub(super) fn standing(code: StandingCode) -> &'static str {
    match code {
        StandingCode::New => "New",
        StandingCode::Steady => "Steady",
        StandingCode::Warning => "Warning",
        StandingCode::Drifting => "Drifting",
        StandingCode::Withdrawn => "Withdrawn",
    }
}

pub(super) fn outcome(outcome: Outcome) -> &'static str {
    match outcome {
        Outcome::Stands => "Stands",
        Outcome::MarginLost => "Margin lost",
        Outcome::Failed => "Failed",
        Outcome::NoVerdict => "No verdict",
    }
}

pub(super) fn reading(reading: Reading) -> &'static str {
    match reading {
        Reading::Cold => "Cold",
        Reading::Sound => "Sound",
        Reading::Hot => "Hot",
        Reading::Narrow => "Narrow",
        Reading::Contaminated => "Contaminated",
        Reading::Unclear => "Unclear",
        Reading::NotCounted => "Not counted",
    }
}

/// A trial of this purpose, as a noun.
pub(super) fn purpose(purpose: Purpose) -> &'static str {
    match purpose {
        Purpose::Commissioning => "commissioning trial",
        Purpose::Sweep => "sweep for both edges",
        Purpose::Confirmation => "confirmation",
        Purpose::Recheck => "recheck",
    }
}

/// The purpose in one word, for tables.
pub(super) fn purpose_short(purpose: Purpose) -> &'static str {
    match purpose {
        Purpose::Commissioning => "Commissioning",
        Purpose::Sweep => "Sweep",
        Purpose::Confirmation => "Confirmation",
        Purpose::Recheck => "Recheck",
    }
}

pub(super) fn recheck_reason(reason: RecheckReason) -> &'static str {
    match reason {
        RecheckReason::FailedTrial => "the last trial failed",
        RecheckReason::DriftFlag => "a drift flag stands",
        RecheckReason::MarginLost => "the margin was lost",
        RecheckReason::MarginRunsOut => "a drift will soon have used up the margin",
        RecheckReason::Service => "service has changed how it heats",
        RecheckReason::NewSheet => "another membrane or lot is welded",
        RecheckReason::SetUpChanged => "supply, cord, nozzle or airflow were changed",
        RecheckReason::ConditionsChanged => "sheet or wind are beyond what the last trial covers",
        RecheckReason::Restarted => "it was started again",
        RecheckReason::OperatorChanged => "somebody else runs it",
        RecheckReason::EdgeFinding => "its edges have not been looked for in a while",
        RecheckReason::Daily => "trial of the day",
    }
}

/// Several reasons in one line.
pub(super) fn recheck_reasons(reasons: &[RecheckReason]) -> String {
    reasons.iter().map(|reason| recheck_reason(*reason)).collect::<Vec<_>>().join(", ")
}

pub(super) fn recheck_state(state: RecheckState) -> &'static str {
    match state {
        RecheckState::Open => "due",
        RecheckState::Overdue => "overdue",
        RecheckState::Satisfied => "done",
        RecheckState::Missed => "missed: a later one took its place",
        RecheckState::Waived => "waived",
    }
}

pub(super) fn flag_kind(kind: FlagKind) -> &'static str {
    match kind {
        FlagKind::DriftUp => "Drift up",
        FlagKind::DriftDown => "Drift down",
        FlagKind::FailedTrial => "Failed trial",
        FlagKind::MarginLost => "Margin lost",
        FlagKind::Withdrawn => "Withdrawn",
        FlagKind::HeaterLimit => "Near the heater's limit",
        FlagKind::ChannelUp => "Measured higher",
        FlagKind::ChannelDown => "Measured lower",
    }
}

/// A quantity measured beside the strips.
pub(super) const fn channel(channel: Channel) -> &'static str {
    match channel {
        Channel::NozzleGap => "nozzle against setting",
        Channel::VoltsUnderLoad => "volts under load",
        Channel::TimedSpeed => "timed against set speed",
        Channel::BandWidth => "band width",
    }
}

pub(super) fn flag_state(state: FlagState) -> &'static str {
    match state {
        FlagState::Open => "open, nobody has seen it yet",
        FlagState::Acknowledged => "seen",
        FlagState::Closed => "closed",
        FlagState::NotConfirmed => "not confirmed by later evidence",
    }
}

pub(super) fn cause(cause: Cause) -> &'static str {
    match cause {
        Cause::SensorBias => "A sensor that reads wrong by a constant",
        Cause::HeatTransfer => "Heat transfer or dwell: nozzle distance, build-up",
        Cause::HeaterOrSupply => "A fading heater or a sagging supply",
        Cause::Airflow => "Low airflow",
        Cause::DriveSpeed => "A drive that runs off its setting",
        Cause::NipPressure => "Too little roller pressure",
        Cause::Sheet => "The sheet itself",
    }
}

pub(super) fn measurement(measurement: Measurement) -> &'static str {
    match measurement {
        Measurement::NozzleProbeAtTwoSetPoints => "Probe the air at the nozzle at two set points.",
        Measurement::TimedRun => "Time a run over a marked length.",
        Measurement::VoltsUnderLoad => "Measure the voltage under load at the machine.",
        Measurement::AirflowCheck => "Look through air intake and nozzle; measure the airflow.",
        Measurement::RollerCheck => "Check the roller's pressure.",
        Measurement::OtherUnitSameSheet => "Weld the same sheet with another unit.",
    }
}

/// Everything that was done in one visit.
pub(super) fn service_work(work: &[ServiceKind]) -> String {
    let (first, rest) =
        work.split_first().map_or(("", &[][..]), |(first, rest)| (service_kind(*first), rest));
    rest.iter()
        .fold(first.to_owned(), |words, work| format!("{words}, {}", service_kind(*work).to_lowercase()))
}

/// The same where there is little room.
pub(super) fn service_work_short(work: &[ServiceKind]) -> String {
    match work {
        [first] => service_kind(*first).to_owned(),
        [first, rest @ ..] => format!("{} +{}", service_kind(*first), rest.len()),
        [] => String::new(),
    }
}

/// What was done.
fn service_kind(kind: ServiceKind) -> &'static str {
    match kind {
        ServiceKind::HeaterReplaced => "Heater replaced",
        ServiceKind::NozzleCleaned => "Nozzle cleaned",
        ServiceKind::NozzleReplaced => "Nozzle replaced",
        ServiceKind::SensorCalibrated => "Sensor calibrated",
        ServiceKind::BlowerServiced => "Blower serviced",
        ServiceKind::DriveServiced => "Drive serviced",
        ServiceKind::RollerServiced => "Roller serviced",
        ServiceKind::CordReplaced => "Cord replaced",
        ServiceKind::Inspection => "Inspection",
        ServiceKind::Other => "Other work",
    }
}

pub(super) fn material_class(class: MaterialClass) -> &'static str {
    match class {
        MaterialClass::Pvc => "PVC",
        MaterialClass::Kee => "KEE/PVC blend",
        MaterialClass::Tpo => "TPO",
        MaterialClass::Other => "other sheet",
    }
}

pub(super) fn weld_method(method: WeldMethod) -> &'static str {
    match method {
        WeldMethod::Automatic => "self-propelled",
        WeldMethod::Hand => "hand welder",
    }
}

pub(super) fn edge(edge: Edge) -> &'static str {
    match edge {
        Edge::Lower => "lower edge",
        Edge::Upper => "upper edge",
    }
}

pub(super) fn grade(grade: EvidenceGrade) -> &'static str {
    match grade {
        EvidenceGrade::Full => "full",
        EvidenceGrade::Limited => "limited",
        EvidenceGrade::Poor => "poor",
    }
}

pub(super) fn urgency(urgency: Urgency) -> &'static str {
    match urgency {
        Urgency::BeforeCovering => "before it is covered",
        Urgency::NextVisit => "at the next visit",
    }
}

/// What ends a band.
pub(super) fn limit(limit: Limit) -> &'static str {
    match limit {
        Limit::ColdShare => "the share of cold strips",
        Limit::HotShare => "the share of hot strips",
        Limit::CoolestStep => "the coolest step tried",
        Limit::HottestStep => "the hottest step tried",
        Limit::CoolestSound => "the coolest sound step",
        Limit::HottestSound => "the hottest sound step",
        Limit::LowerReserve => "the reserve kept because no strip was cold",
        Limit::UpperReserve => "the reserve kept because no strip was hot",
        Limit::MakerCeiling => "the membrane maker's ceiling",
        Limit::OrganizationCeiling => "the organization's ceiling",
        Limit::UnitMaximum => "the unit's highest setting",
    }
}
/// What somebody did about a shift that several welders share.
pub(super) fn decision(kind: DecisionKind) -> &'static str {
    match kind {
        DecisionKind::Acknowledge => "Seen",
        DecisionKind::Assign => "Assigned",
        DecisionKind::Remark => "Remark",
        DecisionKind::Waive => "Waived",
        DecisionKind::Close => "Closed",
        DecisionKind::Release => "Released",
    }
}
