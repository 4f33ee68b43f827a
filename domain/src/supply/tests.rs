//! Cords and sags against published and recomputed numbers.

use super::*;
use crate::quantity::{
    CurrentUnit, Quantity, ResistancePerLengthUnit, ResistanceUnit, Temperature, TemperatureDifference,
    TemperatureUnit, Voltage, VoltageUnit, parse,
};

fn rating(volts: f64, kilowatts: f64) -> Rating {
    Rating::new(parse(volts, "V").unwrap(), parse(kilowatts, "kW").unwrap()).unwrap()
}

fn cord(size: CordSize, length: f64, unit: &str, celsius: f64) -> Cord {
    Cord::new(size, parse(length, unit).unwrap()).unwrap().at(parse(celsius, "Cel").unwrap()).unwrap()
}

fn through(rating: Rating, cord: Cord) -> AtMachine {
    at_machine(rating, &Supply { cord: Some(cord), ..Supply::default() }).unwrap().unwrap()
}

fn volts(value: f64) -> Option<Voltage> {
    Some(parse(value, "V").unwrap())
}

fn celsius(value: f64) -> Temperature {
    Temperature::from_celsius(value)
}

/// Drop in per cent and share of the rated power, recomputed independently from the tables' figures.
#[test]
fn drops_and_powers_of_common_cords() {
    for (size, length, unit, at, rated, drop, power) in [
        (CordSize::Awg14, 100.0, "[ft_i]", 75.0, 240.0, 4.78, 0.9068),
        (CordSize::Awg12, 100.0, "[ft_i]", 75.0, 240.0, 3.07, 0.9396),
        (CordSize::Awg10, 100.0, "[ft_i]", 75.0, 240.0, 1.94, 0.9615),
        (CordSize::SquareMm2_5, 50.0, "m", 20.0, 230.0, 6.49, 0.8744),
        (CordSize::SquareMm4, 50.0, "m", 20.0, 230.0, 4.13, 0.9192),
    ] {
        let found = through(rating(rated, 4.6), cord(size, length, unit, at));
        let lost = found.drop_share.unwrap() * 100.0;
        assert!((lost - drop).abs() < 5.1e-3, "{size}: {lost} %");
        assert!((found.power_share - power).abs() < 5.1e-5, "{size}: {}", found.power_share);
        assert_eq!(found.basis, VoltageBasis::FromRated);
    }
}

/// The worked example of a public course for electricians: 100 ft of two-wire 16 AWG at 4 A, 4.99 ohm per thousand
/// feet: 4.0 V, of 24 V 16.7 %. Theirs is a current of 4 A whatever the drop; a machine of 20 V and 80 W draws it
/// within .1 %.
#[test]
fn a_published_example_of_a_drop() {
    let machine = rating(20.0, 0.08);
    let cord = cord(CordSize::Awg16, 100.0, "[ft_i]", 75.0);
    let supply = Supply { source: volts(24.0), cord: Some(cord), ..Supply::default() };
    let found = at_machine(machine, &supply).unwrap().unwrap();
    assert!((found.current.value_in(CurrentUnit::Ampere) - 4.0).abs() < 0.005);
    let lost = 24.0 - found.voltage.value_in(VoltageUnit::Volt);
    assert!((lost - 4.0).abs() < 0.05, "{lost}");
    // They divide the rounded 4.0 V by 24 V.
    assert!((found.drop_share.unwrap() * 100.0 - 16.7).abs() < 0.1);
    assert_eq!(found.basis, VoltageBasis::FromSource);
}

/// Published examples of heating elements on another voltage than their own: 240 V and 5500 W on 208 V give 75.111 %,
/// 4131 W; 1000 W made for 208 V on 240 V give 1331.4 W; tables print 92 % for 230 V on 240 V.
#[test]
fn published_examples_of_power_at_another_voltage() {
    let share = |rated: f64, given: f64| {
        let supply = Supply { loaded: volts(given), ..Supply::default() };
        at_machine(rating(rated, 4.0), &supply).unwrap().unwrap().power_share
    };
    assert!((share(240.0, 208.0) * 100.0 - 75.111).abs() < 5.1e-4);
    assert!((share(240.0, 208.0) * 5500.0 - 4131.0).abs() < 0.51);
    assert!((share(208.0, 240.0) * 1000.0 - 1331.4).abs() < 0.051);
    assert!((share(240.0, 230.0) * 100.0 - 92.0).abs() < 0.51);
}

/// NEC chapter 9 table 8 (uncoated, stranded) and IEC 60228 (plain, class 5) as several public tables print them.
#[test]
#[expect(clippy::approx_constant, reason = "3.14 is what the table prints for 14 AWG")]
fn printed_resistances_at_their_own_temperatures() {
    for (size, printed) in [
        (CordSize::Awg16, 4.99),
        (CordSize::Awg14, 3.14),
        (CordSize::Awg12, 1.98),
        (CordSize::Awg10, 1.24),
        (CordSize::Awg8, 0.778),
        (CordSize::Awg6, 0.491),
    ] {
        let found =
            size.resistance(celsius(75.0)).unwrap().value_in(ResistancePerLengthUnit::MilliohmPerFoot);
        assert!((found / printed - 1.0).abs() < 1e-12, "{size}");
    }
    for (size, printed) in [
        (CordSize::SquareMm1_5, 13.3),
        (CordSize::SquareMm2_5, 7.98),
        (CordSize::SquareMm4, 4.95),
        (CordSize::SquareMm6, 3.30),
        (CordSize::SquareMm10, 1.91),
    ] {
        let found =
            size.resistance(celsius(20.0)).unwrap().value_in(ResistancePerLengthUnit::OhmPerKilometre);
        assert!((found / printed - 1.0).abs() < 1e-12, "{size}");
    }
}

/// A public collection of formulas: 1.21 ohm per thousand feet at 20 °C are 1.472 at 75 °C, and the note to the
/// American table gives copper 0.00323 per kelvin from 75 °C on, as several public sources quote it.
#[test]
fn copper_warms() {
    let metric = |at: f64| CordSize::SquareMm4.resistance(celsius(at)).unwrap();
    let ratio = metric(75.0).value_in(ResistancePerLengthUnit::OhmPerKilometre)
        / metric(20.0).value_in(ResistancePerLengthUnit::OhmPerKilometre);
    assert!((1.21 * ratio - 1.472).abs() < 5.1e-4);
    let gauge = |at: f64| {
        CordSize::Awg12.resistance(celsius(at)).unwrap().value_in(ResistancePerLengthUnit::OhmPerKilometre)
    };
    let per_kelvin = (gauge(85.0) / gauge(75.0) - 1.0) / 10.0;
    assert!((per_kelvin - 0.00323).abs() < 5.1e-6, "{per_kelvin}");
}

/// 12 AWG is 3.31 mm² (by the definition of the gauge), between 2.5 and 4 mm²; so is its resistance at one temperature.
#[test]
fn the_two_systems_agree() {
    let at_20 = |size: CordSize| size.resistance(celsius(20.0)).unwrap();
    assert!(at_20(CordSize::Awg12) < at_20(CordSize::SquareMm2_5));
    assert!(at_20(CordSize::Awg12) > at_20(CordSize::SquareMm4));
    for system in SizeSystem::ALL {
        let sizes: Vec<CordSize> =
            CordSize::ALL.iter().copied().filter(|size| size.system() == *system).collect();
        assert!(sizes.len() >= 5 && sizes.windows(2).all(|pair| at_20(pair[0]) > at_20(pair[1])), "{system}");
    }
}

#[test]
fn a_measurement_counts_most_and_the_idle_voltage_more_than_the_nominal_one() {
    let machine = rating(230.0, 4.6);
    let cord = cord(CordSize::SquareMm2_5, 50.0, "m", 20.0);
    let mut supply =
        Supply { source: volts(230.0), idle: volts(235.0), loaded: volts(214.0), cord: Some(cord) };
    let measured = at_machine(machine, &supply).unwrap().unwrap();
    assert_eq!((Some(measured.voltage), measured.basis), (volts(214.0), VoltageBasis::Measured));
    assert!((measured.drop_share.unwrap() - 21.0 / 235.0).abs() < 1e-12);
    supply.loaded = None;
    let from_idle = at_machine(machine, &supply).unwrap().unwrap();
    assert_eq!(from_idle.basis, VoltageBasis::FromIdle);
    let through_cord = 1.0 - through(machine, cord).drop_share.unwrap();
    assert!((from_idle.voltage.value_in(VoltageUnit::Volt) - 235.0 * through_cord).abs() < 1e-9);
    supply.idle = None;
    assert_eq!(at_machine(machine, &supply).unwrap().unwrap().basis, VoltageBasis::FromSource);
    // Without load nothing drops: alone, the idle voltage does not say what arrives.
    let idle_only = Supply { idle: volts(235.0), ..Supply::default() };
    assert_eq!(at_machine(machine, &idle_only), Ok(None));
    let loaded_only = Supply { loaded: volts(214.0), ..Supply::default() };
    assert_eq!(at_machine(machine, &loaded_only).unwrap().unwrap().drop_share, None);
}

#[test]
fn the_reach_falls_with_the_square_of_the_voltage() {
    let machine = rating(240.0, 4.6);
    let reach = Reach::new(celsius(20.0), celsius(620.0)).unwrap();
    // 20 + 600 · .9068, .9396, .9615, the shares of power above.
    for (size, expected) in [(CordSize::Awg14, 564.1), (CordSize::Awg12, 583.8), (CordSize::Awg10, 596.9)] {
        let at = through(machine, cord(size, 100.0, "[ft_i]", 75.0));
        let found = reach.reachable(&at).value_in(TemperatureUnit::Celsius);
        assert!((found - expected).abs() < 0.051, "{size}: {found}");
    }
    let at = through(machine, cord(CordSize::Awg14, 100.0, "[ft_i]", 75.0));
    let near = reach.headroom(&at, celsius(550.0), LEAST_RESERVE);
    assert!(near.is_short && (near.reserve.kelvin() - 14.1).abs() < 0.051);
    assert!(!reach.headroom(&at, celsius(540.0), LEAST_RESERVE).is_short);
    assert!(reach.headroom(&at, celsius(600.0), LEAST_RESERVE).reserve < TemperatureDifference::ZERO);
}

#[test]
fn refusals_name_the_trouble() {
    let (volt, kilowatt) =
        (|value: f64| parse(value, "V").unwrap(), |value: f64| parse(value, "kW").unwrap());
    assert_eq!(Rating::new(volt(0.0), kilowatt(4.6)), Err(SupplyError::RatedVoltage));
    assert_eq!(Rating::new(volt(1001.0), kilowatt(4.6)), Err(SupplyError::RatedVoltage));
    assert_eq!(Rating::new(volt(230.0), kilowatt(0.0)), Err(SupplyError::RatedPower));
    assert_eq!(Rating::new(volt(230.0), kilowatt(4600.0)), Err(SupplyError::RatedPower));
    assert_eq!(Cord::new(CordSize::Awg12, parse(10_001.0, "m").unwrap()), Err(SupplyError::CordLength));
    let plain = Cord::new(CordSize::Awg12, parse(0.0, "m").unwrap()).unwrap();
    assert_eq!(plain.at(celsius(-61.0)), Err(SupplyError::ConductorTemperature));
    assert_eq!(Reach::new(celsius(20.0), celsius(20.0)), Err(SupplyError::Reach));
    for supply in [
        Supply { source: volts(0.0), cord: Some(plain), ..Supply::default() },
        Supply { idle: volts(2300.0), cord: Some(plain), ..Supply::default() },
        Supply { loaded: volts(0.5), ..Supply::default() },
    ] {
        assert_eq!(at_machine(rating(230.0, 4.6), &supply), Err(SupplyError::Voltage));
    }
    // A machine plugged in directly loses nothing.
    let direct = through(rating(230.0, 4.6), plain);
    assert_eq!((direct.drop_share, direct.power_share), (Some(0.0), 1.0));
    assert_eq!(plain.resistance().unwrap().value_in(ResistanceUnit::Ohm), 0.0);
}

fn question(goal: CordGoal, at_least: CordSize, metres: f64) -> CordQuestion {
    CordQuestion {
        rating: rating(230.0, 4.6),
        source: None,
        length: parse(metres, "m").unwrap(),
        conductor: celsius(20.0),
        at_least,
        goal,
    }
}

#[test]
fn advice_names_the_thinnest_cord_that_does() {
    let five = CordGoal::Drop(parse(5.0, "%").unwrap());
    // By the drops above, 6.49 % at 2.5 mm² and 4.13 % at 4 mm².
    let advice = thinnest(&question(five, CordSize::SquareMm1_5, 50.0)).unwrap();
    assert!(matches!(advice, CordAdvice::Enough { size: CordSize::SquareMm4, .. }), "{advice:?}");
    assert_eq!(
        advice.sentence(rating(230.0, 4.6)),
        "For the voltage, a cord of 4 mm² or thicker is enough. What may carry 20 A is for local codes and the \
         cord's maker to say."
    );
    // Never thinner than what codes allow, never of the other system.
    let short = thinnest(&question(five, CordSize::SquareMm6, 1.0)).unwrap();
    assert!(matches!(short, CordAdvice::Enough { size: CordSize::SquareMm6, .. }));
    // 6.86 % at 14 AWG and 4.44 % at 12 AWG, both at 20 °C.
    let gauge = thinnest(&question(five, CordSize::Awg14, 50.0)).unwrap();
    assert!(matches!(gauge, CordAdvice::Enough { size: CordSize::Awg12, .. }), "{gauge:?}");
    let far = thinnest(&question(five, CordSize::SquareMm1_5, 400.0)).unwrap();
    assert!(matches!(far, CordAdvice::NoneListed { thickest: CordSize::SquareMm10, .. }));
    assert!(
        far.sentence(rating(230.0, 4.6)).starts_with("At this length not even a cord of 10 mm² is enough")
    );
}

/// At the source itself 615 °C lies less than 20 K below the 620 °C that the unit reaches.
#[test]
fn what_no_cord_mends_is_said_so() {
    let reach = Reach::new(celsius(20.0), celsius(620.0)).unwrap();
    let goal = CordGoal::Reach { reach, set_point: celsius(615.0), reserve: LEAST_RESERVE };
    let advice = thinnest(&question(goal, CordSize::SquareMm1_5, 1.0)).unwrap();
    assert!(matches!(advice, CordAdvice::NoCord { .. }), "{advice:?}");
    assert!(advice.sentence(rating(230.0, 4.6)).starts_with("No cord gets there"));
    // A weak supply draws less current; the cord still has to be one for the unit on full voltage.
    let weak = CordQuestion { source: parse(120.0, "V").ok(), ..question(goal, CordSize::SquareMm1_5, 1.0) };
    assert!(thinnest(&weak).unwrap().sentence(rating(230.0, 4.6)).contains("20 A"));
}

#[test]
fn advice_keeps_a_set_point_reachable() {
    let reach = Reach::new(celsius(20.0), celsius(620.0)).unwrap();
    let goal = |set_point: f64, reserve: f64| {
        let reserve = TemperatureDifference::from_kelvin(reserve);
        CordGoal::Reach { reach, set_point: celsius(set_point), reserve }
    };
    // Reachable at 50 m: 20 + 600 · .8744 = 544.7 with 2.5 mm², 571.5 with 4 mm².
    for (set_point, size) in [(520.0, CordSize::SquareMm2_5), (530.0, CordSize::SquareMm4)] {
        let advice = thinnest(&question(goal(set_point, 20.0), CordSize::SquareMm2_5, 50.0)).unwrap();
        assert!(matches!(advice, CordAdvice::Enough { size: found, .. } if found == size), "{advice:?}");
    }
    // Not even without any cord is there a reserve below the top.
    let top = thinnest(&question(goal(610.0, 20.0), CordSize::SquareMm2_5, 0.0)).unwrap();
    assert!(matches!(top, CordAdvice::NoCord { .. }));
    let refused = |goal: CordGoal| thinnest(&question(goal, CordSize::SquareMm2_5, 50.0)).unwrap_err();
    assert_eq!(refused(goal(500.0, -1.0)), SupplyError::NegativeReserve);
    for share in [0.0, 100.0] {
        assert_eq!(refused(CordGoal::Drop(parse(share, "%").unwrap())), SupplyError::DropLimit);
    }
    let goal = CordGoal::Drop(USUAL_DROP_LIMIT);
    let dead = CordQuestion { source: volts(0.0), ..question(goal, CordSize::Awg12, 50.0) };
    assert_eq!(thinnest(&dead), Err(SupplyError::Voltage));
}

#[test]
fn markings_are_read_or_left_alone() {
    for &size in CordSize::ALL {
        assert_eq!(CordSize::from_marking(size.name()), Some(size));
        assert_eq!(CordSize::from_code(size.code()), Some(size));
    }
    for (marking, size) in [
        ("12/3", CordSize::Awg12),
        ("SOOW 10/3", CordSize::Awg10),
        ("AWG14", CordSize::Awg14),
        ("14/3 AWG", CordSize::Awg14),
        ("16 ga", CordSize::Awg16),
        ("2,5 mm2", CordSize::SquareMm2_5),
        ("H07RN-F 3G2,5", CordSize::SquareMm2_5),
        ("3 × 1,5 mm²", CordSize::SquareMm1_5),
        ("3x4", CordSize::SquareMm4),
    ] {
        assert_eq!(CordSize::from_marking(marking), Some(size), "{marking}");
    }
    for marking in
        ["", "6", "10", "thick", "2.5", "18 AWG", "0.75 mm²", "12/3 3G2.5", "12/3/4", "30x4", "mm2"]
    {
        assert_eq!(CordSize::from_marking(marking), None, "{marking}");
    }
}
