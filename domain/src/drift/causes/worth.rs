//! What a measurement that has not been made would tell of the cause.
//!
//! Its worth is the mutual information between the cause and its outcome: by how much the entropy of the ranking is expected
//! to fall once it is known (Lindley, *On a measure of the information provided by an experiment*, Annals of Mathematical
//! Statistics 27, 1956).

use std::sync::LazyLock;

use super::{Cause, CauseEvidence, Measurement, Prediction, RankedCause, ln_terms};
use crate::numerics::quadrature::{Rule, gauss_hermite};

/// Sizes of a cause that outcomes are tried for.
const NODES: usize = 9;
/// A measurement is worth naming if it takes at least this share of the entropy that is left.
const LEAST_SHARE: f64 = 0.05;
/// Standard deviations with which the outcomes will be measured: K at the nozzle, ratios else.
const PROBE_SD_K: f64 = 5.0;
const VOLTS_SD: f64 = 0.02;
const SPEED_SD: f64 = 0.015;
/// A look or a check by hand finds its cause with this probability, and as rarely finds it where it is not.
const CHECK_IS_RIGHT: f64 = 0.85;

/// One cause at one of its sizes, with its probability.
struct Possible {
    cause: usize,
    share: f64,
    outcome: [f64; 4],
}

/// The measurements that are worth making, the most telling first.
pub(super) fn most_telling(evidence: &CauseEvidence, ranked: &[RankedCause]) -> Vec<Measurement> {
    let shares = shares(ranked);
    let entropy = entropy(&shares);
    let possible = possibilities(evidence, &shares);
    let mut worth: Vec<(Measurement, f64)> = Measurement::ALL
        .iter()
        .filter(|measurement| !is_known(**measurement, evidence))
        .map(|&measurement| (measurement, entropy - expected_entropy(measurement, &shares, &possible)))
        .filter(|(_, gain)| *gain >= LEAST_SHARE * entropy)
        .collect();
    worth.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
    worth.into_iter().map(|(measurement, _)| measurement).collect()
}

fn is_known(measurement: Measurement, evidence: &CauseEvidence) -> bool {
    match measurement {
        Measurement::NozzleProbeAtTwoSetPoints => evidence.gap_low.is_some() && evidence.gap_high.is_some(),
        Measurement::TimedRun => evidence.speed_ratio.is_some(),
        Measurement::VoltsUnderLoad => evidence.voltage_ratio.is_some(),
        Measurement::AirflowCheck | Measurement::RollerCheck | Measurement::OtherUnitSameSheet => false,
    }
}

/// Probability of each cause, in the order of [`Cause::ALL`]; all are equally likely before anything is measured.
fn shares(ranked: &[RankedCause]) -> Vec<f64> {
    let weight = |cause: &Cause| {
        let found = ranked.iter().find(|ranked| ranked.cause == *cause);
        found.map_or(0.0, |ranked| libm::exp(-ranked.ln_behind))
    };
    let weights: Vec<f64> = Cause::ALL.iter().map(weight).collect();
    let total: f64 = weights.iter().sum();
    weights.into_iter().map(|weight| weight / total).collect()
}

fn entropy(shares: &[f64]) -> f64 {
    shares.iter().filter(|share| **share > 0.0).map(|share| -share * share.ln()).sum()
}

fn possibilities(evidence: &CauseEvidence, shares: &[f64]) -> Vec<Possible> {
    static RULE: LazyLock<Rule> = LazyLock::new(|| gauss_hermite(NODES));
    let mut possible = Vec::with_capacity(NODES * shares.len());
    for (index, (&cause, &share)) in Cause::ALL.iter().zip(shares).enumerate() {
        let terms: Vec<(Prediction, f64)> = ln_terms(cause, evidence, &RULE).collect();
        let greatest = terms.iter().map(|(_, ln)| *ln).fold(f64::NEG_INFINITY, f64::max);
        let total: f64 = terms.iter().map(|(_, ln)| libm::exp(ln - greatest)).sum();
        possible.extend(terms.into_iter().map(|(prediction, ln)| {
            let effect = prediction.effect;
            let outcome = [effect.gap_low, effect.gap_high, effect.voltage_ratio, effect.speed_ratio];
            Possible { cause: index, share: share * libm::exp(ln - greatest) / total, outcome }
        }));
    }
    possible
}

/// The entropy that is expected to be left after a measurement.
fn expected_entropy(measurement: Measurement, shares: &[f64], possible: &[Possible]) -> f64 {
    match measurement {
        Measurement::NozzleProbeAtTwoSetPoints => {
            after_measuring(possible, shares.len(), &[(0, PROBE_SD_K), (1, PROBE_SD_K)])
        }
        Measurement::VoltsUnderLoad => after_measuring(possible, shares.len(), &[(2, VOLTS_SD)]),
        Measurement::TimedRun => after_measuring(possible, shares.len(), &[(3, SPEED_SD)]),
        Measurement::AirflowCheck => after_check(shares, Cause::Airflow),
        Measurement::RollerCheck => after_check(shares, Cause::NipPressure),
        Measurement::OtherUnitSameSheet => after_check(shares, Cause::Sheet),
    }
}

/// Every possibility is taken in turn as the truth and its outcome as measured.
fn after_measuring(possible: &[Possible], causes: usize, outcomes: &[(usize, f64)]) -> f64 {
    let mut posterior = vec![0.0; causes];
    let mut expected = 0.0;
    for truth in possible.iter().filter(|truth| truth.share > 1e-6) {
        posterior.fill(0.0);
        for other in possible {
            let miss =
                |&(which, sd): &(usize, f64)| ((truth.outcome[which] - other.outcome[which]) / sd).powi(2);
            posterior[other.cause] += other.share * libm::exp(-0.5 * outcomes.iter().map(miss).sum::<f64>());
        }
        let total: f64 = posterior.iter().sum();
        posterior.iter_mut().for_each(|share| *share /= total);
        expected += truth.share * entropy(&posterior);
    }
    expected
}

/// A check that says whether it is `cause` or not.
fn after_check(shares: &[f64], cause: Cause) -> f64 {
    [CHECK_IS_RIGHT, 1.0 - CHECK_IS_RIGHT]
        .into_iter()
        .map(|found_if_so| {
            let likely = |index: usize| if index == cause as usize { found_if_so } else { 1.0 - found_if_so };
            let joint: Vec<f64> =
                shares.iter().enumerate().map(|(index, share)| share * likely(index)).collect();
            let total: f64 = joint.iter().sum();
            let posterior: Vec<f64> = joint.iter().map(|share| share / total).collect();
            total * entropy(&posterior)
        })
        .sum()
}

#[cfg(test)]
mod tests {
    use super::super::tests::edges;
    use super::super::{RatioChange, rank};
    use super::*;

    /// Both edges up alike: sensor, heat transfer and drive are in question; a timed run or a probe tells most, a roller check
    /// next to nothing.
    #[test]
    fn the_most_telling_measurement_comes_first() {
        let ranking = rank(&edges(38.0, 44.0));
        assert!(
            matches!(ranking.tell_apart[0], Measurement::NozzleProbeAtTwoSetPoints | Measurement::TimedRun),
            "{:?}",
            ranking.tell_apart
        );
        assert!(!ranking.tell_apart.contains(&Measurement::RollerCheck), "{:?}", ranking.tell_apart);
    }

    #[test]
    fn what_is_known_is_not_asked_for() {
        let timed =
            CauseEvidence { speed_ratio: Some(RatioChange { ratio: 1.0, sd: 0.015 }), ..edges(38.0, 44.0) };
        assert!(!rank(&timed).tell_apart.contains(&Measurement::TimedRun));
    }

    #[test]
    fn a_lower_edge_alone_asks_for_roller_and_sheet() {
        let asked = rank(&edges(25.0, 3.0)).tell_apart;
        assert!(
            asked.contains(&Measurement::RollerCheck) || asked.contains(&Measurement::OtherUnitSameSheet),
            "{asked:?}"
        );
    }

    #[test]
    fn information_is_never_lost_by_measuring() {
        let evidence = edges(30.0, 35.0);
        let shares = shares(&rank(&evidence).ranked);
        let possible = possibilities(&evidence, &shares);
        for &measurement in Measurement::ALL {
            let left = expected_entropy(measurement, &shares, &possible);
            assert!(left <= entropy(&shares) + 1e-9, "{measurement:?}: {left}");
        }
    }
}
