//! The answer to a trial.

use chrono::{DateTime, Utc};
use lapwatch_domain::quantity::TemperatureUnit;
use serde::Serialize;
use serde_json::value::RawValue;
use utoipa::ToSchema;
use uuid::Uuid;

use super::carried::Carried;
use super::evaluation::{
    Band, BroughtSpeeds, Caution, Coupon, Edges, Evidence, NextCoupon, Outcome, SetPoint, SpeedBand,
    TrialEvaluation,
};
use super::fits::Assumed;
use super::fleet::{Flag, Recheck, Standing, SuspectSpan};
use super::on;
use crate::service::trials;
use crate::storage::records::TrialRow;
use crate::wire::Measurement;

/// The whole answer to a trial: what each strip showed, where the edges lie, what to set, what to weld next, how the
/// unit stands. Temperatures come on the scale the coupons were entered on. It advises; the membrane maker, the
/// specification, local codes and the qualified person on site decide.
#[derive(Debug, Serialize, ToSchema)]
pub struct TrialAnswer {
    /// The trial as it is kept.
    pub trial: KeptTrial,
    /// `accepted`; `superseded` by a correction, or `retracted`: then it no longer counts.
    #[schema(example = "accepted")]
    pub disposition: &'static str,
    /// Other corrections of the same trial that somebody made without knowing of this one: the latest counts, a person should look at
    /// them all.
    pub competing: Vec<Uuid>,
    /// Whether this record had been received before.
    pub duplicate: bool,
    /// What came of it.
    pub outcome: Outcome,
    /// The coupons with what each strip showed, in the order they were sent.
    pub coupons: Vec<Coupon>,
    /// How far the trial can be trusted.
    pub evidence: Evidence,
    /// What was assumed of strips beforehand.
    pub assumed: Assumed,
    /// Both edges, from this trial alone.
    pub edges: Edges,
    /// The band; null when there is none.
    pub band: Option<Band>,
    /// How coupons were brought to one speed; null when all were welded at the trial's.
    pub speeds: Option<BroughtSpeeds>,
    /// The band as speeds, for a trial that held one temperature and stepped the speed; null otherwise.
    pub held_temperature: Option<SpeedBand>,
    /// What to set; null when there is none.
    pub set_point: Option<SetPoint>,
    /// Code of the reason when there is no set point.
    pub no_set_point: Option<&'static str>,
    /// What to weld next, or why to stop.
    pub next_coupon: NextCoupon,
    /// What the unit's earlier trials add to that; it stands apart and changes nothing else in the answer.
    pub carried: Carried,
    /// Production spans to probe because of this trial.
    pub suspect_spans: Vec<SuspectSpan>,
    /// Where the unit stands now.
    pub standing: Standing,
    /// The unit's flags that are not settled.
    pub flags: Vec<Flag>,
    /// The unit's next recheck; null when none is due.
    pub next_recheck: Option<Recheck>,
    /// Short cautions, the most urgent first.
    pub cautions: Vec<Caution>,
    /// The whole answer in plain sentences.
    pub explanation: Vec<String>,
}

/// A trial as it is kept.
#[derive(Debug, Serialize, ToSchema)]
pub struct KeptTrial {
    /// Id.
    pub id: Uuid,
    /// The unit.
    pub unit_id: Uuid,
    /// The crew.
    pub crew_id: Option<Uuid>,
    /// The site.
    pub site_id: Option<Uuid>,
    /// Sheet class whose history it informs.
    #[schema(example = "pvc")]
    pub material_class: &'static str,
    /// What it is for.
    #[schema(example = "sweep")]
    pub purpose: &'static str,
    /// When it was performed.
    pub performed_at: DateTime<Utc>,
    /// When it was first received.
    pub received_at: DateTime<Utc>,
    /// SHA-256 of the bytes as they were sent, hexadecimal.
    pub digest: String,
}

/// A stored trial: the record as it was sent, and the answer as it is now.
#[derive(Debug, Serialize, ToSchema)]
pub struct StoredTrial {
    /// The record, every literal as it was sent.
    #[schema(value_type = crate::wire::trial::Trial)]
    pub record: Box<RawValue>,
    /// The answer.
    pub answer: TrialAnswer,
}

impl TrialAnswer {
    /// The answer as it is sent.
    pub fn of(answer: &trials::Answer, now: DateTime<Utc>) -> Self {
        let unit = answer.trial.temperature_unit;
        let prior = answer.context.prior.as_ref();
        let judged = TrialEvaluation::of(&answer.evaluation, prior, (unit, answer.trial.speed_unit));
        Self {
            trial: KeptTrial::of(answer),
            disposition: answer.disposition.code(),
            competing: answer.competing.clone(),
            duplicate: answer.duplicate,
            outcome: judged.outcome,
            coupons: judged.coupons,
            evidence: judged.evidence,
            assumed: judged.assumed,
            edges: judged.edges,
            band: judged.band,
            speeds: judged.speeds,
            held_temperature: judged.held_temperature,
            set_point: judged.set_point,
            no_set_point: judged.no_set_point,
            next_coupon: judged.next_coupon,
            carried: Carried::of(&answer.carried, (unit, answer.trial.speed_unit)),
            suspect_spans: answer.suspects.iter().map(SuspectSpan::from).collect(),
            standing: Standing::from(&answer.state),
            flags: answer.flags.iter().map(Flag::from).collect(),
            next_recheck: answer.next_recheck.as_ref().map(|recheck| Recheck::of(recheck, now)),
            cautions: judged.cautions,
            explanation: judged.explanation,
        }
    }
}

impl KeptTrial {
    fn of(answer: &trials::Answer) -> Self {
        Self {
            id: answer.trial.id,
            unit_id: answer.trial.unit_id,
            crew_id: answer.context.crew_id,
            site_id: answer.context.site_id,
            material_class: answer.context.material_class().code(),
            purpose: answer.trial.purpose.code(),
            performed_at: answer.trial.performed_at,
            received_at: answer.submission.received_at,
            digest: crate::wire::digest::show(&answer.submission.digest),
        }
    }
}

/// A trial in a list. Temperatures are in °C.
#[derive(Debug, Serialize, ToSchema)]
pub struct TrialSummary {
    /// Id.
    pub id: Uuid,
    /// The unit.
    pub unit_id: Uuid,
    /// The crew.
    pub crew_id: Option<Uuid>,
    /// The site.
    pub site_id: Option<Uuid>,
    /// Sheet class.
    #[schema(example = "pvc")]
    pub material_class: &'static str,
    /// What it was for.
    #[schema(example = "confirmation")]
    pub purpose: &'static str,
    /// When it was performed.
    pub performed_at: DateTime<Utc>,
    /// `stands`, `margin_lost`, `failed` or `no_verdict`.
    #[schema(example = "stands")]
    pub outcome: &'static str,
    /// `full`, `limited` or `poor`.
    #[schema(example = "full")]
    pub grade: &'static str,
    /// Cool end of the band.
    pub band_low: Option<Measurement>,
    /// Hot end of the band.
    pub band_high: Option<Measurement>,
    /// What to set.
    pub set_point: Option<Measurement>,
    /// `accepted`; `superseded` by a correction, or `retracted`: then it no longer counts.
    #[schema(example = "accepted")]
    pub disposition: &'static str,
}

impl From<&TrialRow> for TrialSummary {
    fn from(row: &TrialRow) -> Self {
        let celsius = |temperature| on(TemperatureUnit::Celsius, temperature);
        Self {
            id: row.id,
            unit_id: row.unit_id,
            crew_id: row.crew_id,
            site_id: row.site_id,
            material_class: row.material_class.code(),
            disposition: row.disposition.code(),
            purpose: row.purpose.code(),
            performed_at: row.performed_at,
            outcome: row.outcome.code(),
            grade: row.grade.code(),
            band_low: row.band.map(|(low, _)| celsius(low)),
            band_high: row.band.map(|(_, high)| celsius(high)),
            set_point: row.set_point.map(celsius),
        }
    }
}
