//! What the strips of a trial say, whether it is kept or not.

use lapwatch_domain::acceptance::{JudgedCoupon, JudgedSpecimen};
use lapwatch_domain::edges::{EdgeEvidence, Estimate};
use lapwatch_domain::plan;
use lapwatch_domain::quantity::{SpeedUnit, TemperatureUnit};
use lapwatch_domain::trial::Evaluation;
use serde::Serialize;
use utoipa::ToSchema;

use super::{apart, on, ratio};
use crate::wire::Measurement;

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
    pub fn of(evaluation: &Evaluation, (unit, speed_unit): (TemperatureUnit, SpeedUnit)) -> Self {
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
            edges: Edges {
                lower: Edge::of(&evaluation.evidence.lower, unit),
                upper: Edge::of(&evaluation.evidence.upper, unit),
            },
            band: evaluation.band.as_ref().map(|band| Band::of(band, unit)),
            speeds: evaluation.speeds.map(|speeds| BroughtSpeeds {
                coupons: speeds.coupons,
                set_aside: speeds.set_aside,
                sheet_temperature: on(unit, speeds.sheet),
                sheet_measured: speeds.sheet_measured,
                largest_standard_deviation: apart(unit, speeds.largest_sd),
            }),
            held_temperature: evaluation.held_temperature.map(|band| SpeedBand {
                temperature: on(unit, band.temperature),
                slow: Measurement::of(band.slow, speed_unit),
                fast: Measurement::of(band.fast, speed_unit),
                slow_limited_by: band.slow_limited_by.code(),
                fast_limited_by: band.fast_limited_by.code(),
                to_set: Measurement::of(band.to_set, speed_unit),
            }),
            set_point: evaluation.set_point.as_ref().ok().map(|set_point| SetPoint::of(set_point, unit)),
            no_set_point: evaluation.set_point.as_ref().err().map(|reason| reason.code()),
            next_coupon: NextCoupon::of(evaluation.next_coupon, &evaluation.next_sentence, unit),
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

/// One coupon and what its strips showed.
#[derive(Debug, Serialize, ToSchema)]
#[schema(as = JudgedCoupon)]
pub struct Coupon {
    /// The setting.
    pub set_temperature: Measurement,
    /// The setting that heats the sheet alike at the trial's speed: the coupon's own, unless it was welded at another.
    pub at_held_speed: Measurement,
    /// Why it could not be brought to the trial's speed, so that its strips do not count: `speed_too_far` or
    /// `dwell_too_long`; null otherwise.
    pub set_aside: Option<&'static str>,
    /// Its strips, in the order they were sent.
    pub specimens: Vec<Specimen>,
    /// How many gave which reading.
    pub counts: Counts,
}

/// What one strip showed.
#[derive(Debug, Serialize, ToSchema)]
#[schema(as = JudgedSpecimen)]
pub struct Specimen {
    /// `cold`, `sound`, `hot`, `narrow`, `contaminated`, `unclear` or `not_counted`.
    #[schema(example = "sound")]
    pub reading: &'static str,
    /// Why, the deciding reason first.
    pub reasons: Vec<Reason>,
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

/// How many strips gave which reading.
#[derive(Debug, Serialize, ToSchema)]
pub struct Counts {
    /// The interface opened.
    pub cold: usize,
    /// The film tore over the required width.
    pub sound: usize,
    /// Scorched.
    pub hot: usize,
    /// Everything that says nothing of temperature.
    pub other: usize,
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

/// Both edges.
#[derive(Debug, Serialize, ToSchema)]
pub struct Edges {
    /// Below it strips open.
    pub lower: Edge,
    /// Above it strips scorch.
    pub upper: Edge,
}

/// What the trial alone says of one edge: the temperature at which half the strips would fail. For histories; a crew is
/// given the band.
#[derive(Debug, Serialize, ToSchema)]
pub struct Edge {
    /// `bracketed`, `open_above`, `open_below` or `none`.
    #[schema(example = "bracketed")]
    pub class: &'static str,
    /// Posterior mean; null unless bracketed.
    pub mean: Option<Measurement>,
    /// Posterior standard deviation.
    pub standard_deviation: Option<Measurement>,
    /// 2.5 %, 50 % and 97.5 % points.
    pub interval: Option<Interval>,
    /// The steps between which the raw readings put it.
    pub bracket: Bracket,
    /// For an open edge: the limit beyond which it lies with 95 % confidence.
    pub bound: Option<Measurement>,
}

/// A central 95 % interval with the median.
#[derive(Debug, Serialize, ToSchema)]
pub struct Interval {
    /// 2.5 % point.
    pub low: Measurement,
    /// Median.
    pub median: Measurement,
    /// 97.5 % point.
    pub high: Measurement,
}

/// The steps between which raw readings put an edge.
#[derive(Debug, Serialize, ToSchema)]
pub struct Bracket {
    /// The step furthest into the band with a failing strip.
    pub failing: Option<Measurement>,
    /// The outermost step from which inwards no strip failed.
    pub clear: Option<Measurement>,
}

/// The temperatures at which the predicted shares of cold and of hot strips are each within the limit.
#[derive(Debug, Serialize, ToSchema)]
pub struct Band {
    /// Its cool end.
    pub low: Measurement,
    /// Its hot end.
    pub high: Measurement,
    /// The largest share of cold, and of hot, strips inside it.
    #[schema(example = 0.1)]
    pub share_limit: f64,
    /// What ends it below.
    #[schema(example = "cold_share")]
    pub low_limited_by: &'static str,
    /// What ends it above.
    #[schema(example = "hot_share")]
    pub high_limited_by: &'static str,
}

/// The recommended temperature at the held speed.
#[derive(Debug, Serialize, ToSchema)]
pub struct SetPoint {
    /// As computed.
    pub computed: Measurement,
    /// What to set: a step of the unit's display, inside every limit.
    pub to_set: Measurement,
    /// `computed` from this trial, or the one in use, `confirmed` by it.
    pub basis: &'static str,
    /// From the cool end of the band up to it; negative outside, null without a band.
    pub margin_below: Option<Measurement>,
    /// From it up to the hot end of the band.
    pub margin_above: Option<Measurement>,
    /// Predicted share of cold strips at it, 0 to 1.
    pub cold_share: f64,
    /// Predicted share of hot strips at it, 0 to 1.
    pub hot_share: f64,
    /// What holds it where it is; empty when nothing does.
    pub limited_by: Vec<&'static str>,
}

/// What to weld next, or why to stop.
#[derive(Debug, Serialize, ToSchema)]
pub struct NextCoupon {
    /// `weld` or `stop`.
    #[schema(example = "weld")]
    pub action: &'static str,
    /// The setting to weld at.
    pub temperature: Option<Measurement>,
    /// Code of the reason.
    pub reason: &'static str,
    /// The same in a sentence.
    pub sentence: String,
}

/// How coupons of other speeds were brought to the trial's speed.
#[derive(Debug, Serialize, ToSchema)]
pub struct BroughtSpeeds {
    /// Coupons that were.
    pub coupons: usize,
    /// Coupons that could not be.
    pub set_aside: usize,
    /// The temperature of the sheet that was reckoned with.
    pub sheet_temperature: Measurement,
    /// Whether that was measured; otherwise it is the usual one.
    pub sheet_measured: bool,
    /// Standard deviation of the setting that was moved furthest, from what is not known of the unit's heat.
    pub largest_standard_deviation: Measurement,
}

/// The band as speeds at the temperature that was held.
#[derive(Debug, Serialize, ToSchema)]
pub struct SpeedBand {
    /// The temperature.
    pub temperature: Measurement,
    /// Its slow, hot end.
    pub slow: Measurement,
    /// Its fast, cool end.
    pub fast: Measurement,
    /// What ends it on the slow side: `hot_share`, or `hottest_step` for the slowest speed tried.
    pub slow_limited_by: &'static str,
    /// What ends it on the fast side: `cold_share`, or `coolest_step` for the fastest speed tried.
    pub fast_limited_by: &'static str,
    /// The speed to set at this temperature.
    pub to_set: Measurement,
}

/// A short caution.
#[derive(Debug, Clone, Copy, Serialize, ToSchema)]
pub struct Caution {
    /// Stable code.
    pub code: &'static str,
    /// The caution.
    pub text: &'static str,
}

impl Coupon {
    fn of(coupon: &JudgedCoupon, unit: TemperatureUnit) -> Self {
        let counts = coupon.counts;
        Self {
            set_temperature: on(unit, coupon.set_temperature),
            at_held_speed: on(unit, coupon.at_held_speed),
            set_aside: coupon.set_aside.map(|reason| reason.code()),
            specimens: coupon.specimens.iter().map(Specimen::from).collect(),
            counts: Counts { cold: counts.cold, sound: counts.sound, hot: counts.hot, other: counts.other() },
        }
    }
}

impl From<&JudgedSpecimen> for Specimen {
    fn from(specimen: &JudgedSpecimen) -> Self {
        Self {
            reading: specimen.reading.code(),
            reasons: specimen
                .reasons
                .iter()
                .map(|reason| Reason { code: reason.code(), sentence: reason.sentence() })
                .collect(),
        }
    }
}

impl Edge {
    fn of(edge: &EdgeEvidence, unit: TemperatureUnit) -> Self {
        let (mean, standard_deviation, interval) = match &edge.estimate {
            Some(estimate) => (
                Some(on(unit, estimate.mean)),
                Some(apart(unit, estimate.sd)),
                Some(Interval::of(estimate, unit)),
            ),
            None => (None, None, None),
        };
        Self {
            class: edge.class.code(),
            mean,
            standard_deviation,
            interval,
            bracket: Bracket {
                failing: edge.bracket.failing.map(|temperature| on(unit, temperature)),
                clear: edge.bracket.clear.map(|temperature| on(unit, temperature)),
            },
            bound: edge.bound.map(|temperature| on(unit, temperature)),
        }
    }
}

impl Interval {
    pub(super) fn of(estimate: &Estimate, unit: TemperatureUnit) -> Self {
        Self { low: on(unit, estimate.q025), median: on(unit, estimate.q500), high: on(unit, estimate.q975) }
    }
}

impl NextCoupon {
    pub(super) fn of(next: plan::NextCoupon, sentence: &str, unit: TemperatureUnit) -> Self {
        Self {
            action: next.action_code(),
            temperature: next.temperature().map(|temperature| on(unit, temperature)),
            reason: next.reason_code(),
            sentence: sentence.to_owned(),
        }
    }
}

impl Band {
    pub(super) fn of(band: &lapwatch_domain::band::Band, unit: TemperatureUnit) -> Self {
        Self {
            low: on(unit, band.low),
            high: on(unit, band.high),
            share_limit: ratio(band.share_limit.ratio()),
            low_limited_by: band.low_limited_by.code(),
            high_limited_by: band.high_limited_by.code(),
        }
    }
}

impl SetPoint {
    pub(super) fn of(set_point: &lapwatch_domain::band::SetPoint, unit: TemperatureUnit) -> Self {
        Self {
            computed: on(unit, set_point.computed),
            to_set: on(unit, set_point.to_set),
            basis: set_point.basis.code(),
            margin_below: set_point.margin_below.map(|margin| apart(unit, margin)),
            margin_above: set_point.margin_above.map(|margin| apart(unit, margin)),
            cold_share: ratio(set_point.cold_share),
            hot_share: ratio(set_point.hot_share),
            limited_by: set_point.limited_by.iter().map(|limit| limit.code()).collect(),
        }
    }
}
