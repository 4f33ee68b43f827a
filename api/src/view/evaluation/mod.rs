//! What the strips of a trial say, whether it is kept or not.

mod advice;
mod edges;
mod strips;

use lapwatch_domain::quantity::{SpeedUnit, TemperatureUnit};
use lapwatch_domain::trial::Evaluation;
use serde::Serialize;
use utoipa::ToSchema;

pub use advice::{Band, BroughtSpeeds, NextCoupon, SetPoint, SpeedBand};
pub use edges::{Bracket, Edge, Edges, Interval};
pub use strips::{Counts, Coupon, Specimen};

use super::fits::Assumed;
use crate::model::DatedPrior;

/// What the strips of a trial say: readings, edges, band, set point, what to weld next. Temperatures come on the scale the
/// coupons were entered on. It advises; the membrane maker, the specification, local codes and the qualified person on
/// site decide.
#[derive(Debug, Serialize, ToSchema)]
pub struct TrialEvaluation {
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
    /// Short cautions, the most urgent first.
    pub cautions: Vec<Caution>,
    /// All of it in plain sentences.
    pub explanation: Vec<String>,
}

impl TrialEvaluation {
    /// The evaluation as it is sent.
    pub fn of(
        evaluation: &Evaluation,
        prior: Option<&DatedPrior>,
        (unit, speed_unit): (TemperatureUnit, SpeedUnit),
    ) -> Self {
        let judged = &evaluation.judged;
        Self {
            outcome: Outcome {
                code: evaluation.outcome.code(),
                sentence: evaluation.outcome_sentence.clone(),
            },
            coupons: judged.coupons.iter().map(|coupon| Coupon::of(coupon, unit)).collect(),
            evidence: Evidence {
                grade: judged.grade.code(),
                reasons: judged
                    .grade_reasons
                    .iter()
                    .map(|reason| Reason { code: reason.code(), sentence: reason.sentence() })
                    .collect(),
                strips_disagree: judged.strips_disagree,
                edge_finding: evaluation.is_edge_finding,
            },
            assumed: Assumed::of(prior, unit),
            edges: Edges {
                lower: Edge::of(&evaluation.evidence.lower, unit),
                upper: Edge::of(&evaluation.evidence.upper, unit),
            },
            band: evaluation.band.as_ref().map(|band| Band::of(band, unit)),
            speeds: evaluation.speeds.as_ref().map(|speeds| BroughtSpeeds::of(speeds, unit)),
            held_temperature: evaluation
                .held_temperature
                .as_ref()
                .map(|band| SpeedBand::of(band, unit, speed_unit)),
            set_point: evaluation.set_point.as_ref().ok().map(|set_point| SetPoint::of(set_point, unit)),
            no_set_point: evaluation.set_point.as_ref().err().map(|reason| reason.code()),
            next_coupon: NextCoupon::of(
                (evaluation.next_coupon, evaluation.next_speed),
                &evaluation.next_sentence,
                (unit, speed_unit),
            ),
            cautions: evaluation.cautions.iter().map(|caution| Caution::from(*caution)).collect(),
            explanation: evaluation.explanation.clone(),
        }
    }
}

impl From<lapwatch_domain::caution::Caution> for Caution {
    fn from(caution: lapwatch_domain::caution::Caution) -> Self {
        Self { code: caution.code(), text: caution.text() }
    }
}

/// What came of a trial.
#[derive(Debug, Serialize, ToSchema)]
pub struct Outcome {
    /// `stands`, `margin_lost`, `failed` or `no_verdict`.
    #[schema(example = "stands")]
    pub code: &'static str,
    /// The same in a sentence.
    pub sentence: String,
}

/// A reason.
#[derive(Debug, Serialize, ToSchema)]
pub struct Reason {
    /// Stable code.
    #[schema(example = "film_tore")]
    pub code: &'static str,
    /// The same in a sentence.
    pub sentence: &'static str,
}

/// How far a trial can be trusted.
#[derive(Debug, Serialize, ToSchema)]
pub struct Evidence {
    /// `full`, `limited` or `poor`.
    #[schema(example = "full")]
    pub grade: &'static str,
    /// Why it is not better.
    pub reasons: Vec<Reason>,
    /// Whether strips contradict each other.
    pub strips_disagree: bool,
    /// Whether the trial found an edge.
    pub edge_finding: bool,
}

/// A short caution.
#[derive(Debug, Clone, Copy, Serialize, ToSchema)]
pub struct Caution {
    /// Stable code.
    pub code: &'static str,
    /// The caution.
    pub text: &'static str,
}
