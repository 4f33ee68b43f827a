//! Checks of the model against values recomputed independently with SciPy, and against exact ones.

use super::likelihood::CouponLikelihood;
use super::*;
use crate::quantity::Temperature;

fn celsius(value: f64) -> Temperature {
    Temperature::from_celsius(value)
}

fn observation(temperature: f64, cold: usize, sound: usize, hot: usize) -> Observation {
    Observation { temperature: celsius(temperature), cold, sound, hot }
}

/// The worked example: 6 steps of 3 strips, cold at the bottom, hot at the top.
fn sweep() -> Vec<Observation> {
    vec![
        observation(380.0, 3, 0, 0),
        observation(420.0, 1, 2, 0),
        observation(460.0, 0, 3, 0),
        observation(500.0, 0, 3, 0),
        observation(540.0, 0, 1, 2),
        observation(580.0, 0, 0, 3),
    ]
}

/// One likelihood: `beyond` of `strips` at `temperature`, edge `mu`, scatter `sigma`, correlation `rho`.
fn likelihood(beyond: usize, strips: usize, temperature: f64, mu: f64, sigma: f64, rho: f64) -> f64 {
    CouponLikelihood::new(beyond, strips, rho).ln_at((temperature - mu) / sigma).exp()
}

#[test]
fn likelihood_of_one_coupon() {
    // Recomputed independently with SciPy on the same 21 nodes, to the digits printed.
    let table = [
        (0, 3, 430.0, 450.0, 15.0, 0.79832325),
        (1, 3, 440.0, 450.0, 15.0, 0.24948947),
        (3, 3, 450.0, 450.0, 15.0, 0.24999999),
        (2, 3, 470.0, 450.0, 15.0, 0.14309062),
    ];
    for (beyond, strips, temperature, mu, sigma, value) in table {
        let computed = likelihood(beyond, strips, temperature, mu, sigma, 0.5);
        assert!((computed - value).abs() < 1e-8, "L({beyond}|{strips}) = {computed}, table {value}");
    }
}

#[test]
fn exact_orthants() {
    // Three exchangeable normal variables with correlation 1/2 are all positive with probability exactly 1/4.
    assert!((likelihood(3, 3, 450.0, 450.0, 15.0, 0.5) - 0.25).abs() < 2e-8);
    // The trivariate orthant at 20/22 standard deviations and correlation 0.9, by an exact multivariate routine.
    let steep = likelihood(3, 3, 470.0, 450.0, 22.0, 0.9);
    assert!((steep - 0.744_217).abs() < 1e-6, "{steep}");
}

#[test]
fn worked_sweep() {
    let evidence = stand_alone(&sweep(), celsius(620.0), &EdgePrior::default());
    // Recomputed independently with SciPy on the same grid.
    let expected = [
        (&evidence.lower, 413.635, 18.878, 370.0, 446.0, 420.0, 460.0),
        (&evidence.upper, 536.955, 17.465, 503.0, 574.0, 540.0, 500.0),
    ];
    for (edge, mean, sd, q025, q975, failing, clear) in expected {
        let estimate = edge.estimate.expect("bracketed");
        assert_eq!(edge.class, EdgeClass::Bracketed);
        assert!((estimate.mean.celsius() - mean).abs() < 6e-4, "{:?}", estimate);
        assert!((estimate.sd.kelvin() - sd).abs() < 6e-4, "{:?}", estimate);
        assert_eq!((estimate.q025.celsius(), estimate.q975.celsius()), (q025, q975));
        assert_eq!(edge.bracket, Bracket { failing: Some(celsius(failing)), clear: Some(celsius(clear)) });
        assert_eq!(edge.bound, None);
    }
    assert!(evidence.is_edge_finding());
}

#[test]
fn separated_edge() {
    let observations = [
        observation(400.0, 3, 0, 0),
        observation(440.0, 3, 0, 0),
        observation(480.0, 0, 3, 0),
        observation(520.0, 0, 3, 0),
    ];
    let lower = stand_alone(&observations, celsius(620.0), &EdgePrior::default()).lower;
    let estimate = lower.estimate.expect("bracketed");
    // Recomputed independently with SciPy on the same grid.
    assert!((estimate.mean.celsius() - 459.995).abs() < 6e-4, "{estimate:?}");
    assert!((estimate.sd.kelvin() - 15.690).abs() < 6e-4, "{estimate:?}");
    assert_eq!((estimate.q025.celsius(), estimate.q975.celsius()), (430.0, 490.0));
}

#[test]
fn bound_of_an_open_edge() {
    let observations = [460.0, 500.0, 540.0, 580.0].map(|temperature| observation(temperature, 0, 3, 0));
    let evidence = stand_alone(&observations, celsius(620.0), &EdgePrior::default());
    assert_eq!((evidence.lower.class, evidence.upper.class), (EdgeClass::OpenBelow, EdgeClass::OpenAbove));
    assert_eq!((evidence.lower.estimate, evidence.upper.estimate), (None, None));
    // Recomputed independently with SciPy.
    let bound = evidence.upper.bound.expect("open above");
    assert!((bound.celsius() - 568.998).abs() < 6e-4, "{bound:?}");
    // Mirrored about 520 °C the strips are the same.
    let mirrored = evidence.lower.bound.expect("open below");
    assert!((mirrored.celsius() - (1040.0 - bound.celsius())).abs() < 1e-4);
    assert!(!evidence.is_edge_finding());
}
