//! Flags.

use chrono::{DateTime, Utc};
use lapwatch_domain::drift::TimeToLimit;
use lapwatch_domain::drift::causes::{Cause, CauseRanking, Measurement, RankedCause};
use lapwatch_domain::quantity::TemperatureDifference;
use lapwatch_domain::standing::{FlagKind, FlagState, Severity};
use serde::{Deserialize, Serialize};
use tokio_postgres::Row;
use tokio_postgres::types::{Json, ToSql};
use uuid::Uuid;

use super::delete;
use crate::storage::access::{coded, decode};
use crate::storage::si::{Stored, optional};
use crate::storage::{Error, Result, Tenant};

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
    /// When a drift uses up the margin of the working set point.
    pub time_to_limit: Option<TimeToLimit>,
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
        let limit = flag.time_to_limit.map(TimeToLimit::code);
        let (earliest, middle, latest) = flag.time_to_limit.and_then(TimeToLimit::span).map_or_else(
            || (None, None, None),
            |(earliest, middle, latest)| (Some(earliest), Some(middle), Some(latest)),
        );
        let params: [&(dyn ToSql + Sync); 18] = [
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
            &limit,
            &earliest,
            &middle,
            &latest,
        ];
        tenant.execute(include_str!("insert_flag.sql"), &params).await?;
    }
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
        Some(unit) => tenant.rows(include_str!("unit_flags.sql"), &[&unit, &state, &filter.id]).await?,
        None => tenant.rows(include_str!("flags.sql"), &[&state, &filter.id]).await?,
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
        time_to_limit: limit_from(row)?,
    })
}

fn limit_from(row: &Row) -> Result<Option<TimeToLimit>> {
    let Some(code) = row.get::<_, Option<&str>>("limit_state") else { return Ok(None) };
    let at = |column: &str| row.get::<_, Option<DateTime<Utc>>>(column);
    let span = at("limit_earliest").zip(at("limit_middle")).zip(at("limit_latest"));
    let span = span.map(|((earliest, middle), latest)| (earliest, middle, latest));
    let known = TimeToLimit::from_parts(code, span);
    known.map(Some).ok_or_else(|| Error::Corrupt(format!("`{code}` is no time to a limit")))
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
