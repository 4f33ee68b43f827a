use chrono::{TimeDelta, TimeZone};

use super::*;

/// A slow rise over four months: day, edge (°C), standard error (K). Made for these checks; the numbers below were
/// computed from it with another program.
const SLOW_RISE: [(i64, f64, f64); 14] = [
    (0, 428.0, 9.0),
    (4, 421.0, 8.0),
    (7, 433.0, 10.0),
    (13, 426.0, 8.0),
    (21, 424.0, 8.0),
    (26, 430.0, 9.0),
    (38, 429.0, 8.0),
    (47, 434.0, 10.0),
    (59, 437.0, 8.0),
    (73, 441.0, 9.0),
    (82, 446.0, 8.0),
    (97, 444.0, 8.0),
    (108, 452.0, 9.0),
    (119, 457.0, 8.0),
];

fn slow_rise() -> Vec<Measured> {
    SLOW_RISE
        .into_iter()
        .map(|(day, edge, error)| Measured {
            at: Utc.with_ymd_and_hms(2026, 5, 4, 7, 0, 0).unwrap() + TimeDelta::days(day),
            edge: Temperature::from_celsius(edge),
            sd: TemperatureDifference::from_kelvin(error),
        })
        .collect()
}

fn settings() -> SeriesSettings {
    let wander_in_a_day = TemperatureDifference::from_kelvin(0.3_f64.sqrt());
    SeriesSettings { wander_in_a_day, ..SeriesSettings::default() }
}

fn near(found: f64, expected: f64, half_a_digit: f64) {
    assert!((found - expected).abs() <= half_a_digit, "{found}, expected {expected}");
}

#[test]
fn the_slow_rise_as_another_program_sees_it() {
    let found = report(&slow_rise(), &settings()).unwrap();
    near(found.baseline.mean.celsius(), 426.6780, 5e-5);
    near(found.baseline.sd.kelvin(), 4.8041, 5e-5);
    let [.., thirteenth, last] = &found.points[..] else { panic!("eight readings follow the baseline") };
    near(last.standardized, 2.4669, 5e-5);
    near(thirteenth.up, 4.4142, 5e-5);
    near(last.up, 6.3812, 5e-5);
    near(thirteenth.ewma, 3.2040, 5e-5);
    near(last.level.mean.celsius(), 440.676, 5e-4);
    near(last.level.sd.kelvin(), 4.493, 5e-4);
    near(found.change_in_a_day.change.kelvin(), 0.26829, 5e-6);
    near(found.change_in_a_day.low.kelvin(), 0.19718, 5e-6);
    near(found.change_in_a_day.high.kelvin(), 0.31429, 5e-6);
    near(found.line.level.mean.celsius(), 455.315, 5e-4);
    near(found.line.level.sd.kelvin(), 7.401, 5e-4);
    near(found.line.change_in_a_day.kelvin(), 0.31247, 5e-6);
    near(found.line.change_sd.kelvin(), 0.15140, 5e-6);
    let covariance = found.line.correlation * found.line.level.sd.kelvin() * found.line.change_sd.kelvin();
    near(covariance, 0.93101, 5e-6);
}

#[test]
fn the_promise_sets_the_limit_and_the_limit_the_signal() {
    let found = report(&slow_rise(), &settings()).unwrap();
    near(arl::cusum_two_sided(REFERENCE, found.cusum_limit, 0.0), 500.0, 1e-4);
    near(arl::ewma(WEIGHT, found.ewma_limit, 0.0), 500.0, 1e-4);
    assert_eq!(found.signal, Some((7, Direction::Up)));
    let patient = SeriesSettings { promise_arl: 5000.0, ..settings() };
    let longer = report(&slow_rise(), &patient).unwrap();
    assert!(longer.cusum_limit > found.cusum_limit);
    assert_eq!(longer.signal, None);
}

/// What falls is a mirror image of what rises.
#[test]
fn a_fall_mirrors_a_rise() {
    let risen = report(&slow_rise(), &settings()).unwrap();
    let mirrored: Vec<Measured> = slow_rise()
        .into_iter()
        .map(|reading| Measured {
            edge: Temperature::from_celsius(900.0 - reading.edge.celsius()),
            ..reading
        })
        .collect();
    let fallen = report(&mirrored, &settings()).unwrap();
    assert_eq!(fallen.signal, Some((7, Direction::Down)));
    for (up, down) in risen.points.iter().zip(&fallen.points) {
        near(up.up, down.down, 1e-9);
        near(up.ewma, -down.ewma, 1e-9);
    }
    near(risen.change_in_a_day.low.kelvin(), -fallen.change_in_a_day.high.kelvin(), 1e-12);
}

#[test]
fn what_cannot_be_looked_at_is_named() {
    let series = slow_rise();
    assert_eq!(report(&series[..7], &settings()), Err(SeriesError::TooFewReadings));
    let one = SeriesSettings { baseline_readings: 1, ..settings() };
    assert_eq!(report(&series, &one), Err(SeriesError::TooFewReadings));
    let mut twice = series.clone();
    twice[5].at = twice[4].at;
    assert_eq!(report(&twice, &settings()), Err(SeriesError::NotInOrder { reading: 5 }));
    let mut exact = series.clone();
    exact[3].sd = TemperatureDifference::ZERO;
    assert_eq!(report(&exact, &settings()), Err(SeriesError::NoStandardError { reading: 3 }));
    let backwards = TemperatureDifference::from_kelvin(-1.0);
    let noise = SeriesSettings { trial_noise: backwards, ..settings() };
    assert_eq!(report(&series, &noise), Err(SeriesError::NegativeNoise));
    let wander = SeriesSettings { wander_in_a_day: backwards, ..settings() };
    assert_eq!(report(&series, &wander), Err(SeriesError::NegativeWander));
    let hasty = SeriesSettings { promise_arl: 5.0, ..settings() };
    assert_eq!(report(&series, &hasty), Err(SeriesError::PromiseOutOfRange));
}
