//! Derived state of a unit: charts, flags, standing, rechecks.
//!
//! It is a pure function of the unit's accepted records, decisions, configuration, the fit of the fleet in force and
//! `as_of`, worked out from what the database holds of them each time; only charts go on from those of before where that gives the same ([`ChartCache`]).
//! So it does not matter in which order records arrive or how often: only what is there counts. The lock on the unit's
//! row lets one derivation at a time read and write; the last one has read everything.

mod facts;
mod flags;

use std::collections::HashMap;
use std::sync::Arc;

use chrono::{DateTime, TimeDelta, Utc};
use chrono_tz::Tz;
use futures_util::TryFutureExt;
use lapwatch_domain::drift::{
    Beside, ChartSettings, EdgeSeries, Offsets, UnitSeries, channel_series, limit_levels,
};
use lapwatch_domain::edges::Edge;
use lapwatch_domain::heat::Conditions;
use lapwatch_domain::quantity::{Temperature, TemperatureUnit};
use lapwatch_domain::recheck::{
    self, DayEventFact, DayPlanFact, RecheckInput, RecheckPolicy, RecheckState, rechecks,
};
use lapwatch_domain::standing::{
    self, Decision, EdgeLimit, FlagFact, ServiceFact, TrialFact, UnitRecord, quiet_decisions,
};
use lapwatch_domain::suspect::{SeamCheckFact, SpanFact, SuspectSpan, suspects};
use tokio::try_join;
use uuid::Uuid;

use super::charts::{ChartFacts, Kept};
use super::{ChartCache, Result, change, shared, trials};
use crate::model::{self, CriteriaException, CriteriaSet, DatedPrior, Policy, Unit, Version, Weld};
use crate::storage::derived::{self, ChartEnd, Flag, Recheck, UnitState};
use crate::storage::records::{self, HistoryRow};
use crate::storage::{Tenant, configuration, fits};
pub(super) use facts::recheck_policy;
use facts::{
    Crewed, beside, day_event_fact, day_plan_fact, decision, seam_check_fact, service_fact, trial_fact,
};

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
    /// How its charts are made: by the policy, and by what the fleet's own trials said of heat shares.
    pub settings: ChartSettings,
    /// What the fleet's own trials said of strips, if they did.
    pub prior: Option<DatedPrior>,
    /// The criteria in force, and where others hold.
    pub criteria: CriteriaSet,
    /// See [`UnitFacts::criteria`].
    pub exceptions: Vec<Version<CriteriaException>>,
    /// Its trials, in order of time.
    pub history: Vec<HistoryRow>,
    /// What other units say of their sheets and days, which its charts take off.
    pub offsets: Vec<Offsets>,
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
    /// What its crew noted lately, or anybody of it.
    pub day_events: Vec<DayEventFact>,
    /// Checks of what was welded with it.
    pub seam_checks: Vec<SeamCheckFact>,
    /// What its trials measured beside their strips, in order of time.
    pub beside: Vec<(Uuid, Beside)>,
}

/// What follows from the facts.
#[derive(Debug)]
pub struct Derived {
    /// Its charts, and what they knew before each of its latest trials.
    pub(super) charts: Arc<Kept>,
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
        Self::load_since(tenant, id, as_of, as_of - LOOK_BACK).await
    }

    /// As [`Self::load`], with what happened on the unit's days from `since` on.
    ///
    /// # Errors
    /// As [`Self::load`].
    pub async fn load_since(
        tenant: &Tenant<'_>,
        id: Uuid,
        as_of: DateTime<Utc>,
        since: DateTime<Utc>,
    ) -> Result<Self> {
        // Sent together: the connection pipelines them.
        let (
            crewed,
            (_, policy),
            class_heat_shares,
            fit,
            criteria,
            exceptions,
            history,
            services,
            decisions,
            spans,
            seam_checks,
            probes,
        ) = try_join!(
            Crewed::load(tenant, id, as_of, since),
            configuration::policy(tenant, as_of).err_into(),
            fits::chart_shares(tenant, as_of).err_into(),
            fits::in_force(tenant, as_of).err_into(),
            configuration::criteria(tenant, as_of).err_into(),
            configuration::all_in_force::<CriteriaException>(tenant, as_of).err_into(),
            records::history(tenant, id).err_into(),
            records::service_events(tenant, Some(id)).err_into(),
            records::decisions(tenant, Some(id)).err_into(),
            records::production_spans(tenant, Some(id), since).err_into(),
            records::checks_of_spans(tenant, id, since).err_into(),
            records::probes(tenant, id).err_into(),
        )?;
        let offsets = shared::offsets(tenant, id, &history, as_of).await?;
        Ok(Self {
            id,
            zone: crewed.zone,
            temperature_unit: crewed.temperature_unit,
            settings: ChartSettings {
                promise_arl: policy.promise_arl_trials,
                class_heat_shares,
                fade_rate: fit.map(|(_, fade_rate)| fade_rate).unwrap_or_default(),
                ..ChartSettings::default()
            },
            prior: fit.map(|(prior, _)| prior),
            criteria: criteria.1,
            exceptions,
            policy,
            trials: history.iter().map(|row| trial_fact(row, &crewed.unit)).collect(),
            services: services.iter().map(service_fact).collect(),
            decisions: decisions.iter().map(decision).collect(),
            spans,
            day_plans: crewed.day_plans.iter().map(|plan| day_plan_fact(plan, id)).collect(),
            day_events: crewed.day_events.iter().map(day_event_fact).collect(),
            seam_checks: seam_checks.iter().map(seam_check_fact).collect(),
            beside: beside(&history, &crewed.unit, probes),
            unit: crewed.unit,
            history,
            offsets,
        })
    }

    /// Derives charts, flags, standing and suspect spans.
    ///
    /// # Errors
    /// [`Error::Storage`] when the evidence of its trials cannot be read.
    pub async fn derive(
        &self,
        tenant: &Tenant<'_>,
        charts: &ChartCache,
        as_of: DateTime<Utc>,
    ) -> Result<Derived> {
        let service = self.services.iter().filter(|service| service.affects_heat);
        let mut resets: Vec<DateTime<Utc>> = service.map(|service| service.at).collect();
        resets.sort_unstable();
        let facts = ChartFacts {
            unit: self.id,
            history: &self.history,
            offsets: &self.offsets,
            resets: resets.clone(),
            quiet: quiet_decisions(&self.decisions),
            settings: self.settings.clone(),
        };
        let charts = charts.charts(tenant, facts).await?;
        let limits = self.limits(charts.series(), as_of);
        let channels = channel_series(&self.beside, &resets, self.settings.promise_arl);
        let record = UnitRecord {
            unit: self.id,
            series: charts.series(),
            trials: &self.trials,
            services: &self.services,
            decisions: &self.decisions,
            limits: &limits,
            channels: &channels,
        };
        let flags = standing::flags(&record, as_of);
        let standing = standing::standing(&record, &flags, as_of);
        let spans: Vec<SpanFact> = self.span_facts();
        let suspects = suspects(&spans, &self.trials, &flags, &self.seam_checks);
        Ok(Derived { charts, flags, standing, suspects })
    }

    /// The levels at which the edges of each class use up the margin of its working set point, the last that a trial gave, by the
    /// criteria and the fit that hold now.
    fn limits(&self, series: &[UnitSeries], as_of: DateTime<Utc>) -> Vec<EdgeLimit> {
        let of_class = |unit: &UnitSeries| {
            let with_set_point = |(row, _): &(&HistoryRow, &Offsets)| {
                row.material_class == unit.class && row.set_point.is_some()
            };
            let (last, offsets) = self.history.iter().zip(&self.offsets).rfind(with_set_point)?;
            let sheet = last.sheet_temperature.unwrap_or(Conditions::reference().sheet);
            let working = unit.at_reference(last.set_point?, Conditions { sheet, speed: last.speed });
            let weld = Weld {
                site_id: last.site_id,
                membrane_ids: last.material.membranes,
                method: self.unit.weld_method,
                at: as_of,
            };
            let advice = trials::policy(&self.criteria.for_weld(&self.exceptions, &weld), self.prior);
            let (lower, upper) = limit_levels(working, advice.edge_prior.sigma_median, advice.share_limit);
            // Levels are those on ordinary sheets.
            let limit = |edge, level: Temperature| {
                let level = level - offsets.of(edge).mean;
                EdgeLimit { class: unit.class, edge, level }
            };
            Some([limit(Edge::Lower, lower), limit(Edge::Upper, upper)])
        };
        series.iter().filter_map(of_class).flatten().collect()
    }

    fn span_facts(&self) -> Vec<SpanFact> {
        let fact = |span: &model::ProductionSpan| SpanFact {
            span: span.id,
            from: span.from,
            to: span.to,
            membrane: span.membrane_id,
            lot: span.lot_id,
        };
        self.spans.iter().map(fact).collect()
    }

    /// Its rechecks by the policy in force, as they are stored.
    fn rechecks(&self, flags: &[FlagFact], series: &[UnitSeries], as_of: DateTime<Utc>) -> Vec<Recheck> {
        let found = self.scheduled(&recheck_policy(&self.policy), (flags, series), as_of);
        found.into_iter().map(|recheck| self.stored(recheck)).collect()
    }

    /// Its rechecks by any policy, given its flags and series.
    pub(super) fn scheduled(
        &self,
        policy: &RecheckPolicy,
        (flags, series): (&[FlagFact], &[UnitSeries]),
        as_of: DateTime<Utc>,
    ) -> Vec<recheck::Recheck> {
        let spans = self.span_facts();
        let heat_shares: Vec<_> = series.iter().map(|unit| (unit.class, unit.mean_heat_share())).collect();
        rechecks(&RecheckInput {
            unit: self.id,
            policy,
            zone: self.zone,
            day_plans: &self.day_plans,
            trials: &self.trials,
            spans: &spans,
            day_events: &self.day_events,
            services: &self.services,
            heat_shares: &heat_shares,
            flags,
            decisions: &self.decisions,
            as_of,
        })
    }

    fn stored(&self, recheck: recheck::Recheck) -> Recheck {
        Recheck {
            id: recheck.id,
            unit_id: self.id,
            crew_id: self.unit.crew_id,
            reasons: recheck.reasons,
            purpose: recheck.purpose,
            due_on: recheck.due_on,
            due_at: recheck.due_at,
            // Time alone makes it overdue: that is told on reading.
            state: match recheck.state {
                RecheckState::Overdue => RecheckState::Open,
                state => state,
            },
            satisfied_by: recheck.satisfied_by,
        }
    }
}

/// Locks the units, then derives and stores the state of each, with the change entries of what differs.
///
/// # Errors
/// [`Error::Storage`].
pub async fn units(
    tenant: &Tenant<'_>,
    charts: &ChartCache,
    ids: &[Uuid],
    as_of: DateTime<Utc>,
) -> Result<()> {
    let mut ids = ids.to_vec();
    ids.sort_unstable();
    ids.dedup();
    let mut changes = Vec::new();
    units_noting((tenant, charts), &ids, as_of, &mut changes).await?;
    if changes.is_empty() { Ok(()) } else { change::append(tenant, &changes, as_of).await }
}

/// As [`units`], for units each of which is named once, in order; notes the changes instead of appending them.
pub(super) async fn units_noting(
    charts: (&Tenant<'_>, &ChartCache),
    ids: &[Uuid],
    as_of: DateTime<Utc>,
    changes: &mut Vec<(&'static str, Uuid)>,
) -> Result<()> {
    if ids.is_empty() {
        return Ok(());
    }
    derived::lock_units(charts.0, ids).await?;
    for id in ids {
        unit(charts, *id, as_of, changes).await?;
    }
    Ok(())
}

/// As [`units`], for one unit that is locked already; notes the changes instead of appending them, and answers what was
/// derived.
pub(super) async fn unit(
    (tenant, charts): (&Tenant<'_>, &ChartCache),
    id: Uuid,
    as_of: DateTime<Utc>,
    changes: &mut Vec<(&'static str, Uuid)>,
) -> Result<(UnitFacts, Derived)> {
    let (facts, before) = try_join!(UnitFacts::load(tenant, id, as_of), Before::load(tenant, id, as_of))?;
    let derived = facts.derive(tenant, charts, as_of).await?;
    let flags = flags::rows(&facts, &derived.flags, derived.charts.series());
    let rechecks = facts.rechecks(&derived.flags, derived.charts.series(), as_of);
    let state = unit_state(&facts, &derived, as_of);

    let (flags_gone, flags_new) = difference(&before.flags, &flags, |flag| flag.id);
    changes.extend(touched(&flags_gone, flags_new.iter().map(|flag| flag.id)).map(|id| ("flag", id)));
    let (rechecks_gone, rechecks_new) = difference(&before.rechecks, &rechecks, |recheck| recheck.id);
    let rechecks_touched = touched(&rechecks_gone, rechecks_new.iter().map(|recheck| recheck.id));
    changes.extend(rechecks_touched.map(|id| ("recheck", id)));
    if before.state.is_none_or(|before| UnitState { derived_at: state.derived_at, ..before } != state) {
        changes.push(("standing", id));
    }
    let ends = chart_ends(derived.charts.series());
    let histories = async {
        if ends == before.ends { Ok(()) } else { derived::replace_histories(tenant, id, &ends).await }
    };
    try_join!(
        derived::replace_flags(tenant, &flags_gone, &flags_new),
        derived::replace_rechecks(tenant, &rechecks_gone, &rechecks_new),
        histories,
        derived::update_unit_state(tenant, &state),
    )?;
    Ok((facts, derived))
}

/// What is stored of a unit's derived state.
struct Before {
    flags: Vec<Flag>,
    rechecks: Vec<Recheck>,
    state: Option<UnitState>,
    /// By class and edge.
    ends: Vec<ChartEnd>,
}

impl Before {
    async fn load(tenant: &Tenant<'_>, id: Uuid, as_of: DateTime<Utc>) -> Result<Self> {
        let of_unit = derived::FlagFilter { unit_id: Some(id), ..Default::default() };
        let rechecks_of_unit = derived::RecheckFilter { unit_id: Some(id), ..Default::default() };
        let (flags, rechecks, mut states, ends) = try_join!(
            derived::flags(tenant, of_unit),
            derived::rechecks(tenant, rechecks_of_unit, as_of),
            derived::unit_states(tenant, Some(id)),
            derived::histories(tenant, id),
        )?;
        Ok(Self { flags, rechecks, state: states.pop(), ends })
    }
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
        margins: with_set_point.and_then(HistoryRow::margins),
        derived_at: Some(as_of),
    }
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
    let mut ends: Vec<ChartEnd> =
        series.iter().flat_map(|unit| [end(unit.class, &unit.lower), end(unit.class, &unit.upper)]).collect();
    ends.sort_by_key(|end| (end.material_class.code(), end.edge.code()));
    ends
}
