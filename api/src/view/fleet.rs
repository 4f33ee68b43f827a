//! The fleet, standings, flags, rechecks and suspect spans. Temperatures are in °C.

use chrono::{DateTime, NaiveDate, Utc};
use lapwatch_domain::drift::TimeToLimit;
use lapwatch_domain::drift::causes::CauseRanking;
use lapwatch_domain::quantity::TemperatureUnit::Celsius;
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;

use super::{apart, on, ratio};
use crate::service::fleet::FleetRow;
use crate::service::steps::WithSteps;
use crate::service::trials::Suspect;
use crate::service::units::Situation;
use crate::storage::derived;
use crate::wire::Measurement;

/// Where a unit stands.
#[derive(Debug, Serialize, ToSchema)]
pub struct Standing {
    /// `new`, `steady`, `warning`, `drifting` or `withdrawn`.
    #[schema(example = "steady")]
    pub code: &'static str,
    /// Since when; null for a unit without trials.
    pub since: Option<DateTime<Utc>>,
    /// Codes of the reasons, the weightiest first.
    pub reasons: Vec<&'static str>,
}

impl From<&derived::UnitState> for Standing {
    fn from(state: &derived::UnitState) -> Self {
        Self {
            code: state.standing.code(),
            since: state.since,
            reasons: state.reasons.iter().map(|reason| reason.code()).collect(),
        }
    }
}

/// A raised concern.
#[derive(Debug, Serialize, ToSchema)]
pub struct Flag {
    /// Id. It may change when a late record moves the first evidence; a decision names series, concern and time too.
    pub id: Uuid,
    /// The unit.
    pub unit_id: Uuid,
    /// `drift_up`, `drift_down`, `failed_trial`, `margin_lost`, `withdrawn`, `heater_limit`, or `channel_up` and `channel_down`: a
    /// quantity measured beside the strips has risen or fallen.
    #[schema(example = "drift_up")]
    pub kind: &'static str,
    /// What it is about: `unit`, sheet class and edge, or a quantity measured beside the strips, such as
    /// `channel.volts_under_load`.
    #[schema(example = "pvc.lower")]
    pub series: Option<String>,
    /// `open`, `acknowledged`, `closed` or `not_confirmed`.
    #[schema(example = "open")]
    pub state: &'static str,
    /// `notice`, `moderate` or `severe`.
    #[schema(example = "moderate")]
    pub severity: &'static str,
    /// When the trial that raised it was performed.
    pub opened_at: DateTime<Utc>,
    /// The trial that raised it.
    pub first_trial_id: Uuid,
    /// The range in which a drift began.
    pub onset: Option<Onset>,
    /// How far the edge has moved, a difference.
    pub shift: Option<Measurement>,
    /// Standard deviation of the shift.
    pub shift_standard_deviation: Option<Measurement>,
    /// The flag in a sentence.
    pub sentence: String,
    /// What may have caused a drift; null for other kinds.
    pub causes: Option<Causes>,
    /// When a drift that costs margin has used up that of the set point; null for other flags, and where none is known.
    pub margin_used_up: Option<MarginUsedUp>,
}

/// When a drift has used up the margin of the set point in use, if the edge goes on as it does.
#[derive(Debug, Serialize, ToSchema)]
pub struct MarginUsedUp {
    /// `between` the times given; `too_early` to say; `not_approaching`: it has moved once and stands; `reached`: probably
    /// used up already.
    #[schema(example = "between")]
    pub state: &'static str,
    /// Not before this time, 97.5 %.
    pub earliest: Option<DateTime<Utc>>,
    /// As likely before as after.
    pub middle: Option<DateTime<Utc>>,
    /// Not after this time, 97.5 %.
    pub latest: Option<DateTime<Utc>>,
}

/// The range in which a drift began.
#[derive(Debug, Serialize, ToSchema)]
pub struct Onset {
    /// Not before.
    pub from: DateTime<Utc>,
    /// Not after.
    pub to: DateTime<Utc>,
}

/// What may have caused a drift.
#[derive(Debug, Serialize, ToSchema)]
pub struct Causes {
    /// Candidates, the likeliest first.
    pub ranked: Vec<Cause>,
    /// The leading one, only if the evidence singles it out.
    pub named: Option<&'static str>,
    /// Measurements that would tell the leading ones apart.
    pub tell_apart: Vec<&'static str>,
    /// The same in a sentence.
    pub sentence: String,
}

/// A candidate cause.
#[derive(Debug, Serialize, ToSchema)]
pub struct Cause {
    /// Stable code.
    #[schema(example = "heater_or_supply")]
    pub cause: &'static str,
    /// ln of its integrated likelihood, less that of the likeliest.
    #[schema(example = -1.4)]
    pub ln_behind: f64,
}

impl From<&CauseRanking> for Causes {
    fn from(ranking: &CauseRanking) -> Self {
        let cause = |ranked: &lapwatch_domain::drift::causes::RankedCause| Cause {
            cause: ranked.cause.code(),
            ln_behind: ratio(ranked.ln_behind),
        };
        Self {
            ranked: ranking.ranked.iter().map(cause).collect(),
            named: ranking.named.map(|cause| cause.code()),
            tell_apart: ranking.tell_apart.iter().map(|measurement| measurement.code()).collect(),
            sentence: ranking.sentence.clone(),
        }
    }
}

impl From<&derived::Flag> for Flag {
    fn from(flag: &derived::Flag) -> Self {
        Self {
            id: flag.id,
            unit_id: flag.unit_id,
            kind: flag.kind.code(),
            series: flag.series.clone(),
            state: flag.state.code(),
            severity: flag.severity.code(),
            opened_at: flag.opened_at,
            first_trial_id: flag.first_trial_id,
            onset: flag.onset.map(|(from, to)| Onset { from, to }),
            shift: flag.shift.map(|(shift, _)| apart(Celsius, shift)),
            shift_standard_deviation: flag.shift.map(|(_, sd)| apart(Celsius, sd)),
            sentence: flag.sentence.clone(),
            causes: flag.causes.as_ref().map(Causes::from),
            margin_used_up: flag.time_to_limit.map(MarginUsedUp::from),
        }
    }
}

impl From<TimeToLimit> for MarginUsedUp {
    fn from(time: TimeToLimit) -> Self {
        let span = time.span();
        Self {
            state: time.code(),
            earliest: span.map(|(earliest, ..)| earliest),
            middle: span.map(|(_, middle, _)| middle),
            latest: span.map(|(.., latest)| latest),
        }
    }
}

/// A trial that is due.
#[derive(Debug, Serialize, ToSchema)]
pub struct Recheck {
    /// Id.
    pub id: Uuid,
    /// The unit.
    pub unit_id: Uuid,
    /// The crew that has it.
    pub crew_id: Option<Uuid>,
    /// Why, the weightiest first: `failed_trial`, `drift_flag`, `margin_lost`, `edge_finding`, `daily`.
    pub reasons: Vec<&'static str>,
    /// The purpose the trial should have.
    #[schema(example = "confirmation")]
    pub purpose: &'static str,
    /// The local day.
    pub due_on: NaiveDate,
    /// When it is overdue.
    pub due_at: DateTime<Utc>,
    /// `open`, `overdue`, `satisfied`, `missed` or `waived`.
    #[schema(example = "open")]
    pub state: &'static str,
    /// The trial that satisfied it.
    pub satisfied_by: Option<Uuid>,
    /// In the list of rechecks, for a check of the set point that is waited for: the settings to weld coupons at, from cool to
    /// hot, on the crew's scale; the sheet temperature is taken to be as it was. Null elsewhere, where no set point is known, and
    /// for a search for the edges: ask `/v1/units/{id}/starting-steps` with the day's conditions.
    pub suggested_steps: Option<Vec<Measurement>>,
}

impl Recheck {
    /// The recheck as it stands at `now`, with what to weld for it.
    pub fn with_steps(found: &WithSteps, now: DateTime<Utc>) -> Self {
        let unit = found.temperature_unit;
        let steps = found.steps.as_ref();
        Self {
            suggested_steps: steps.map(|steps| steps.iter().map(|step| on(unit, *step)).collect()),
            ..Self::of(&found.recheck, now)
        }
    }

    /// The recheck as it stands at `now`.
    pub fn of(recheck: &derived::Recheck, now: DateTime<Utc>) -> Self {
        Self {
            id: recheck.id,
            unit_id: recheck.unit_id,
            crew_id: recheck.crew_id,
            reasons: recheck.reasons.iter().map(|reason| reason.code()).collect(),
            purpose: recheck.purpose.code(),
            due_on: recheck.due_on,
            due_at: recheck.due_at,
            state: recheck.state_at(now).code(),
            satisfied_by: recheck.satisfied_by,
            suggested_steps: None,
        }
    }
}

/// A production span to probe.
#[derive(Debug, Serialize, ToSchema)]
pub struct SuspectSpan {
    /// The span.
    pub span_id: Uuid,
    /// Where on the roof.
    pub place: String,
    /// The part of it in question begins here.
    pub from: DateTime<Utc>,
    /// And ends here.
    pub to: DateTime<Utc>,
    /// `failed_trial`, `withdrawn` or `drift_onset`.
    #[schema(example = "failed_trial")]
    pub reason: &'static str,
    /// `before_covering` or `next_visit`.
    #[schema(example = "before_covering")]
    pub urgency: &'static str,
    /// The trial that gives the reason.
    pub evidence_trial_id: Uuid,
    /// The last good trial before.
    pub last_good_trial_id: Option<Uuid>,
    /// What to probe and cut.
    pub sentence: String,
}

impl From<&Suspect> for SuspectSpan {
    fn from(suspect: &Suspect) -> Self {
        let span = &suspect.span;
        Self {
            span_id: span.span,
            place: suspect.place.clone(),
            from: span.from,
            to: span.to,
            reason: span.reason.code(),
            urgency: span.urgency.code(),
            evidence_trial_id: span.evidence,
            last_good_trial_id: span.last_good,
            sentence: span.sentence.clone(),
        }
    }
}

/// The fleet: every unit that is not retired, by label, with counts.
#[derive(Debug, Serialize, ToSchema)]
pub struct Fleet {
    /// The time for which this is.
    pub as_of: DateTime<Utc>,
    /// How many units stand how.
    pub counts: FleetCounts,
    /// The units.
    pub units: Vec<FleetUnit>,
}

/// How many units stand how.
#[derive(Debug, Default, Serialize, ToSchema)]
pub struct FleetCounts {
    /// Too little evidence yet.
    pub new: usize,
    /// Nothing speaks of change.
    pub steady: usize,
    /// Something to look at.
    pub warning: usize,
    /// An edge has moved.
    pub drifting: usize,
    /// Out of use.
    pub withdrawn: usize,
    /// Units whose recheck is overdue.
    pub overdue: usize,
}

/// One unit of the fleet.
#[derive(Debug, Serialize, ToSchema)]
pub struct FleetUnit {
    /// The unit.
    pub unit_id: Uuid,
    /// What is painted on it.
    #[schema(example = "SM-07")]
    pub label: String,
    /// The crew that has it.
    pub crew_id: Option<Uuid>,
    /// Its name.
    pub crew: Option<String>,
    /// The site of that crew.
    pub site: Option<String>,
    /// Where it stands.
    pub standing: Standing,
    /// The set point of the last trial that gave one.
    pub set_point: Option<Measurement>,
    /// From the cool end of the band up to it.
    pub margin_below: Option<Measurement>,
    /// From it up to the hot end of the band.
    pub margin_above: Option<Measurement>,
    /// Its last trial.
    pub last_trial: Option<LastTrial>,
    /// Its next recheck.
    pub next_recheck: Option<Recheck>,
    /// Its flags that are not settled.
    pub flags: Vec<Flag>,
}

/// The last trial of a unit.
#[derive(Debug, Serialize, ToSchema)]
pub struct LastTrial {
    /// The trial.
    pub id: Uuid,
    /// When it was performed, by the best clock known.
    pub at: DateTime<Utc>,
    /// `stands`, `margin_lost`, `failed` or `no_verdict`.
    #[schema(example = "stands")]
    pub outcome: &'static str,
}

impl LastTrial {
    fn of(state: &derived::UnitState) -> Option<Self> {
        state.last_trial.map(|(id, at, outcome)| Self { id, at, outcome: outcome.code() })
    }
}

impl Fleet {
    /// The board as it stands at `now`.
    pub fn of(rows: &[FleetRow], now: DateTime<Utc>) -> Self {
        use lapwatch_domain::standing::StandingCode;
        let mut counts = FleetCounts::default();
        for row in rows {
            let count = match row.state.standing {
                StandingCode::New => &mut counts.new,
                StandingCode::Steady => &mut counts.steady,
                StandingCode::Warning => &mut counts.warning,
                StandingCode::Drifting => &mut counts.drifting,
                StandingCode::Withdrawn => &mut counts.withdrawn,
            };
            *count += 1;
            counts.overdue +=
                usize::from(row.next_recheck.as_ref().is_some_and(|recheck| recheck.due_at <= now));
        }
        Self { as_of: now, counts, units: rows.iter().map(|row| FleetUnit::of(row, now)).collect() }
    }
}

impl FleetUnit {
    /// The unit as it stands at `now`.
    pub fn of(row: &FleetRow, now: DateTime<Utc>) -> Self {
        Self {
            unit_id: row.unit.id,
            label: row.unit.value.label.clone(),
            crew_id: row.unit.value.crew_id,
            crew: row.crew.as_ref().map(|crew| crew.value.name.clone()),
            site: row.site.as_ref().map(|site| site.value.name.clone()),
            standing: Standing::from(&row.state),
            set_point: row.state.set_point.map(|temperature| on(Celsius, temperature)),
            margin_below: row.state.margins.map(|(below, _)| apart(Celsius, below)),
            margin_above: row.state.margins.map(|(_, above)| apart(Celsius, above)),
            last_trial: LastTrial::of(&row.state),
            next_recheck: row.next_recheck.as_ref().map(|recheck| Recheck::of(recheck, now)),
            flags: row.flags.iter().map(Flag::from).collect(),
        }
    }
}

/// Where a unit stands and what follows.
#[derive(Debug, Serialize, ToSchema)]
pub struct UnitStanding {
    /// The unit.
    pub unit_id: Uuid,
    /// What is painted on it.
    pub label: String,
    /// Where it stands.
    pub standing: Standing,
    /// The reasons in sentences.
    pub explanation: Vec<&'static str>,
    /// The set point of the last trial that gave one.
    pub set_point: Option<Measurement>,
    /// From the cool end of the band up to it.
    pub margin_below: Option<Measurement>,
    /// From it up to the hot end of the band.
    pub margin_above: Option<Measurement>,
    /// Its last trial.
    pub last_trial: Option<LastTrial>,
    /// Its flags, the latest first.
    pub flags: Vec<Flag>,
    /// Its rechecks, the latest due first.
    pub rechecks: Vec<Recheck>,
    /// Spans to probe, by start.
    pub suspect_spans: Vec<SuspectSpan>,
}

impl UnitStanding {
    /// The situation as it stands at `now`.
    pub fn of(situation: &Situation, now: DateTime<Utc>) -> Self {
        let state = &situation.state;
        Self {
            unit_id: situation.unit.id,
            label: situation.unit.value.label.clone(),
            standing: Standing::from(state),
            explanation: state.reasons.iter().map(|reason| reason.sentence()).collect(),
            set_point: state.set_point.map(|temperature| on(Celsius, temperature)),
            margin_below: state.margins.map(|(below, _)| apart(Celsius, below)),
            margin_above: state.margins.map(|(_, above)| apart(Celsius, above)),
            last_trial: LastTrial::of(state),
            flags: situation.flags.iter().map(Flag::from).collect(),
            rechecks: situation.rechecks.iter().map(|recheck| Recheck::of(recheck, now)).collect(),
            suspect_spans: situation.suspects.iter().map(SuspectSpan::from).collect(),
        }
    }
}
