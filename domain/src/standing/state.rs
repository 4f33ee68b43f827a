//! The standing of a unit.

use chrono::{DateTime, Duration, Utc};

use super::withdrawal::{Withdrawal, verdicts, withdrawals};
use super::{FlagFact, FlagKind, SeriesKey, Standing, StandingCode, StandingReason, UnitRecord};
use crate::drift::{EdgeSeries, Point, UnitSeries, WARNING_SHARE};
use crate::edges::Edge;

/// A series counts while its last trial is at most this old.
const RECENT_DAYS: i64 = 60;
/// Of so many last trials more than half have to lack the temperature of the sheet before that is said.
const LOOKED_AT: usize = 10;

/// How the unit stands at `as_of`, given its [`flags`](super::flags) of that time: the worst of its series with a trial
/// in the last 60 days, and of its trials.
#[must_use]
pub fn standing(record: &UnitRecord<'_>, flags: &[FlagFact], as_of: DateTime<Utc>) -> Standing {
    if let Some(withdrawal) = withdrawals(record, as_of).last().filter(|last| last.released_at.is_none()) {
        return withdrawn(withdrawal);
    }
    let recent: Vec<&UnitSeries> = record.series.iter().filter(|series| is_recent(series, as_of)).collect();
    let standing_flags: Vec<&FlagFact> = flags
        .iter()
        .filter(|flag| flag.stands())
        .filter(|flag| flag.class().is_none_or(|class| recent.iter().any(|series| series.class == class)))
        .collect();
    drifting(&standing_flags)
        .or_else(|| warning(&recent, &standing_flags))
        .unwrap_or_else(|| quiet(record, &recent, flags, as_of))
}

fn withdrawn(withdrawal: &Withdrawal) -> Standing {
    let awaits = match (withdrawal.mended_at, withdrawal.proven_at) {
        (None, _) => StandingReason::AwaitsService,
        (Some(_), None) => StandingReason::AwaitsTwoGoodTrials,
        (Some(_), Some(_)) => StandingReason::AwaitsRelease,
    };
    Standing {
        code: StandingCode::Withdrawn,
        since: Some(withdrawal.at),
        reasons: vec![StandingReason::TwoFailuresInARow, awaits],
    }
}

fn drifting(flags: &[&FlagFact]) -> Option<Standing> {
    let drifts: Vec<(&FlagFact, StandingReason)> =
        flags.iter().filter_map(|flag| drift_reason(flag).map(|reason| (*flag, reason))).collect();
    let since = drifts.iter().map(|(flag, _)| flag.opened_at).min()?;
    let mut reasons: Vec<StandingReason> = drifts.iter().map(|(_, reason)| *reason).collect();
    reasons.sort_unstable();
    reasons.dedup();
    Some(Standing { code: StandingCode::Drifting, since: Some(since), reasons })
}

const fn drift_reason(flag: &FlagFact) -> Option<StandingReason> {
    match (flag.series, flag.kind) {
        (SeriesKey::Edge(_, Edge::Lower), FlagKind::DriftUp) => Some(StandingReason::LowerEdgeUp),
        (SeriesKey::Edge(_, Edge::Lower), FlagKind::DriftDown) => Some(StandingReason::LowerEdgeDown),
        (SeriesKey::Edge(_, Edge::Upper), FlagKind::DriftUp) => Some(StandingReason::UpperEdgeUp),
        (SeriesKey::Edge(_, Edge::Upper), FlagKind::DriftDown) => Some(StandingReason::UpperEdgeDown),
        _ => None,
    }
}

fn warning(recent: &[&UnitSeries], flags: &[&FlagFact]) -> Option<Standing> {
    let of_flags = flags.iter().filter_map(|flag| {
        let reason = match flag.kind {
            FlagKind::FailedTrial => StandingReason::TrialFailed,
            FlagKind::MarginLost => StandingReason::MarginLost,
            FlagKind::HeaterLimit => StandingReason::HeaterNearLimit,
            FlagKind::ChannelUp | FlagKind::ChannelDown => StandingReason::ChannelMoved,
            FlagKind::DriftUp | FlagKind::DriftDown | FlagKind::Withdrawn => return None,
        };
        Some((reason, flag.opened_at))
    });
    let of_charts =
        edges(recent).filter_map(near_limit_since).map(|since| (StandingReason::ChartNearLimit, since));
    let mut found: Vec<(StandingReason, DateTime<Utc>)> = of_flags.chain(of_charts).collect();
    let since = found.iter().map(|(_, at)| *at).min()?;
    found.sort_unstable_by_key(|(reason, _)| weight(*reason));
    let mut reasons: Vec<StandingReason> = found.into_iter().map(|(reason, _)| reason).collect();
    reasons.dedup();
    Some(Standing { code: StandingCode::Warning, since: Some(since), reasons })
}

const fn weight(reason: StandingReason) -> u8 {
    match reason {
        StandingReason::TrialFailed => 0,
        StandingReason::MarginLost => 1,
        StandingReason::ChartNearLimit => 2,
        _ => 3,
    }
}

/// Since when the chart has been near its limit without a break; `None` if it is not, or if a signal of it stands (a
/// person may have closed that; it is quiet then).
fn near_limit_since(edge: &EdgeSeries) -> Option<DateTime<Utc>> {
    if edge.signals.last().is_some_and(|signal| signal.end.is_none()) {
        return None;
    }
    let near = edge.points.iter().rev().take_while(|point| point.height() >= WARNING_SHARE);
    near.last().map(|point| point.at)
}

/// Neither drifting nor warning: steady, or too new to say.
fn quiet(
    record: &UnitRecord<'_>,
    recent: &[&UnitSeries],
    flags: &[FlagFact],
    as_of: DateTime<Utc>,
) -> Standing {
    let first_trial = verdicts(record, as_of).first().map(|trial| trial.at);
    if recent.is_empty() {
        return Standing {
            code: StandingCode::New,
            since: first_trial,
            reasons: vec![StandingReason::NoRecentTrial],
        };
    }
    let Some(speaks_since) = edges(recent).filter_map(speaks_since).min() else {
        let since = edges(recent).filter_map(segment_start).min();
        let reasons =
            [StandingReason::TooFewTrials].into_iter().chain(missing_sheet(record, as_of)).collect();
        return Standing { code: StandingCode::New, since, reasons };
    };
    let settled = flags.iter().filter(|flag| !flag.stands()).map(|flag| flag.state_since);
    let calm = edges(recent).filter_map(calm_since);
    let since = settled.chain(calm).chain([speaks_since]).max();
    let mut reasons = vec![StandingReason::ChartsQuiet];
    if edges(recent).any(|edge| edge.learning) {
        reasons.push(StandingReason::StillLearning);
    }
    reasons.extend(missing_sheet(record, as_of));
    Standing { code: StandingCode::Steady, since, reasons }
}

/// A chart allows a sheet of unknown temperature so much that only large shifts show: worth a word.
fn missing_sheet(record: &UnitRecord<'_>, as_of: DateTime<Utc>) -> Option<StandingReason> {
    let trials = verdicts(record, as_of);
    let last = &trials[trials.len().saturating_sub(LOOKED_AT)..];
    let missing = last.iter().filter(|trial| trial.sheet.is_none()).count();
    (2 * missing > last.len()).then_some(StandingReason::SheetTemperatureMissing)
}

fn edges<'a>(series: &'a [&'a UnitSeries]) -> impl Iterator<Item = &'a EdgeSeries> {
    series.iter().flat_map(|series| [&series.lower, &series.upper])
}

fn is_recent(series: &UnitSeries, as_of: DateTime<Utc>) -> bool {
    series.lower.points.last().is_some_and(|point| as_of - point.at <= Duration::days(RECENT_DAYS))
}

/// The points since the last restart.
fn segment(edge: &EdgeSeries) -> impl Iterator<Item = &Point> {
    // After a service event that no trial has followed yet there is no level, and no point counts.
    let present = edge.level.and(edge.points.last()).map(|point| point.segment);
    edge.points.iter().filter(move |point| Some(point.segment) == present)
}

fn segment_start(edge: &EdgeSeries) -> Option<DateTime<Utc>> {
    segment(edge).next().or(edge.points.last()).map(|point| point.at)
}

fn speaks_since(edge: &EdgeSeries) -> Option<DateTime<Utc>> {
    segment(edge).find(|point| point.speaks).map(|point| point.at)
}

/// The first trial after the last one that found the chart near its limit.
fn calm_since(edge: &EdgeSeries) -> Option<DateTime<Utc>> {
    let points: Vec<&Point> = segment(edge).collect();
    let last_near = points.iter().rposition(|point| point.height() >= WARNING_SHARE)?;
    points.get(last_near + 1).map(|point| point.at)
}
