//! Dew points against published tables and recomputed numbers.

use super::*;
use crate::numerics::normal;
use crate::quantity::{Percent, Temperature, TemperatureDifference, parse};

fn celsius(value: f64) -> Temperature {
    Temperature::from_celsius(value)
}

fn percent(value: f64) -> Percent {
    parse(value, "%").unwrap()
}

fn kelvin(value: f64) -> TemperatureDifference {
    TemperatureDifference::from_kelvin(value)
}

fn dew_c(air: f64, humidity: f64) -> f64 {
    dew_point(celsius(air), percent(humidity)).unwrap().temperature.celsius()
}

/// Recomputed independently from the formula.
#[test]
fn recomputed_dew_points() {
    for (air, humidity, expected) in [
        (20.0, 50.0, 9.261),
        (25.0, 60.0, 16.698),
        (30.0, 80.0, 26.171),
        (10.0, 90.0, 8.435),
        (35.0, 40.0, 19.392),
        (15.0, 95.0, 14.205),
    ] {
        let found = dew_c(air, humidity);
        assert!((found - expected).abs() < 5.1e-4, "{air} °C, {humidity} %: {found}");
    }
}

/// Vapour pressure of water in kPa, CRC Handbook of Chemistry and Physics (73rd edition, as a public page reprints
/// it). Air of t at a humidity of e(td)/e(t) has its dew point at td, whatever formula one uses; psychrometric tables
/// are good to .05 °C.
#[test]
fn a_table_of_vapour_pressures() {
    let table = [
        (0.0, 0.61129),
        (5.0, 0.8726),
        (10.0, 1.2281),
        (15.0, 1.7056),
        (20.0, 2.3388),
        (25.0, 3.169),
        (30.0, 4.2455),
        (35.0, 5.6267),
        (40.0, 7.3814),
    ];
    for (air, saturated) in table {
        for (dew, pressure) in table.into_iter().filter(|(dew, _)| *dew <= air) {
            let found = dew_c(air, 100.0 * pressure / saturated);
            assert!((found - dew).abs() < 0.05, "{air} °C, dew point {dew} °C: {found}");
        }
    }
}

/// A dew point table of the building trade as public pages print it, to .1 °C and with last digits that differ by one
/// between printings: 20 °C at 30, 35 … 95 %.
#[test]
fn a_table_of_dew_points() {
    let printed = [1.9, 4.1, 6.0, 7.7, 9.3, 10.7, 12.0, 13.2, 14.4, 15.5, 16.5, 17.4, 18.4, 19.2];
    for (index, expected) in printed.into_iter().enumerate() {
        let humidity = 30.0 + 5.0 * index as f64;
        let found = dew_c(20.0, humidity);
        assert!((found - expected).abs() < 0.1, "{humidity} %: {found}");
    }
}

#[test]
fn derivatives_are_those_of_the_formula() {
    for (air, humidity) in [(20.0, 50.0), (-15.0, 80.0), (42.0, 15.0)] {
        let found = dew_point(celsius(air), percent(humidity)).unwrap();
        let step = 1e-4;
        let by_humidity = (dew_c(air, humidity + step) - dew_c(air, humidity - step)) / (2.0 * step);
        let by_air = (dew_c(air + step, humidity) - dew_c(air - step, humidity)) / (2.0 * step);
        assert!((found.per_percent.kelvin() - by_humidity).abs() < 1e-6);
        assert!((found.per_air - by_air).abs() < 1e-6);
    }
}

/// ±3 % of humidity are about ±0.9 °C in the middle of the range.
#[test]
fn uncertainty_of_a_dew_point() {
    let found = dew_point(celsius(20.0), percent(50.0)).unwrap();
    let humidity_only = Instruments { air: kelvin(0.0), ..Instruments::default() };
    assert!((found.sd(&humidity_only).unwrap().kelvin() - 0.9).abs() < 0.05);
    // Half of what 3 % more and 3 % less make of it.
    let spread = (dew_c(20.0, 53.0) - dew_c(20.0, 47.0)) / 2.0;
    assert!((found.sd(&humidity_only).unwrap().kelvin() - spread).abs() < 0.01);
    let both = found.sd(&Instruments::default()).unwrap().kelvin();
    assert!((both.powi(2) - spread.powi(2) - (0.5 * found.per_air).powi(2)).abs() < 0.01);
}

#[test]
fn verdicts_follow_the_rule_and_chances_the_uncertainty() {
    let at = |sheet: f64, instruments: Instruments, least: f64| {
        condensation(celsius(sheet), (celsius(20.0), percent(50.0)), &instruments, kelvin(least)).unwrap()
    };
    let usual = Instruments::default();
    // The dew point is 9.261 °C.
    for (sheet, verdict) in [
        (9.2, Dryness::Wet),
        (9.3, Dryness::Near),
        (12.2, Dryness::Near),
        (12.3, Dryness::Dry),
        (35.0, Dryness::Dry),
    ] {
        assert_eq!(at(sheet, usual, 3.0).verdict, verdict, "{sheet}");
    }
    let found = at(11.0, usual, 3.0);
    let sd = found.dew_point.sd(&usual).unwrap().kelvin().hypot(1.5);
    assert!((found.sd.kelvin() - sd).abs() < 1e-12);
    assert!((found.margin.kelvin() - 1.739).abs() < 1e-3);
    assert!((found.chance_wet - normal::cdf(-found.margin.kelvin() / sd)).abs() < 1e-12);
    assert!(found.chance_too_close > 0.7 && found.chance_too_close < 0.8, "{}", found.chance_too_close);
    // Perfect instruments leave no chance open; without a rule only a wet sheet is too close.
    let perfect = Instruments { humidity: percent(0.0), air: kelvin(0.0), sheet: kelvin(0.0) };
    let found = at(11.0, perfect, 3.0);
    assert_eq!((found.chance_wet, found.chance_too_close), (0.0, 1.0));
    assert_eq!(at(9.3, usual, 0.0).verdict, Dryness::Dry);
}

#[test]
fn refusals_name_the_trouble() {
    let refused = |air: f64, humidity: f64| dew_point(celsius(air), percent(humidity)).unwrap_err();
    assert_eq!(refused(20.0, 0.0), WeatherError::NoHumidity);
    assert_eq!(refused(50.1, 50.0), WeatherError::AirOutOfRange);
    assert_eq!(refused(-40.1, 50.0), WeatherError::AirOutOfRange);
    assert_eq!(refused(-39.0, 60.0), WeatherError::TooDry);
    assert_eq!(refused(20.0, 0.1), WeatherError::TooDry);
    assert_eq!(parse::<Percent>(100.1, "%").unwrap_err().code(), "out_of_range");
    for (air, humidity) in [(-40.0, 100.0), (50.0, 100.0), (0.0, 100.0)] {
        assert!((dew_c(air, humidity) - air).abs() < 1e-12);
    }
    let least = |least: f64, instruments: Instruments| {
        condensation(celsius(15.0), (celsius(20.0), percent(50.0)), &instruments, kelvin(least)).unwrap_err()
    };
    assert_eq!(least(-1.0, Instruments::default()), WeatherError::Negative);
    assert_eq!(
        least(3.0, Instruments { sheet: kelvin(-0.1), ..Instruments::default() }),
        WeatherError::Negative
    );
    assert_eq!(
        least(3.0, Instruments { air: kelvin(-0.1), ..Instruments::default() }),
        WeatherError::Negative
    );
}
