//! Flags: what was raised, when, by which trial, and what became of it.

use chrono::{DateTime, Utc};
use uuid::Uuid;

use super::withdrawal::{verdicts, withdrawals};
use super::{
    Decision, DecisionKind, FlagFact, FlagKind, FlagState, SeriesKey, Severity, TrialFact, UnitRecord,
};
use crate::drift::{Direction, EdgeSeries, Quiet, Signal, SignalEnd};
use crate::edges::Edge;
use crate::membrane::MaterialClass;
use crate::quantity::TemperatureDifference;
use crate::supply::LEAST_RESERVE;
use crate::trial::Outcome;

/// A set point closer than this to what the heater can reach is flagged.
const HEATER_RESERVE_K: f64 = LEAST_RESERVE.kelvin();
/// Margins up to which a drift is severe, and moderate.
const SEVERE_MARGIN_K: f64 = 5.0;
const MODERATE_MARGIN_K: f64 = 15.0;

/// A flag before decisions are applied.
struct Raised {
    kind: FlagKind,
    series: SeriesKey,
    first_evidence: Uuid,
    opened_at: DateTime<Utc>,
    /// What ended it by itself, and when.
    ended: Option<(FlagState, DateTime<Utc>)>,
}

/// Every flag that the record gives rise to up to `as_of`, oldest first.
#[must_use]
pub fn flags(record: &UnitRecord<'_>, as_of: DateTime<Utc>) -> Vec<FlagFact> {
    let trials = verdicts(record, as_of);
    let mut flags = drift_flags(record, &trials, as_of);
    for kind in [FlagKind::FailedTrial, FlagKind::MarginLost, FlagKind::HeaterLimit] {
        flags.extend(run_flags(record, &trials, kind, as_of));
    }
    flags.extend(channel_flags(record, as_of));
    flags.extend(withdrawals(record, as_of).into_iter().map(|withdrawal| {
        let raised = Raised {
            kind: FlagKind::Withdrawn,
            series: SeriesKey::Unit,
            first_evidence: withdrawal.trial,
            opened_at: withdrawal.at,
            ended: withdrawal.released_at.map(|at| (FlagState::Closed, at)),
        };
        decide(record, raised, Severity::Severe, as_of)
    }));
    flags.sort_by_key(|flag| (flag.opened_at, flag.series, flag.kind, flag.first_evidence));
    flags
}

/// The closings of drift flags, as [`crate::drift::unit_series`] takes them. A decision that names no series or kind
/// closes whichever drift stands.
#[must_use]
pub fn quiet_decisions(decisions: &[Decision]) -> Vec<Quiet> {
    let mut quiet = Vec::new();
    for decision in decisions.iter().filter(|decision| decision.kind == DecisionKind::Close) {
        for &class in MaterialClass::ALL {
            for &edge in Edge::ALL {
                for &direction in Direction::ALL {
                    if applies(decision, SeriesKey::Edge(class, edge), FlagKind::drift(direction)) {
                        quiet.push(Quiet { at: decision.at, class, edge, direction });
                    }
                }
            }
        }
    }
    quiet
}

fn drift_flags(record: &UnitRecord<'_>, trials: &[TrialFact], as_of: DateTime<Utc>) -> Vec<FlagFact> {
    let edges = record
        .series
        .iter()
        .flat_map(|series| [(series.class, &series.lower), (series.class, &series.upper)]);
    edges
        .flat_map(|(class, edge)| edge.signals.iter().map(move |signal| (class, edge, signal)))
        .filter(|(_, _, signal)| signal.at <= as_of)
        .map(|(class, edge, signal)| drift_flag(record, trials, class, edge, signal, as_of))
        .collect()
}

fn drift_flag(
    record: &UnitRecord<'_>,
    trials: &[TrialFact],
    class: MaterialClass,
    edge: &EdgeSeries,
    signal: &Signal,
    as_of: DateTime<Utc>,
) -> FlagFact {
    let ended = signal.end.map(|end| match end {
        SignalEnd::Service { at } => (FlagState::Closed, at),
        SignalEnd::Subsided { at, .. } => (FlagState::NotConfirmed, at),
    });
    let raised = Raised {
        kind: FlagKind::drift(signal.direction),
        series: SeriesKey::Edge(class, edge.edge),
        first_evidence: signal.trial,
        opened_at: signal.at,
        ended: ended.filter(|(_, at)| *at <= as_of),
    };
    let mut flag = decide(record, raised, Severity::Notice, as_of);
    flag.margin_left =
        trials.iter().rev().filter(|trial| trial.class == class).find_map(|trial| match edge.edge {
            Edge::Lower => trial.margin_below,
            Edge::Upper => trial.margin_above,
        });
    if flag.costs_margin() {
        flag.severity = severity_of(flag.margin_left);
    }
    flag.onset = Some((signal.onset_first.at, signal.onset_last.at));
    flag.shift = Some((signal.shift, signal.shift_sd));
    flag.chart_share = Some(signal.chart / signal.limit);
    if flag.costs_margin() && flag.stands() {
        let limit = record.limits.iter().find(|limit| (limit.class, limit.edge) == (class, edge.edge));
        flag.time_to_limit =
            signal.course.as_ref().zip(limit).map(|(course, limit)| course.reaches(limit.level));
    }
    flag
}

fn channel_flags(record: &UnitRecord<'_>, as_of: DateTime<Utc>) -> impl Iterator<Item = FlagFact> {
    let signals = record
        .channels
        .iter()
        .flat_map(|series| series.signals.iter().map(|signal| (series.channel, signal)));
    signals.filter(move |(_, signal)| signal.at <= as_of).map(move |(channel, signal)| {
        let ended = signal.ended.map(|(at, by_service)| {
            (if by_service { FlagState::Closed } else { FlagState::NotConfirmed }, at)
        });
        let raised = Raised {
            kind: FlagKind::channel(signal.direction),
            series: SeriesKey::Channel(channel),
            first_evidence: signal.trial,
            opened_at: signal.at,
            ended: ended.filter(|(_, at)| *at <= as_of),
        };
        let mut flag = decide(record, raised, Severity::Notice, as_of);
        flag.channel_change = Some(signal.change);
        flag
    })
}

fn severity_of(margin_left: Option<TemperatureDifference>) -> Severity {
    match margin_left.map(TemperatureDifference::kelvin) {
        Some(margin) if margin <= SEVERE_MARGIN_K => Severity::Severe,
        Some(margin) if margin > MODERATE_MARGIN_K => Severity::Notice,
        _ => Severity::Moderate,
    }
}

/// Flags that a run of trials raises with its first and that the next trial outside the run settles.
fn run_flags(
    record: &UnitRecord<'_>,
    trials: &[TrialFact],
    kind: FlagKind,
    as_of: DateTime<Utc>,
) -> Vec<FlagFact> {
    let mut flags: Vec<FlagFact> = Vec::new();
    let mut run: Option<&TrialFact> = None;
    let mut close = |first: &TrialFact, last: &TrialFact, ended: Option<DateTime<Utc>>| {
        let raised = Raised {
            kind,
            series: SeriesKey::Unit,
            first_evidence: first.trial,
            opened_at: first.at,
            ended: ended.map(|at| (FlagState::Closed, at)),
        };
        let severity = if kind == FlagKind::FailedTrial { Severity::Severe } else { Severity::Moderate };
        let mut flag = decide(record, raised, severity, as_of);
        if kind == FlagKind::HeaterLimit {
            flag.heater_reserve = last.heater_reserve;
        }
        flags.push(flag);
    };
    let mut last_inside: Option<&TrialFact> = None;
    for trial in trials {
        match (inside_run(kind, trial), run) {
            (Some(true), None) => (run, last_inside) = (Some(trial), Some(trial)),
            (Some(true), Some(_)) => last_inside = Some(trial),
            (Some(false), Some(first)) => {
                close(first, last_inside.unwrap_or(first), Some(trial.at));
                run = None;
            }
            _ => {}
        }
    }
    if let Some(first) = run {
        close(first, last_inside.unwrap_or(first), None);
    }
    flags
}

/// Whether the trial belongs to a run of the kind; `None` if it says nothing of the matter.
fn inside_run(kind: FlagKind, trial: &TrialFact) -> Option<bool> {
    match kind {
        FlagKind::FailedTrial => Some(trial.outcome == Outcome::Failed),
        // A failure does not mend a lost margin, nor is it one.
        FlagKind::MarginLost => match trial.outcome {
            Outcome::MarginLost => Some(true),
            Outcome::Stands => Some(false),
            Outcome::Failed | Outcome::NoVerdict => None,
        },
        FlagKind::HeaterLimit => trial.heater_reserve.map(|reserve| reserve.kelvin() < HEATER_RESERVE_K),
        FlagKind::DriftUp
        | FlagKind::DriftDown
        | FlagKind::Withdrawn
        | FlagKind::ChannelUp
        | FlagKind::ChannelDown => None,
    }
}

/// Whether a decision is about flags of this series and kind.
pub(super) fn applies(decision: &Decision, series: SeriesKey, kind: FlagKind) -> bool {
    decision.series.is_none_or(|named| named == series) && decision.concern.is_none_or(|named| named == kind)
}

/// Applies the decisions whose time lies in the flag's span.
fn decide(record: &UnitRecord<'_>, raised: Raised, severity: Severity, as_of: DateTime<Utc>) -> FlagFact {
    let last = raised.ended.map_or(as_of, |(_, at)| at);
    let mut decisions: Vec<&Decision> = record
        .decisions
        .iter()
        .filter(|decision| applies(decision, raised.series, raised.kind))
        .filter(|decision| (raised.opened_at..=last).contains(&decision.at))
        .collect();
    decisions.sort_by_key(|decision| (decision.at, decision.id));
    let first = |kinds: &[DecisionKind]| decisions.iter().find(|decision| kinds.contains(&decision.kind));
    // Closing a withdrawal states its cause; only the release ends it.
    let closed = first(&[DecisionKind::Close]).filter(|_| raised.kind != FlagKind::Withdrawn);
    let seen = first(&[DecisionKind::Acknowledge, DecisionKind::Assign]);
    let (state, state_since) = match (closed, raised.ended, seen) {
        (Some(decision), _, _) => (FlagState::Closed, decision.at),
        (None, Some(ended), _) => ended,
        (None, None, Some(decision)) => (FlagState::Acknowledged, decision.at),
        (None, None, None) => (FlagState::Open, raised.opened_at),
    };
    FlagFact {
        id: flag_id(record.unit, raised.series, raised.kind, raised.first_evidence),
        kind: raised.kind,
        series: raised.series,
        first_evidence: raised.first_evidence,
        opened_at: raised.opened_at,
        onset: None,
        severity,
        shift: None,
        chart_share: None,
        margin_left: None,
        state,
        state_since,
        decisions: decisions.iter().map(|decision| decision.id).collect(),
        heater_reserve: None,
        time_to_limit: None,
        channel_change: None,
    }
}

fn flag_id(unit: Uuid, series: SeriesKey, kind: FlagKind, first_evidence: Uuid) -> Uuid {
    Uuid::new_v5(&unit, format!("flag/{}/{}/{first_evidence}", series.code(), kind.code()).as_bytes())
}
