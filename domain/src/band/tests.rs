//! Checks of shares, band and set point against values recomputed independently with SciPy.

use super::*;
use crate::acceptance::{Counts, EvidenceGrade, JudgedTrial, Step};
use crate::edges::{EdgePrior, Observation, TrialEvidence, stand_alone};
use crate::policy::{Ceilings, Policy};
use crate::quantity::{Percent, Quantity, TemperatureUnit};

fn celsius(value: f64) -> Temperature {
    Temperature::from_celsius(value)
}

/// A judged trial with these steps: temperature, cold, sound, hot.
fn judged(rows: &[(f64, usize, usize, usize)]) -> JudgedTrial {
    let step = |&(temperature, cold, sound, hot)| Step {
        temperature: celsius(temperature),
        coupons: 1,
        counts: Counts { cold, sound, hot, ..Counts::default() },
    };
    JudgedTrial {
        coupons: Vec::new(),
        steps: rows.iter().map(step).collect(),
        strips_disagree: false,
        grade: EvidenceGrade::Full,
        grade_reasons: Vec::new(),
    }
}

fn evidence(trial: &JudgedTrial) -> TrialEvidence {
    let observations: Vec<Observation> = (trial.steps.iter())
        .map(|step| Observation {
            temperature: step.temperature,
            cold: step.counts.cold,
            sound: step.counts.sound,
            hot: step.counts.hot,
        })
        .collect();
    stand_alone(&observations, celsius(620.0), &EdgePrior::default())
}

const SWEEP: [(f64, usize, usize, usize); 6] = [
    (380.0, 3, 0, 0),
    (420.0, 1, 2, 0),
    (460.0, 0, 3, 0),
    (500.0, 0, 3, 0),
    (540.0, 0, 1, 2),
    (580.0, 0, 0, 3),
];

#[test]
fn shares_of_the_worked_sweep() {
    let shares = Shares::new(&evidence(&judged(&SWEEP)));
    for (temperature, cold, hot) in [(460.0, 0.0566, 0.0169), (500.0, 0.0110, 0.0888)] {
        assert!((shares.cold(temperature) - cold).abs() < 5e-5, "cold {}", shares.cold(temperature));
        assert!((shares.hot(temperature) - hot).abs() < 5e-5, "hot {}", shares.hot(temperature));
    }
}

#[test]
fn band_and_set_point_of_the_worked_sweep() {
    let trial = judged(&SWEEP);
    let evidence = evidence(&trial);
    let shares = Shares::new(&evidence);
    let ceilings = Ceilings::default();
    for (percent, low, high) in [(10.0, 447.92, 502.56), (5.0, 462.73, 487.15)] {
        let policy = Policy { share_limit: Percent::constant(percent), ..Policy::default() };
        let found = band(&trial, &shares, ceiling(&ceilings, celsius(620.0)), &policy).expect("a band");
        assert!((found.low.celsius() - low).abs() < 6e-3, "{found:?}");
        assert!((found.high.celsius() - high).abs() < 6e-3, "{found:?}");
        assert_eq!((found.low_limited_by, found.high_limited_by), (Limit::ColdShare, Limit::HotShare));
    }
    let policy = Policy::default();
    let limits = Limits::new(&trial, &evidence, (&ceilings, celsius(620.0)), &policy).expect("sound steps");
    let display = Display { step: TemperatureDifference::from_kelvin(5.0), unit: TemperatureUnit::Celsius };
    let point = recommend(&limits, &shares, None, (display, &policy));
    assert!((point.computed.celsius() - 475.157).abs() < 6e-4, "{point:?}");
    let summed = shares.cold(point.computed.celsius()) + shares.hot(point.computed.celsius());
    assert!((summed - 0.05948).abs() < 6e-6, "{summed}");
    assert_eq!(point.to_set, celsius(475.0));
    assert_eq!(point.limited_by, []);
}

#[test]
fn a_ceiling_holds_after_rounding() {
    let trial = judged(&SWEEP);
    let evidence = evidence(&trial);
    let policy = Policy::default();
    let ceilings = Ceilings { maker: Some(celsius(468.0)), organization: Some(celsius(480.0)) };
    let limits = Limits::new(&trial, &evidence, (&ceilings, celsius(620.0)), &policy).expect("sound steps");
    let display = Display { step: TemperatureDifference::from_kelvin(10.0), unit: TemperatureUnit::Celsius };
    let point = recommend(&limits, &Shares::new(&evidence), None, (display, &policy));
    assert_eq!(point.limited_by, [Limit::MakerCeiling]);
    assert!((point.computed.celsius() - 468.0).abs() < 1e-9);
    // 470 is nearer but above the ceiling.
    assert_eq!(point.to_set, celsius(460.0));
    let low = Ceilings { maker: Some(celsius(450.0)), organization: None };
    let refused = Limits::new(&trial, &evidence, (&low, celsius(620.0)), &policy);
    assert_eq!(refused, Err(NoSetPoint::CeilingBelowSound));
}

#[test]
fn an_open_edge_keeps_its_reserve() {
    let trial = judged(&[(440.0, 0, 3, 0), (460.0, 0, 3, 0), (480.0, 0, 3, 0)]);
    let evidence = evidence(&trial);
    let policy = Policy::default();
    let limits =
        Limits::new(&trial, &evidence, (&Ceilings::default(), celsius(620.0)), &policy).expect("sound");
    assert_eq!((limits.low, limits.high), (celsius(450.0), celsius(470.0)));
    let single = judged(&[(460.0, 0, 3, 0)]);
    let evidence = self::evidence(&single);
    let limits =
        Limits::new(&single, &evidence, (&Ceilings::default(), celsius(620.0)), &policy).expect("sound");
    assert_eq!((limits.low, limits.high), (celsius(460.0), celsius(460.0)));
}

#[test]
fn roundings_on_the_fahrenheit_scale() {
    let trial = judged(&SWEEP);
    let evidence = evidence(&trial);
    let policy = Policy::default();
    let limits =
        Limits::new(&trial, &evidence, (&Ceilings::default(), celsius(620.0)), &policy).expect("sound steps");
    let ten = crate::quantity::TemperatureDifferenceUnit::Rankine;
    let display = Display {
        step: TemperatureDifference::new(10.0, ten).expect("finite"),
        unit: TemperatureUnit::Fahrenheit,
    };
    let point = recommend(&limits, &Shares::new(&evidence), None, (display, &policy));
    // 475.157 °C is 887.3 °F.
    assert!((point.to_set.value_in(TemperatureUnit::Fahrenheit) - 890.0).abs() < 1e-9);
}

/// Predicted shares against another program, which evaluates every cell of the grid: `tests/tools/reference/run` computes
/// the table again.
#[test]
fn shares_agree_with_another_program() {
    let mut checked = 0;
    for line in include_str!("../../tests/reference/edges.csv").lines().skip(1) {
        let fields: Vec<&str> = line.split(',').collect();
        let number = |index: usize| -> f64 { fields[index].parse().expect("a number") };
        let prior = EdgePrior {
            sigma_median: TemperatureDifference::from_kelvin(number(2)),
            ln_sigma_sd: number(3),
            correlation: number(4),
        };
        let observation = |text: &str| {
            let numbers: Vec<f64> =
                text.split([':', '/']).map(|part| part.parse().expect("a number")).collect();
            let [cold, sound, hot] = [1, 2, 3].map(|index| numbers[index] as usize);
            Observation { temperature: celsius(numbers[0]), cold, sound, hot }
        };
        let observations: Vec<Observation> = fields[5].split(' ').map(observation).collect();
        let shares = Shares::new(&stand_alone(&observations, celsius(number(1)), &prior));
        let (at, above) = (number(14), number(15));
        let found = if fields[6] == "lower" { shares.cold(at) } else { 1.0 - shares.hot(at) };
        // Where an end of the grid cuts the posterior off, the interpolation between its rows leans on nothing.
        let inside = fields[7] == "bracketed" && number(10) > 250.0;
        let tolerance = if inside { 4e-5 } else { 5e-4 };
        assert!((found - above).abs() < tolerance, "{line}: {found}");
        checked += 1;
    }
    assert!(checked > 150);
}
