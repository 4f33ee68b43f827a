//! Derived state: standings, chart ends, flags, rechecks, and the change feed.

use chrono::{DateTime, NaiveDate, Utc};
use futures_util::future::try_join_all;
use lapwatch_domain::drift::causes::{Cause, CauseRanking, Measurement, RankedCause};
use lapwatch_domain::edges::Edge;
use lapwatch_domain::membrane::MaterialClass;
use lapwatch_domain::quantity::{Temperature, TemperatureDifference};
use lapwatch_domain::recheck::{RecheckReason, RecheckState};
use lapwatch_domain::standing::{FlagKind, FlagState, Severity, StandingCode, StandingReason};
use lapwatch_domain::trial::{Outcome, Purpose};
use serde::{Deserialize, Serialize};
use tokio_postgres::Row;
use tokio_postgres::types::{Json, ToSql};
use uuid::Uuid;

use super::access::{coded, decode};
use super::si::{Stored, optional};
use super::{Result, Tenant};

/// Where a unit stands.
#[derive(Debug, Clone, PartialEq)]
pub struct UnitState {
    /// The unit.
    pub unit_id: Uuid,
    /// What the evidence says of it.
    pub standing: StandingCode,
    /// Since when.
    pub since: Option<DateTime<Utc>>,
    /// Why.
    pub reasons: Vec<StandingReason>,
    /// Its last trial: id, time, outcome.
    pub last_trial: Option<(Uuid, DateTime<Utc>, Outcome)>,
    /// The set point of the last trial that gave one.
    pub set_point: Option<Temperature>,
    /// Its margins to the ends of the band.
    pub margins: Option<(TemperatureDifference, TemperatureDifference)>,
    /// The instant up to which rechecks were scheduled.
    pub derived_at: Option<DateTime<Utc>>,
}

/// Makes the state row of a unit, if it has none.
pub async fn ensure_unit_state(tenant: &Tenant<'_>, unit: Uuid) -> Result<()> {
    tenant.execute(include_str!("derived/ensure_unit_state.sql"), &[&unit]).await?;
    Ok(())
}

/// Locks units against other derivations, always in the order of their ids so that two transactions cannot wait for
/// each other. What is read after this statement includes everything that was committed before it returned.
pub async fn lock_units(tenant: &Tenant<'_>, units: &[Uuid]) -> Result<()> {
    tenant.rows(include_str!("derived/lock_units.sql"), &[&units]).await?;
    Ok(())
}

/// Writes where a unit stands.
pub async fn update_unit_state(tenant: &Tenant<'_>, state: &UnitState) -> Result<()> {
    let reasons: Vec<&str> = state.reasons.iter().map(|reason| reason.code()).collect();
    let (last_id, last_at, last_outcome) = match state.last_trial {
        Some((id, at, outcome)) => (Some(id), Some(at), Some(outcome.code())),
        None => (None, None, None),
    };
    let params: [&(dyn ToSql + Sync); 11] = [
        &state.unit_id,
        &state.standing.code(),
        &state.since,
        &reasons,
        &last_id,
        &last_at,
        &last_outcome,
        &state.set_point.map(Stored::si),
        &state.margins.map(|(below, _)| below.si()),
        &state.margins.map(|(_, above)| above.si()),
        &state.derived_at,
    ];
    tenant.execute(include_str!("derived/update_unit_state.sql"), &params).await?;
    Ok(())
}

/// Where every unit, or one, stands.
pub async fn unit_states(tenant: &Tenant<'_>, unit: Option<Uuid>) -> Result<Vec<UnitState>> {
    let rows = match unit {
        Some(unit) => tenant.rows(include_str!("derived/unit_state.sql"), &[&unit]).await?,
        None => tenant.rows(include_str!("derived/unit_states.sql"), &[]).await?,
    };
    rows.iter().map(state_from).collect()
}

fn state_from(row: &Row) -> Result<UnitState> {
    let below = optional(row, "margin_below_k")?;
    let above = optional(row, "margin_above_k")?;
    let last_trial = match row.get::<_, Option<Uuid>>("last_trial_id") {
        Some(id) => Some((id, row.get("last_trial_at"), coded(row, "last_outcome")?)),
        None => None,
    };
    Ok(UnitState {
        unit_id: row.get("unit_id"),
        standing: coded(row, "standing")?,
        since: row.get("standing_since"),
        reasons: codes(row, "reasons")?,
        last_trial,
        set_point: optional(row, "set_point_c")?,
        margins: below.zip(above),
        derived_at: row.get("derived_at"),
    })
}

fn codes<T: lapwatch_domain::Coded>(row: &Row, column: &str) -> Result<Vec<T>> {
    row.get::<_, Vec<&str>>(column).into_iter().map(decode).collect()
}

/// Units whose rechecks were last scheduled before `before`.
pub async fn stale_units(tenant: &Tenant<'_>, before: DateTime<Utc>) -> Result<Vec<Uuid>> {
    let rows = tenant.rows(include_str!("derived/stale_units.sql"), &[&before]).await?;
    Ok(rows.iter().map(|row| row.get(0)).collect())
}

/// The end of one edge's chart.
#[derive(Debug, Clone, PartialEq)]
pub struct ChartEnd {
    /// Sheet class.
    pub material_class: MaterialClass,
    /// Edge.
    pub edge: Edge,
    /// Trials in the series.
    pub trials: usize,
    /// What they are worth, in edge-finding trials.
    pub effective_trials: f64,
    /// Level at reference conditions with its standard deviation.
    pub level: Option<(Temperature, TemperatureDifference)>,
    /// The chart of rising.
    pub up: f64,
    /// The chart of falling.
    pub down: f64,
    /// Its limit.
    pub limit: f64,
    /// Whether too little is known to call the edge known.
    pub learning: bool,
    /// The trial of the standing signal.
    pub signal_trial_id: Option<Uuid>,
}

/// Replaces the chart ends of a unit.
pub async fn replace_histories(tenant: &Tenant<'_>, unit: Uuid, ends: &[ChartEnd]) -> Result<()> {
    tenant.execute("DELETE FROM history WHERE organization_id = $1 AND unit_id = $2", &[&unit]).await?;
    // Sent together: the connection pipelines them.
    try_join_all(ends.iter().map(|end| insert_history(tenant, unit, end))).await?;
    Ok(())
}

async fn insert_history(tenant: &Tenant<'_>, unit: Uuid, end: &ChartEnd) -> Result<()> {
    let trials = i32::try_from(end.trials).unwrap_or(i32::MAX);
    let params: [&(dyn ToSql + Sync); 12] = [
        &unit,
        &end.material_class.code(),
        &end.edge.code(),
        &trials,
        &end.effective_trials,
        &end.level.map(|(mean, _)| mean.si()),
        &end.level.map(|(_, sd)| sd.si()),
        &end.up,
        &end.down,
        &end.limit,
        &end.learning,
        &end.signal_trial_id,
    ];
    tenant.execute(include_str!("derived/insert_history.sql"), &params).await?;
    Ok(())
}

/// The chart ends of a unit.
pub async fn histories(tenant: &Tenant<'_>, unit: Uuid) -> Result<Vec<ChartEnd>> {
    tenant.rows(include_str!("derived/histories.sql"), &[&unit]).await?.iter().map(end_from).collect()
}

fn end_from(row: &Row) -> Result<ChartEnd> {
    let level = optional(row, "level_c")?;
    let sd = optional(row, "level_sd_k")?;
    Ok(ChartEnd {
        material_class: coded(row, "material_class")?,
        edge: coded(row, "edge")?,
        trials: usize::try_from(row.get::<_, i32>("trials")).unwrap_or(0),
        effective_trials: row.get("effective_trials"),
        level: level.zip(sd),
        up: row.get("chart_up"),
        down: row.get("chart_down"),
        limit: row.get("chart_limit"),
        learning: row.get("learning"),
        signal_trial_id: row.get("signal_trial_id"),
    })
}

/// A raised concern.
#[derive(Debug, Clone, PartialEq)]
pub struct Flag {
    /// Id, derived from unit, series, kind and first evidence.
    pub id: Uuid,
    /// The unit.
    pub unit_id: Uuid,
    /// What it is.
    pub kind: FlagKind,
    /// What it is about, as a code.
    pub series: Option<String>,
    /// Where it stands.
    pub state: FlagState,
    /// How soon somebody should act.
    pub severity: Severity,
    /// When the trial that raised it was performed.
    pub opened_at: DateTime<Utc>,
    /// The trial that raised it.
    pub first_trial_id: Uuid,
    /// The range in which a drift began.
    pub onset: Option<(DateTime<Utc>, DateTime<Utc>)>,
    /// The shift of the edge with its standard deviation.
    pub shift: Option<(TemperatureDifference, TemperatureDifference)>,
    /// The flag in a sentence.
    pub sentence: String,
    /// What may have caused a drift.
    pub causes: Option<CauseRanking>,
}

impl Flag {
    /// Whether it still asks for somebody.
    pub fn is_unsettled(&self) -> bool {
        matches!(self.state, FlagState::Open | FlagState::Acknowledged)
    }
}

/// Replaces those flags whose ids are `gone` by `flags`.
pub async fn replace_flags(tenant: &Tenant<'_>, gone: &[Uuid], flags: &[&Flag]) -> Result<()> {
    delete(tenant, "DELETE FROM flag WHERE organization_id = $1 AND id = $2", gone).await?;
    for flag in flags {
        let (onset_from, onset_to) = flag.onset.unzip();
        let params: [&(dyn ToSql + Sync); 14] = [
            &flag.id,
            &flag.unit_id,
            &flag.kind.code(),
            &flag.series,
            &flag.state.code(),
            &flag.severity.code(),
            &flag.opened_at,
            &flag.first_trial_id,
            &onset_from,
            &onset_to,
            &flag.shift.map(|(shift, _)| shift.si()),
            &flag.shift.map(|(_, sd)| sd.si()),
            &flag.sentence,
            &Json(flag.causes.as_ref().map(Causes::from)),
        ];
        tenant.execute(include_str!("derived/insert_flag.sql"), &params).await?;
    }
    Ok(())
}

/// Deletes rows one by one, sent together: each is found by its key, whatever the plan was made for.
async fn delete(tenant: &Tenant<'_>, sql: &str, ids: &[Uuid]) -> Result<()> {
    try_join_all(ids.iter().map(async |id| tenant.execute(sql, &[id]).await)).await?;
    Ok(())
}

/// Which flags to list.
#[derive(Debug, Clone, Copy, Default)]
pub struct FlagFilter {
    /// Of this unit.
    pub unit_id: Option<Uuid>,
    /// In this state.
    pub state: Option<FlagState>,
    /// This one alone.
    pub id: Option<Uuid>,
}

/// Flags, the latest first.
pub async fn flags(tenant: &Tenant<'_>, filter: FlagFilter) -> Result<Vec<Flag>> {
    let state = filter.state.map(FlagState::code);
    let rows = match filter.unit_id {
        Some(unit) => {
            tenant.rows(include_str!("derived/unit_flags.sql"), &[&unit, &state, &filter.id]).await?
        }
        None => tenant.rows(include_str!("derived/flags.sql"), &[&state, &filter.id]).await?,
    };
    rows.iter().map(flag_from).collect()
}

fn flag_from(row: &Row) -> Result<Flag> {
    let onset: Option<DateTime<Utc>> = row.get("onset_from");
    let shift = optional(row, "shift_k")?;
    let shift_sd = optional(row, "shift_sd_k")?;
    Ok(Flag {
        id: row.get("id"),
        unit_id: row.get("unit_id"),
        kind: coded(row, "kind")?,
        series: row.get("series"),
        state: coded(row, "state")?,
        severity: coded(row, "severity")?,
        opened_at: row.get("opened_at"),
        first_trial_id: row.get("first_trial_id"),
        onset: onset.zip(row.get("onset_to")),
        shift: shift.zip(shift_sd),
        sentence: row.get("sentence"),
        causes: row.get::<_, Json<Option<Causes>>>("causes").0.map(Causes::ranking).transpose()?,
    })
}

/// The JSON form of a ranking in its column.
#[derive(Debug, Serialize, Deserialize)]
struct Causes {
    ranked: Vec<(String, f64)>,
    named: Option<String>,
    tell_apart: Vec<String>,
    sentence: String,
}

impl From<&CauseRanking> for Causes {
    fn from(ranking: &CauseRanking) -> Self {
        Self {
            ranked: ranking
                .ranked
                .iter()
                .map(|ranked| (ranked.cause.code().to_owned(), ranked.ln_behind))
                .collect(),
            named: ranking.named.map(|cause| cause.code().to_owned()),
            tell_apart: ranking.tell_apart.iter().map(|measurement| measurement.code().to_owned()).collect(),
            sentence: ranking.sentence.clone(),
        }
    }
}

impl Causes {
    fn ranking(self) -> Result<CauseRanking> {
        let ranked = |(cause, ln_behind): (String, f64)| {
            Ok(RankedCause { cause: decode::<Cause>(&cause)?, ln_behind })
        };
        Ok(CauseRanking {
            ranked: self.ranked.into_iter().map(ranked).collect::<Result<_>>()?,
            named: self.named.as_deref().map(decode).transpose()?,
            tell_apart: self
                .tell_apart
                .iter()
                .map(|code| decode::<Measurement>(code))
                .collect::<Result<_>>()?,
            sentence: self.sentence,
        })
    }
}

/// A scheduled trial.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Recheck {
    /// Id, derived from the unit and the local day.
    pub id: Uuid,
    /// The unit.
    pub unit_id: Uuid,
    /// The crew that has it.
    pub crew_id: Option<Uuid>,
    /// Why, the weightiest first.
    pub reasons: Vec<RecheckReason>,
    /// What kind of trial.
    pub purpose: Purpose,
    /// The local day.
    pub due_on: NaiveDate,
    /// When it is overdue.
    pub due_at: DateTime<Utc>,
    /// Where it stands.
    pub state: RecheckState,
    /// The trial that satisfied it.
    pub satisfied_by: Option<Uuid>,
}

impl Recheck {
    /// Where it stands at `now`: an open one turns overdue by the passing of time alone.
    pub fn state_at(&self, now: DateTime<Utc>) -> RecheckState {
        match self.state {
            RecheckState::Open | RecheckState::Overdue if self.due_at <= now => RecheckState::Overdue,
            RecheckState::Overdue => RecheckState::Open,
            state => state,
        }
    }

    /// Whether it still waits for a trial.
    pub fn is_pending(&self) -> bool {
        matches!(self.state, RecheckState::Open | RecheckState::Overdue)
    }
}

/// Replaces those rechecks whose ids are `gone` by `rechecks`.
pub async fn replace_rechecks(tenant: &Tenant<'_>, gone: &[Uuid], rechecks: &[&Recheck]) -> Result<()> {
    delete(tenant, "DELETE FROM recheck WHERE organization_id = $1 AND id = $2", gone).await?;
    for recheck in rechecks {
        let reasons: Vec<&str> = recheck.reasons.iter().map(|reason| reason.code()).collect();
        let params: [&(dyn ToSql + Sync); 9] = [
            &recheck.id,
            &recheck.unit_id,
            &recheck.crew_id,
            &reasons,
            &recheck.purpose.code(),
            &recheck.due_on,
            &recheck.due_at,
            &recheck.state.code(),
            &recheck.satisfied_by,
        ];
        tenant.execute(include_str!("derived/insert_recheck.sql"), &params).await?;
    }
    Ok(())
}

/// Which rechecks to list.
#[derive(Debug, Clone, Copy, Default)]
pub struct RecheckFilter {
    /// Of this unit.
    pub unit_id: Option<Uuid>,
    /// Of this crew.
    pub crew_id: Option<Uuid>,
    /// In this state at the time of asking.
    pub state: Option<RecheckState>,
}

/// Rechecks, the latest due first.
pub async fn rechecks(
    tenant: &Tenant<'_>,
    filter: RecheckFilter,
    now: DateTime<Utc>,
) -> Result<Vec<Recheck>> {
    let state = filter.state.map(RecheckState::code);
    let crew = filter.crew_id;
    let rows = match filter.unit_id {
        Some(unit) => {
            tenant.rows(include_str!("derived/unit_rechecks.sql"), &[&unit, &crew, &state, &now]).await?
        }
        None => tenant.rows(include_str!("derived/rechecks.sql"), &[&crew, &state, &now]).await?,
    };
    rows.iter().map(recheck_from).collect()
}

fn recheck_from(row: &Row) -> Result<Recheck> {
    Ok(Recheck {
        id: row.get("id"),
        unit_id: row.get("unit_id"),
        crew_id: row.get("crew_id"),
        reasons: codes(row, "reasons")?,
        purpose: coded(row, "purpose")?,
        due_on: row.get("due_on"),
        due_at: row.get("due_at"),
        state: coded(row, "state")?,
        satisfied_by: row.get("satisfied_by"),
    })
}

/// Appends entries to the change feed; see the statement for what it promises.
pub async fn append_changes(
    tenant: &Tenant<'_>,
    kinds: &[&str],
    ids: &[Uuid],
    now: DateTime<Utc>,
) -> Result<()> {
    tenant.execute(include_str!("derived/append_changes.sql"), &[&kinds, &ids, &now]).await?;
    Ok(())
}

/// Every recheck that waits for a trial, the latest due first.
pub async fn pending_rechecks(tenant: &Tenant<'_>) -> Result<Vec<Recheck>> {
    tenant.rows(include_str!("derived/pending_rechecks.sql"), &[]).await?.iter().map(recheck_from).collect()
}
