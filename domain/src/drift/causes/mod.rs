//! What may have moved an edge, and what would tell the candidates apart.
//!
//! A first level: each cause predicts how the edges move together, given its own size, which nobody knows beforehand. The
//! size is therefore *averaged over* with a prior, not fitted; a cause that could explain anything gains nothing by that.
//! The result ranks causes and never proves one. (Sizes are common experience, no source.)

mod worth;

use std::sync::LazyLock;

use super::{ChangesBeside, Signal};
use crate::coded::coded_enum;
use crate::edges::Edge;
use crate::numerics::quadrature::{Rule, gauss_hermite};
use crate::quantity::{Temperature, TemperatureDifference};

coded_enum! {
    /// A candidate cause of drift.
    pub enum Cause {
        /// The welder's own sensor reads wrong by a constant: both edges move alike in the setting.
        SensorBias = "sensor_bias",
        /// Less (or more) heat reaches the sheet, or for another time: both edges move in proportion to their excess over
        /// the sheet's temperature.
        HeatTransfer = "heat_transfer",
        /// The heater fades or the supply sags: the top of the range falls short, so that the upper edge recedes while the
        /// lower hardly moves.
        HeaterOrSupply = "heater_or_supply",
        /// Less air: the heat that arrives falls, and the nozzle runs hotter than set near the element.
        Airflow = "airflow",
        /// The drive slips or runs off its setting: the true speed differs.
        DriveSpeed = "drive_speed",
        /// The roller presses less: the lower edge rises alone.
        NipPressure = "nip_pressure",
        /// The sheet itself (lot, age, moisture): either edge on its own.
        Sheet = "sheet",
    }
}

coded_enum! {
    /// A measurement that helps to tell causes apart.
    pub enum Measurement {
        /// Probe the air at the nozzle at two set points.
        NozzleProbeAtTwoSetPoints = "nozzle_probe_at_two_set_points",
        /// Time a run over a marked length.
        TimedRun = "timed_run",
        /// Measure the voltage under load at the machine.
        VoltsUnderLoad = "volts_under_load",
        /// Look through the air intake and nozzle; measure the airflow.
        AirflowCheck = "airflow_check",
        /// Weigh or gauge the roller's pressure.
        RollerCheck = "roller_check",
        /// Weld the same sheet with another unit.
        OtherUnitSameSheet = "other_unit_same_sheet",
    }
}

/// A measured change with its standard deviation.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Change {
    /// The change since the baseline.
    pub by: TemperatureDifference,
    /// Its standard deviation.
    pub sd: TemperatureDifference,
}

/// A measured ratio with its standard deviation (both ratios).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RatioChange {
    /// The ratio, e.g. timed over set speed.
    pub ratio: f64,
    /// Its standard deviation.
    pub sd: f64,
}

/// What is known of a drift. Everything but the levels may be missing; what is missing is left out of the score.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CauseEvidence {
    /// Reference level of the lower edge.
    pub lower_level: Temperature,
    /// Reference level of the upper edge.
    pub upper_level: Temperature,
    /// How far the lower edge has moved.
    pub lower: Option<Change>,
    /// How far the upper edge has moved.
    pub upper: Option<Change>,
    /// Measured minus set nozzle temperature at a low setting, compared with the baseline.
    pub gap_low: Option<Change>,
    /// The same at a high setting.
    pub gap_high: Option<Change>,
    /// Volts under load over those of the baseline.
    pub voltage_ratio: Option<RatioChange>,
    /// Timed over set speed, compared with the baseline.
    pub speed_ratio: Option<RatioChange>,
}

impl CauseEvidence {
    /// What a signal of `edge` says, with what was measured beside the strips since.
    #[must_use]
    pub fn of_signal(edge: Edge, signal: &Signal, beside: &ChangesBeside) -> Self {
        let own = Some(Change { by: signal.shift, sd: signal.shift_sd });
        let other = Some(Change { by: signal.other_shift.0, sd: signal.other_shift.1 });
        let (lower, upper) = match edge {
            Edge::Lower => (own, other),
            Edge::Upper => (other, own),
        };
        Self {
            lower_level: signal.levels.0,
            upper_level: signal.levels.1,
            lower,
            upper,
            gap_low: beside.gap_low,
            gap_high: beside.gap_high,
            voltage_ratio: beside.voltage_ratio,
            speed_ratio: beside.speed_ratio,
        }
    }
}

/// A cause and its score.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RankedCause {
    /// The cause.
    pub cause: Cause,
    /// ln of the integrated likelihood, less that of the best.
    pub ln_behind: f64,
}

/// Candidate causes, best first.
#[derive(Debug, Clone, PartialEq)]
pub struct CauseRanking {
    /// Every cause, best first; ties in the order of [`Cause::ALL`].
    pub ranked: Vec<RankedCause>,
    /// The leading cause, only if the next is at least 2 behind in ln likelihood.
    pub named: Option<Cause>,
    /// What would tell the leading candidates apart, the most telling first.
    pub tell_apart: Vec<Measurement>,
    /// The above in a sentence.
    pub sentence: String,
}

/// ln likelihood that the leader must be ahead for a single cause to be named.
const DECISIVE: f64 = 2.0;
/// Nodes of the average over a cause's size.
const NODES: usize = 41;
/// An edge moves a little for other reasons too, K.
const REMAINDER_K: f64 = 4.0;
/// A probe at the nozzle repeats to about this, K.
const PROBE_REMAINDER_K: f64 = 3.0;

/// What a cause of a given size does to each thing that can be measured.
#[derive(Debug, Clone, Copy, Default)]
struct Effect {
    lower: f64,
    upper: f64,
    gap_low: f64,
    gap_high: f64,
    voltage_ratio: f64,
    speed_ratio: f64,
}

/// A cause at one of its sizes; what responds by itself has a variance instead.
struct Prediction {
    effect: Effect,
    own_lower_k: f64,
    own_upper_k: f64,
    own_gap_k: f64,
}

/// What `cause` predicts at `size`, a standard normal number that is scaled to what is common for the cause.
fn predict(cause: Cause, size: f64, evidence: &CauseEvidence) -> Prediction {
    let excess = |level: Temperature| level.celsius() - crate::heat::REFERENCE_SHEET_C;
    let (lower, upper) = (excess(evidence.lower_level), excess(evidence.upper_level));
    let still = Effect { voltage_ratio: 1.0, speed_ratio: 1.0, ..Effect::default() };
    let proportional = |share: f64| Effect { lower: share * lower, upper: share * upper, ..still };
    let (effect, own_lower_k, own_upper_k) = match cause {
        Cause::SensorBias => {
            let bias = 30.0 * size;
            // Edges are settings: a sensor that reads high makes the air cooler than set, and both edges rise.
            (Effect { lower: bias, upper: bias, gap_low: -bias, gap_high: -bias, ..still }, 0.0, 0.0)
        }
        Cause::HeatTransfer => (proportional(0.08 * size), 0.0, 0.0),
        Cause::HeaterOrSupply => {
            // Only losses: the set temperature is no longer reached near the top, so that scorching needs a higher setting.
            let loss = 0.1 * size.abs();
            let short = loss * upper;
            (Effect { upper: short, gap_high: -short, voltage_ratio: 1.0 - 0.5 * loss, ..still }, 0.0, 8.0)
        }
        Cause::Airflow => {
            let loss = 0.08 * size.abs();
            // How much hotter the air runs near the element depends on the machine.
            let hotter = |per: f64| per * size.abs();
            (Effect { gap_low: hotter(5.0), gap_high: hotter(10.0), ..proportional(loss) }, 0.0, 0.0)
        }
        Cause::DriveSpeed => {
            // A faster run needs hotter air: the excess grows with about .85/2 of the relative change of speed.
            let faster = 0.15 * size;
            (Effect { speed_ratio: 1.0 + faster, ..proportional(0.42 * faster) }, 0.0, 0.0)
        }
        Cause::NipPressure => (Effect { lower: 25.0 * size.abs(), ..still }, 0.0, 0.0),
        Cause::Sheet => (still, 25.0, 25.0),
    };
    let own_gap_k = if cause == Cause::Airflow { 8.0 } else { 0.0 };
    Prediction { effect, own_lower_k, own_upper_k, own_gap_k }
}

/// ln of the normal density of what was measured, `own` being the standard deviation of what the prediction leaves open.
fn ln_density(measured: f64, predicted: f64, sd: f64, own: f64) -> f64 {
    let variance = sd * sd + own * own;
    let miss = measured - predicted;
    -0.5 * (miss * miss / variance + libm::log(std::f64::consts::TAU * variance))
}

fn ln_likelihood(prediction: &Prediction, evidence: &CauseEvidence) -> f64 {
    let effect = &prediction.effect;
    let change = |change: Option<Change>, predicted: f64, own: f64| {
        change.map_or(0.0, |change| ln_density(change.by.kelvin(), predicted, change.sd.kelvin(), own))
    };
    let ratio = |ratio: Option<RatioChange>, predicted: f64, own: f64| {
        ratio.map_or(0.0, |ratio| ln_density(ratio.ratio, predicted, ratio.sd, own))
    };
    change(evidence.lower, effect.lower, libm::hypot(REMAINDER_K, prediction.own_lower_k))
        + change(evidence.upper, effect.upper, libm::hypot(REMAINDER_K, prediction.own_upper_k))
        + change(evidence.gap_low, effect.gap_low, libm::hypot(PROBE_REMAINDER_K, prediction.own_gap_k))
        + change(evidence.gap_high, effect.gap_high, libm::hypot(PROBE_REMAINDER_K, prediction.own_gap_k))
        + ratio(evidence.voltage_ratio, effect.voltage_ratio, 0.01)
        + ratio(evidence.speed_ratio, effect.speed_ratio, 0.01)
}

/// The ln of each size's likelihood and weight together, for the sizes of a rule; a size is standard normal beforehand.
fn ln_terms<'a>(
    cause: Cause,
    evidence: &'a CauseEvidence,
    rule: &'a Rule,
) -> impl Iterator<Item = (Prediction, f64)> + 'a {
    rule.points.iter().zip(&rule.weights).map(move |(&size, &weight)| {
        let prediction = predict(cause, size, evidence);
        let ln = libm::log(weight) + ln_likelihood(&prediction, evidence);
        (prediction, ln)
    })
}

/// ln of the likelihood averaged over the cause's size.
fn ln_integrated(cause: Cause, evidence: &CauseEvidence) -> f64 {
    static RULE: LazyLock<Rule> = LazyLock::new(|| gauss_hermite(NODES));
    let terms: Vec<f64> = ln_terms(cause, evidence, &RULE).map(|(_, ln)| ln).collect();
    let greatest = terms.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    greatest + libm::log(terms.iter().map(|term| libm::exp(term - greatest)).sum())
}

/// Ranks the candidate causes by their integrated likelihood.
#[must_use]
pub fn rank(evidence: &CauseEvidence) -> CauseRanking {
    let mut ranked: Vec<RankedCause> = Cause::ALL
        .iter()
        .map(|&cause| RankedCause { cause, ln_behind: ln_integrated(cause, evidence) })
        .collect();
    ranked.sort_by(|a, b| b.ln_behind.total_cmp(&a.ln_behind).then(a.cause.cmp(&b.cause)));
    let best = ranked[0].ln_behind;
    for cause in &mut ranked {
        cause.ln_behind = best - cause.ln_behind;
    }
    let named = (ranked[1].ln_behind >= DECISIVE).then_some(ranked[0].cause);
    let near: Vec<Cause> =
        ranked.iter().take_while(|cause| cause.ln_behind < DECISIVE).map(|cause| cause.cause).collect();
    let tell_apart = if named.is_some() { Vec::new() } else { worth::most_telling(evidence, &ranked) };
    let sentence = sentence(named, &near, &tell_apart);
    CauseRanking { ranked, named, tell_apart, sentence }
}

fn sentence(named: Option<Cause>, near: &[Cause], tell_apart: &[Measurement]) -> String {
    let list = |words: Vec<&str>| match words.split_last() {
        Some((last, [])) => (*last).to_owned(),
        Some((last, others)) => format!("{} and {last}", others.join(", ")),
        None => String::new(),
    };
    if let Some(cause) = named {
        return format!("What was measured fits {} best; check that first.", cause.words());
    }
    let causes = list(near.iter().map(|cause| cause.words()).collect());
    let measurements = list(tell_apart.iter().map(|measurement| measurement.words()).collect());
    if tell_apart.is_empty() {
        format!("Possible causes are {causes}; the measurements at hand do not tell them apart.")
    } else {
        format!("Possible causes are {causes}; they cannot be told apart without {measurements}.")
    }
}

impl Cause {
    /// The cause in words, for the middle of a sentence.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::SensorBias => "a sensor that reads wrong by a constant",
            Self::HeatTransfer => "heat transfer or dwell (nozzle distance, build-up)",
            Self::HeaterOrSupply => "a fading heater or sagging supply",
            Self::Airflow => "low airflow",
            Self::DriveSpeed => "a drive that runs off its setting",
            Self::NipPressure => "too little roller pressure",
            Self::Sheet => "the sheet itself",
        }
    }
}

impl Measurement {
    /// The measurement in words, for the middle of a sentence.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::NozzleProbeAtTwoSetPoints => "a probe at the nozzle at two set points",
            Self::TimedRun => "a timed run over a marked length",
            Self::VoltsUnderLoad => "volts under load at the machine",
            Self::AirflowCheck => "a look at air intake, nozzle and airflow",
            Self::RollerCheck => "a check of the roller's pressure",
            Self::OtherUnitSameSheet => "welds of the same sheet by another unit",
        }
    }
}

#[cfg(test)]
pub(super) mod tests {
    use super::*;

    fn change(by: f64, sd: f64) -> Option<Change> {
        Some(Change {
            by: TemperatureDifference::from_kelvin(by),
            sd: TemperatureDifference::from_kelvin(sd),
        })
    }

    pub(super) fn edges(lower: f64, upper: f64) -> CauseEvidence {
        CauseEvidence {
            lower_level: Temperature::from_celsius(430.0),
            upper_level: Temperature::from_celsius(540.0),
            lower: change(lower, 5.0),
            upper: change(upper, 5.0),
            gap_low: None,
            gap_high: None,
            voltage_ratio: None,
            speed_ratio: None,
        }
    }

    fn behind(ranking: &CauseRanking, cause: Cause) -> f64 {
        ranking.ranked.iter().find(|ranked| ranked.cause == cause).unwrap().ln_behind
    }

    #[test]
    fn edges_alone_do_not_name_one_cause_of_a_common_rise() {
        let ranking = rank(&edges(38.0, 44.0));
        assert_eq!(ranking.named, None);
        for cause in [Cause::SensorBias, Cause::HeatTransfer, Cause::DriveSpeed] {
            assert!(behind(&ranking, cause) < DECISIVE, "{cause}: {}", behind(&ranking, cause));
        }
        assert!(ranking.tell_apart.contains(&Measurement::TimedRun), "{:?}", ranking.tell_apart);
        assert!(ranking.sentence.contains("cannot be told apart without"), "{}", ranking.sentence);
        assert!(behind(&ranking, Cause::NipPressure) > DECISIVE, "the upper edge moved too");
    }

    #[test]
    fn a_probe_at_two_set_points_and_a_timed_run_point_to_the_sensor() {
        let probed = CauseEvidence {
            gap_low: change(-39.0, 4.0),
            gap_high: change(-41.0, 4.0),
            speed_ratio: Some(RatioChange { ratio: 1.0, sd: 0.01 }),
            ..edges(40.0, 41.0)
        };
        let ranking = rank(&probed);
        assert_eq!(ranking.named, Some(Cause::SensorBias));
        assert!(ranking.tell_apart.is_empty());
    }

    #[test]
    fn a_fast_run_points_to_the_drive() {
        let timed =
            CauseEvidence { speed_ratio: Some(RatioChange { ratio: 1.22, sd: 0.01 }), ..edges(38.0, 48.0) };
        assert_eq!(rank(&timed).named, Some(Cause::DriveSpeed));
    }

    #[test]
    fn a_lower_edge_that_rises_alone_points_to_roller_or_sheet() {
        let ranking = rank(&edges(40.0, 0.0));
        assert_eq!(ranking.ranked[0].cause, Cause::NipPressure);
        assert!(behind(&ranking, Cause::SensorBias) > DECISIVE);
        assert!(behind(&ranking, Cause::Sheet) < 3.0);
    }

    #[test]
    fn nothing_measured_ranks_all_alike() {
        let nothing = CauseEvidence { lower: None, upper: None, ..edges(0.0, 0.0) };
        let ranking = rank(&nothing);
        assert!(ranking.ranked.iter().all(|cause| cause.ln_behind.abs() < 1e-9));
        assert_eq!(ranking.named, None);
    }

    #[test]
    fn codes_lead_back() {
        for &cause in Cause::ALL {
            assert_eq!(Cause::from_code(cause.code()), Some(cause));
        }
    }
}
