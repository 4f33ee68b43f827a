//! Derived state of a unit: charts, flags, standing, rechecks.
//!
//! It is a pure function of the unit's accepted records, decisions, configuration and `as_of`, computed anew from all
//! of them each time. So it does not matter in which order records arrive or how often: only what is there counts. The
//! lock on the unit's row lets one derivation at a time read and write; the last one has read everything.

use std::collections::HashMap;

use chrono::{DateTime, TimeDelta, Utc};
use chrono_tz::Tz;
use lapwatch_domain::drift::causes::{self, CauseEvidence, Change};
use lapwatch_domain::drift::{ChartSettings, EdgeSeries, HistoryEntry, UnitSeries, unit_series};
use lapwatch_domain::edges::Edge;
use lapwatch_domain::quantity::TemperatureUnit;
use lapwatch_domain::recheck::{DayPlanFact, RecheckInput, RecheckPolicy, RecheckState, rechecks};
use lapwatch_domain::standing::{
    self, Decision, FlagFact, FlagKind, SeriesKey, ServiceFact, TrialFact, UnitRecord, quiet_decisions,
};
use lapwatch_domain::suspect::{SpanFact, SuspectSpan, suspects};
use uuid::Uuid;

use super::{Error, Result, change};
use crate::model::{self, Crew, Policy, Site, Unit};
use crate::storage::derived::{self, ChartEnd, Flag, Recheck, UnitState};
use crate::storage::records::{self, EvidenceRow};
use crate::storage::{Tenant, configuration};

/// How far back spans and day plans bear on what is suspect or due: rechecks are listed for 60 local days.
pub(super) const LOOK_BACK: TimeDelta = TimeDelta::days(63);

/// Everything that a unit's derived state follows from.
#[derive(Debug)]
pub struct UnitFacts {
    /// The unit's id.
    pub id: Uuid,
    /// The unit as it is now.
    pub unit: Unit,
    /// Time zone of the site of its crew; UTC when it has none.
    pub zone: Tz,
    /// Scale on which that crew works.
    pub temperature_unit: TemperatureUnit,
    /// The organization's policy.
    pub policy: Policy,
    /// Its trials with their evidence, in order of time.
    pub history: Vec<EvidenceRow>,
    /// The same trials as standing and rechecks see them.
    pub trials: Vec<TrialFact>,
    /// Its service events.
    pub services: Vec<ServiceFact>,
    /// What people decided about it.
    pub decisions: Vec<Decision>,
    /// What was welded with it lately.
    pub spans: Vec<model::ProductionSpan>,
    /// Its crew's day plans.
    pub day_plans: Vec<DayPlanFact>,
}

/// What follows from the facts.
#[derive(Debug)]
pub struct Derived {
    /// Its charts, one set a sheet class.
    pub series: Vec<UnitSeries>,
    /// Every flag there has been.
    pub flags: Vec<FlagFact>,
    /// Where it stands.
    pub standing: standing::Standing,
    /// Spans to look at.
    pub suspects: Vec<SuspectSpan>,
}

impl UnitFacts {
    /// Reads the facts of one unit.
    ///
    /// # Errors
    /// [`Error::NotFound`] when there is no such unit; [`Error::Storage`].
    pub async fn load(tenant: &Tenant<'_>, id: Uuid, as_of: DateTime<Utc>) -> Result<Self> {
        let unit =
            configuration::in_force::<Unit>(tenant, id, as_of).await?.ok_or(Error::NotFound("unit"))?.value;
        let (zone, temperature_unit) = habits(tenant, unit.crew_id, as_of).await?;
        let (_, policy) = configuration::policy(tenant, as_of).await?;
        let history = records::history(tenant, id).await?;
        let since = as_of - LOOK_BACK;
        let day_plans = match unit.crew_id {
            Some(crew) => records::day_plans(tenant, Some(crew), since.date_naive()).await?,
            None => Vec::new(),
        };
        Ok(Self {
            id,
            zone,
            temperature_unit,
            policy,
            trials: history.iter().map(trial_fact).collect(),
            services: records::service_events(tenant, Some(id)).await?.iter().map(service_fact).collect(),
            decisions: records::decisions(tenant, Some(id)).await?.iter().map(decision).collect(),
            spans: records::production_spans(tenant, Some(id), since).await?,
            day_plans: day_plans.iter().map(|plan| day_plan_fact(plan, id)).collect(),
            unit,
            history,
        })
    }

    /// Derives charts, flags, standing and suspect spans.
    pub fn derive(&self, as_of: DateTime<Utc>) -> Derived {
        let entries: Vec<HistoryEntry<'_>> = self
            .history
            .iter()
            .map(|row| HistoryEntry {
                trial: row.trial_id,
                at: row.ordered_at,
                class: row.material_class,
                sheet: row.sheet_temperature,
                speed: row.speed,
                lower: &row.lower,
                upper: &row.upper,
            })
            .collect();
        let resets: Vec<DateTime<Utc>> =
            self.services.iter().filter(|service| service.affects_heat).map(|service| service.at).collect();
        let settings =
            ChartSettings { promise_arl: self.policy.promise_arl_trials, ..ChartSettings::default() };
        let series = unit_series(&entries, &resets, &quiet_decisions(&self.decisions), &settings);
        let record = UnitRecord {
            unit: self.id,
            series: &series,
            trials: &self.trials,
            services: &self.services,
            decisions: &self.decisions,
        };
        let flags = standing::flags(&record, as_of);
        let standing = standing::standing(&record, &flags, as_of);
        let spans: Vec<SpanFact> = self.span_facts();
        let suspects = suspects(&spans, &self.trials, &flags);
        Derived { series, flags, standing, suspects }
    }

    fn span_facts(&self) -> Vec<SpanFact> {
        self.spans.iter().map(|span| SpanFact { span: span.id, from: span.from, to: span.to }).collect()
    }

    fn rechecks(&self, flags: &[FlagFact], as_of: DateTime<Utc>) -> Vec<Recheck> {
        let policy = recheck_policy(&self.policy);
        let spans = self.span_facts();
        let input = RecheckInput {
            unit: self.id,
            policy: &policy,
            zone: self.zone,
            day_plans: &self.day_plans,
            trials: &self.trials,
            spans: &spans,
            flags,
            decisions: &self.decisions,
            as_of,
        };
        rechecks(&input)
            .into_iter()
            .map(|recheck| Recheck {
                id: recheck.id,
                unit_id: self.id,
                crew_id: self.unit.crew_id,
                reasons: recheck.reasons,
                purpose: recheck.purpose,
                due_on: recheck.due_on,
                due_at: recheck.due_at,
                // Time alone makes it overdue: that is told on reading.
                state: if recheck.state == RecheckState::Overdue {
                    RecheckState::Open
                } else {
                    recheck.state
                },
                satisfied_by: recheck.satisfied_by,
            })
            .collect()
    }
}

/// Locks the units, then derives and stores the state of each, with the change entries of what differs.
///
/// # Errors
/// [`Error::Storage`].
pub async fn units(tenant: &Tenant<'_>, ids: &[Uuid], as_of: DateTime<Utc>) -> Result<()> {
    let mut ids = ids.to_vec();
    ids.sort_unstable();
    ids.dedup();
    derived::lock_units(tenant, &ids).await?;
    let mut changes = Vec::new();
    for id in ids {
        unit(tenant, id, as_of, &mut changes).await?;
    }
    if changes.is_empty() { Ok(()) } else { change::append(tenant, &changes, as_of).await }
}

/// As [`units`], for one unit that is locked already; notes the changes instead of appending them, and answers what was
/// derived.
pub(super) async fn unit(
    tenant: &Tenant<'_>,
    id: Uuid,
    as_of: DateTime<Utc>,
    changes: &mut Vec<(&'static str, Uuid)>,
) -> Result<(UnitFacts, Derived)> {
    let facts = UnitFacts::load(tenant, id, as_of).await?;
    let derived = facts.derive(as_of);
    store_flags(tenant, &facts, &derived, changes).await?;
    store_rechecks(tenant, &facts, &derived, as_of, changes).await?;
    derived::replace_histories(tenant, id, &chart_ends(&derived.series)).await?;
    let state = unit_state(&facts, &derived, as_of);
    let before = derived::unit_states(tenant, Some(id)).await?;
    if before
        .first()
        .is_none_or(|before| UnitState { derived_at: state.derived_at, ..before.clone() } != state)
    {
        changes.push(("standing", id));
    }
    derived::update_unit_state(tenant, &state).await?;
    Ok((facts, derived))
}

fn unit_state(facts: &UnitFacts, derived: &Derived, as_of: DateTime<Utc>) -> UnitState {
    let with_set_point = facts.history.iter().rev().find(|row| row.set_point.is_some());
    UnitState {
        unit_id: facts.id,
        standing: derived.standing.code,
        since: derived.standing.since,
        reasons: derived.standing.reasons.clone(),
        last_trial: facts.history.last().map(|row| (row.trial_id, row.ordered_at, row.outcome)),
        set_point: with_set_point.and_then(|row| row.set_point),
        margins: with_set_point.and_then(EvidenceRow::margins),
        derived_at: Some(as_of),
    }
}

async fn store_flags(
    tenant: &Tenant<'_>,
    facts: &UnitFacts,
    derived: &Derived,
    changes: &mut Vec<(&'static str, Uuid)>,
) -> Result<()> {
    let now: Vec<Flag> = derived.flags.iter().map(|flag| flag_row(facts, flag, &derived.series)).collect();
    let filter = derived::FlagFilter { unit_id: Some(facts.id), ..Default::default() };
    let before = derived::flags(tenant, filter).await?;
    let (gone, new) = difference(&before, &now, |flag| flag.id);
    changes.extend(touched(&gone, new.iter().map(|flag| flag.id)).map(|id| ("flag", id)));
    Ok(derived::replace_flags(tenant, &gone, &new).await?)
}

async fn store_rechecks(
    tenant: &Tenant<'_>,
    facts: &UnitFacts,
    derived: &Derived,
    as_of: DateTime<Utc>,
    changes: &mut Vec<(&'static str, Uuid)>,
) -> Result<()> {
    let now = facts.rechecks(&derived.flags, as_of);
    let filter = derived::RecheckFilter { unit_id: Some(facts.id), ..Default::default() };
    let before = derived::rechecks(tenant, filter, as_of).await?;
    let (gone, new) = difference(&before, &now, |recheck| recheck.id);
    changes.extend(touched(&gone, new.iter().map(|recheck| recheck.id)).map(|id| ("recheck", id)));
    Ok(derived::replace_rechecks(tenant, &gone, &new).await?)
}

/// Ids of rows that are no longer there or differ, and the rows that are new or differ.
fn difference<'a, T: PartialEq>(
    before: &[T],
    now: &'a [T],
    id: impl Fn(&T) -> Uuid,
) -> (Vec<Uuid>, Vec<&'a T>) {
    let old: HashMap<Uuid, &T> = before.iter().map(|row| (id(row), row)).collect();
    let new: Vec<&T> = now.iter().filter(|row| old.get(&id(row)) != Some(row)).collect();
    let kept: HashMap<Uuid, &T> = now.iter().map(|row| (id(row), row)).collect();
    let gone = before.iter().filter(|row| kept.get(&id(row)) != Some(row)).map(&id).collect();
    (gone, new)
}

/// Every id once.
fn touched(gone: &[Uuid], new: impl Iterator<Item = Uuid>) -> impl Iterator<Item = Uuid> {
    let mut ids: Vec<Uuid> = gone.iter().copied().chain(new).collect();
    ids.sort_unstable();
    ids.dedup();
    ids.into_iter()
}

fn chart_ends(series: &[UnitSeries]) -> Vec<ChartEnd> {
    let end = |class, edge: &EdgeSeries| {
        let last = edge.points.last();
        ChartEnd {
            material_class: class,
            edge: edge.edge,
            trials: edge.points.len(),
            effective_trials: edge.effective_trials,
            level: edge.level.map(|level| (level.mean, level.sd)),
            up: last.map_or(0.0, |point| point.up),
            down: last.map_or(0.0, |point| point.down),
            limit: edge.limit,
            learning: edge.learning,
            signal_trial_id: edge.signal().map(|signal| signal.trial),
        }
    };
    series.iter().flat_map(|unit| [end(unit.class, &unit.lower), end(unit.class, &unit.upper)]).collect()
}

fn flag_row(facts: &UnitFacts, flag: &FlagFact, series: &[UnitSeries]) -> Flag {
    let causes = match flag.kind {
        FlagKind::DriftUp | FlagKind::DriftDown => causes_of(flag, series),
        _ => None,
    };
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
        causes,
    }
}

/// Ranks what may have caused a drift, from the present shift of both edges of the flag's sheet class.
fn causes_of(flag: &FlagFact, series: &[UnitSeries]) -> Option<causes::CauseRanking> {
    let SeriesKey::Edge(class, _) = flag.series else { return None };
    let unit = series.iter().find(|unit| unit.class == class)?;
    let change =
        |edge: &EdgeSeries| edge.signal().map(|signal| Change { by: signal.shift, sd: signal.shift_sd });
    Some(causes::rank(&CauseEvidence {
        lower_level: unit.edge(Edge::Lower).level?.mean,
        upper_level: unit.edge(Edge::Upper).level?.mean,
        lower: change(&unit.lower),
        upper: change(&unit.upper),
        gap_low: None,
        gap_high: None,
        voltage_ratio: None,
        speed_ratio: None,
    }))
}

/// Where and how the crew works that has the unit: time zone of its site and its scale; UTC and °C when there is none.
async fn habits(tenant: &Tenant<'_>, crew: Option<Uuid>, at: DateTime<Utc>) -> Result<(Tz, TemperatureUnit)> {
    let none = (Tz::UTC, TemperatureUnit::Celsius);
    let Some(crew) = crew else { return Ok(none) };
    let Some(crew) = configuration::in_force::<Crew>(tenant, crew, at).await? else { return Ok(none) };
    let site = configuration::in_force::<Site>(tenant, crew.value.site_id, at).await?;
    Ok((site.map_or(Tz::UTC, |site| site.value.time_zone), crew.value.temperature_unit))
}

fn recheck_policy(policy: &Policy) -> RecheckPolicy {
    RecheckPolicy {
        shift_start: policy.shift_start,
        grace: TimeDelta::minutes(i64::from(policy.trial_due_after_min)),
        edge_finding_days: u32::from(policy.edge_finding_interval_days),
        in_use_days: u32::from(policy.in_use_days),
        working_days: policy
            .working_days
            .iter()
            .filter_map(|day| chrono::Weekday::try_from(day.checked_sub(1)?).ok())
            .collect(),
        ..RecheckPolicy::default()
    }
}

fn trial_fact(row: &EvidenceRow) -> TrialFact {
    let margins = row.margins();
    TrialFact {
        trial: row.trial_id,
        at: row.ordered_at,
        class: row.material_class,
        purpose: row.purpose,
        outcome: row.outcome,
        margin_below: margins.map(|(below, _)| below),
        margin_above: margins.map(|(_, above)| above),
        heater_reserve: None,
    }
}

fn service_fact(event: &model::ServiceEvent) -> ServiceFact {
    ServiceFact { at: event.performed_at, affects_heat: event.affects_heat }
}

fn decision(decision: &model::Decision) -> Decision {
    Decision {
        id: decision.id,
        kind: decision.kind,
        series: decision.series.as_deref().and_then(SeriesKey::from_code),
        concern: decision.concern.as_deref().and_then(FlagKind::from_code),
        at: decision.decided_at,
    }
}

fn day_plan_fact(plan: &model::DayPlan, unit: Uuid) -> DayPlanFact {
    DayPlanFact {
        date: plan.date,
        welding: plan.welding,
        names_unit: plan.unit_ids.contains(&unit),
        recorded_at: plan.recorded_at,
    }
}
