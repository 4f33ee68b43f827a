//! Flags as they are stored: in a sentence, with what may have caused a drift.

use std::collections::HashMap;

use chrono::{DateTime, Utc};
use lapwatch_domain::drift::causes::{self, CauseEvidence, CauseRanking};
use lapwatch_domain::drift::{Beside, Probe, Signal, SignalEnd, UnitSeries, changes_beside};
use lapwatch_domain::quantity::{Quantity as _, Voltage, VoltageUnit};
use lapwatch_domain::standing::{FlagFact, FlagKind, SeriesKey};
use uuid::Uuid;

use super::UnitFacts;
use crate::service::Result;
use crate::storage::derived::Flag;
use crate::storage::{Tenant, records};

/// The rows of the flags.
pub(super) async fn rows(
    tenant: &Tenant<'_>,
    facts: &UnitFacts,
    flags: &[FlagFact],
    series: &[UnitSeries],
) -> Result<Vec<Flag>> {
    // Few units drift: what was probed at the nozzle is read for those alone.
    let probes =
        if flags.iter().any(is_drift) { records::probes(tenant, facts.id).await? } else { HashMap::new() };
    let beside = beside(facts, probes);
    Ok(flags.iter().map(|flag| row(facts, flag, series, &beside)).collect())
}

const fn is_drift(flag: &FlagFact) -> bool {
    matches!(flag.kind, FlagKind::DriftUp | FlagKind::DriftDown)
}

fn row(facts: &UnitFacts, flag: &FlagFact, series: &[UnitSeries], beside: &[Beside]) -> Flag {
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
        causes: causes_of(facts, flag, series, beside),
        time_to_limit: flag.time_to_limit,
    }
}

/// What the unit's trials measured beside their strips, in order of time.
fn beside(facts: &UnitFacts, mut probes: HashMap<Uuid, Vec<Probe>>) -> Vec<Beside> {
    let volts = |voltage: Voltage| voltage.value_in(VoltageUnit::Volt);
    let rated = volts(facts.unit.rated_voltage);
    facts
        .history
        .iter()
        .map(|row| Beside {
            at: row.ordered_at,
            probes: probes.remove(&row.trial_id).unwrap_or_default(),
            voltage_ratio: row.voltage_loaded.map(|voltage| volts(voltage) / rated),
            speed_ratio: row.speed_ratio,
        })
        .collect()
}

/// Ranks what may have caused a drift, from how both edges have moved since its onset and what was measured beside.
fn causes_of(
    facts: &UnitFacts,
    flag: &FlagFact,
    series: &[UnitSeries],
    beside: &[Beside],
) -> Option<CauseRanking> {
    let SeriesKey::Edge(class, edge) = flag.series else { return None };
    let unit = series.iter().find(|unit| unit.class == class)?;
    let signal = unit.edge(edge).signals.iter().find(|signal| {
        signal.trial == flag.first_evidence && FlagKind::drift(signal.direction) == flag.kind
    })?;
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
