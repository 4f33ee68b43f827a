//! Flags as they are stored: in a sentence, with what may have caused a drift.

use chrono::{DateTime, Utc};
use lapwatch_domain::drift::causes::{self, CauseEvidence, CauseRanking};
use lapwatch_domain::drift::{Beside, Signal, SignalEnd, UnitSeries, changes_beside};
use lapwatch_domain::standing::{FlagFact, FlagKind, SeriesKey};

use super::UnitFacts;
use crate::storage::derived::Flag;

/// The rows of the flags.
pub(super) fn rows(facts: &UnitFacts, flags: &[FlagFact], series: &[UnitSeries]) -> Vec<Flag> {
    flags.iter().map(|flag| row(facts, flag, series)).collect()
}

fn row(facts: &UnitFacts, flag: &FlagFact, series: &[UnitSeries]) -> Flag {
    Flag {
        id: flag.id,
        unit_id: facts.id,
        kind: flag.kind,
        series: Some(flag.series.code()),
        state: flag.state,
        severity: flag.severity,
        opened_at: flag.opened_at,
        first_trial_id: flag.first_evidence,
        onset: flag.onset,
        shift: flag.shift,
        sentence: flag.sentence(facts.temperature_unit),
        causes: causes_of(facts, flag, series),
        time_to_limit: flag.time_to_limit,
    }
}

/// Ranks what may have caused a drift, from how both edges have moved since its onset and what was measured beside.
fn causes_of(facts: &UnitFacts, flag: &FlagFact, series: &[UnitSeries]) -> Option<CauseRanking> {
    let SeriesKey::Edge(class, edge) = flag.series else { return None };
    let unit = series.iter().find(|unit| unit.class == class)?;
    let signal = unit.edge(edge).signals.iter().find(|signal| {
        signal.trial == flag.first_evidence && FlagKind::drift(signal.direction) == flag.kind
    })?;
    let beside: Vec<Beside> = facts.beside.iter().map(|(_, beside)| beside.clone()).collect();
    let meanwhile = beside.partition_point(|beside| beside.at <= ended(signal));
    let (lower, upper) = signal.levels;
    let changes = changes_beside(
        &beside[..meanwhile],
        last_service(facts, signal.at),
        (signal.onset_first.at, signal.onset_last.at),
        lower + (upper - lower) * 0.5,
    );
    Some(causes::rank(&CauseEvidence::of_signal(edge, signal, &changes)))
}

fn ended(signal: &Signal) -> DateTime<Utc> {
    signal.end.map_or(DateTime::<Utc>::MAX_UTC, SignalEnd::at)
}

/// The last service with effect on heat before a time.
fn last_service(facts: &UnitFacts, before: DateTime<Utc>) -> Option<DateTime<Utc>> {
    let heat = facts.services.iter().filter(|service| service.affects_heat);
    heat.map(|service| service.at).filter(|at| *at < before).max()
}
