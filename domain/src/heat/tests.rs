//! The map against published and recomputed numbers.

use super::*;
use crate::numerics::erfcx;
use crate::quantity::{Length, TemperatureDifference, parse};

fn conditions(sheet_f: f64, feet_per_minute: f64) -> Conditions {
    Conditions {
        sheet: parse(sheet_f, "[degF]").unwrap(),
        speed: parse(feet_per_minute, "[ft_i]/min").unwrap(),
    }
}

/// Computed independently with scipy's erfcx.
#[test]
fn surface_shares() {
    for (beta, expected) in [
        (0.05, 0.05401),
        (0.1, 0.10354),
        (0.2, 0.19098),
        (0.3, 0.26540),
        (0.4, 0.32921),
        (0.5, 0.38431),
        (0.75, 0.49306),
        (1.0, 0.57242),
        (2.0, 0.74460),
        (3.0, 0.82100),
    ] {
        assert!((surface_share(beta) - expected).abs() < 5.1e-6, "β {beta}");
        assert!((surface_share_inverse(surface_share(beta)) / beta - 1.0).abs() < 1e-12, "β {beta}");
        let step = 1e-6;
        let slope = (surface_share(beta + step) - surface_share(beta - step)) / (2.0 * step);
        assert!((surface_share_slope(beta) - slope).abs() < 1e-8, "β {beta}");
    }
    // The series below .001 joins on without a step.
    assert!((surface_share(1e-3 - 1e-9) - surface_share(1e-3)).abs() < 1.2e-9);
    assert!(surface_share_inverse(1.0).is_nan() && surface_share_inverse(-0.1).is_nan());
}

/// A convectively heated surface after Incropera's worked problem (h 50 W/m²K, α 4.029e-6 m²/s, k 10 W/mK,
/// 100 s, fluid 355 K, start 393 K): printed 389.5 K at 3 mm depth; here the depth enters through the full solution,
/// whose surface value is the φ of this module.
#[test]
fn a_cooled_wall_from_a_textbook() {
    let (transfer, conductivity, diffusivity, time, depth): (f64, f64, f64, f64, f64) =
        (50.0, 10.0, 4.029e-6, 100.0, 3e-3);
    let beta = transfer * (diffusivity * time).sqrt() / conductivity;
    let eta = depth / (2.0 * (diffusivity * time).sqrt());
    let share = |eta: f64| libm::erfc(eta) - libm::exp(-eta * eta) * erfcx(eta + beta);
    let at_depth = 393.0 + share(eta) * (355.0 - 393.0);
    assert!((at_depth - 389.542_824).abs() < 1e-6, "{at_depth}");
    assert!((share(0.0) - surface_share(beta)).abs() < 1e-15);
}

/// Recomputed independently; 1000 °F at 70 °F and 10 ft/min carried to other sheets and speeds.
#[test]
fn plasticized_pvc_at_ten_feet_a_minute() {
    let sheet = SheetHeat {
        conductivity_w_per_m_k: 0.17,
        density_kg_per_m3: 1300.0,
        heat_capacity_j_per_kg_k: 1300.0,
        transfer_w_per_m2_k: 250.0,
    };
    let heated: Length = parse(25.0, "mm").unwrap();
    let here = conditions(70.0, 10.0);
    let share_here = surface_share(sheet.beta(heated, here.speed));
    assert!((share_here - 0.28372).abs() < 5.1e-6, "{share_here}");
    let share = sheet.share(heated, here.speed, parse(1.5, "mm").unwrap()).unwrap();
    assert!((share.at(here.speed) - share_here).abs() < 1e-12);
    let set_point: Temperature = parse(1000.0, "[degF]").unwrap();
    let fahrenheit =
        |temperature: Temperature| temperature.value_in(crate::quantity::TemperatureUnit::Fahrenheit);
    assert!((fahrenheit(equivalent(set_point, here, here, share).surface) - 333.86).abs() < 0.02);
    for (sheet_f, feet_per_minute, expected) in [
        (70.0, 10.0, 1000.0),
        (40.0, 10.0, 1075.74),
        (95.0, 10.0, 936.88),
        (70.0, 12.0, 1067.58),
        (70.0, 8.0, 925.39),
        (40.0, 12.0, 1151.00),
    ] {
        let carried = equivalent(set_point, here, conditions(sheet_f, feet_per_minute), share);
        assert!(
            (fahrenheit(carried.set_point) - expected).abs() < 0.02,
            "{sheet_f} °F, {feet_per_minute} ft/min"
        );
    }
}

#[test]
fn derivatives_are_those_of_the_map() {
    let share = HeatShare::new(0.24).unwrap();
    let (from, to) = (conditions(60.0, 9.0), conditions(85.0, 11.5));
    let set_point: Temperature = parse(480.0, "Cel").unwrap();
    let carried = equivalent(set_point, from, to, share);
    let nudge = 1e-4;
    let warmer = Conditions { sheet: to.sheet + TemperatureDifference::from_kelvin(nudge), ..to };
    let faster = Conditions { speed: speed_of(metres_per_minute(to.speed) + nudge), ..to };
    let moved = |to| (equivalent(set_point, from, to, share).set_point - carried.set_point).kelvin() / nudge;
    assert!((moved(warmer) - carried.per_sheet).abs() < 1e-6);
    assert!((moved(faster) - carried.per_metre_per_minute.kelvin()).abs() < 1e-2);
    let higher = HeatShare::new(0.25).unwrap();
    let change = (equivalent(set_point, from, to, higher).set_point - carried.set_point).kelvin();
    assert!((change / carried.per_hundredth_of_share.kelvin() - 1.0).abs() < 0.1, "{change}");
    let back = equivalent(carried.set_point, to, from, share).set_point;
    assert!((back - set_point).kelvin().abs() < 1e-9);
}

#[test]
fn hand_welding_is_outside_the_model() {
    let sheet = SheetHeat {
        conductivity_w_per_m_k: 0.17,
        density_kg_per_m3: 1300.0,
        heat_capacity_j_per_kg_k: 1300.0,
        transfer_w_per_m2_k: 250.0,
    };
    let slow: Speed = parse(0.3, "m/min").unwrap();
    let refused = sheet.share(parse(25.0, "mm").unwrap(), slow, parse(1.2, "mm").unwrap());
    assert_eq!(refused, Err(HeatError::DwellTooLong));
    assert_eq!(refused.unwrap_err().code(), "dwell_too_long");
    assert_eq!(HeatShare::new(0.95), Err(HeatError::ShareOutOfRange));
    let nothing = SheetHeat { density_kg_per_m3: 0.0, ..sheet };
    assert_eq!(
        nothing.share(parse(25.0, "mm").unwrap(), slow, parse(1.2, "mm").unwrap()),
        Err(HeatError::NotPositive)
    );
}

fn usual_dwell() -> Dwell {
    Dwell { heated: parse(25.0, "mm").unwrap(), thickness: parse(1.2, "mm").unwrap() }
}

fn known(celsius: f64, sd: f64) -> Known {
    Known { mean: Temperature::from_celsius(celsius), sd: TemperatureDifference::from_kelvin(sd) }
}

/// With one share for certain there is nothing to be added: the map stretches mean and deviation alike.
#[test]
fn a_known_share_adds_no_uncertainty() {
    let share = HeatShare::default();
    let (from, to) = (conditions(60.0, 9.0), conditions(85.0, 11.5));
    let items = [known(430.0, 0.0), known(500.0, 10.0)];
    let carried = carry_together(&items, from, to, &[(share, 3.0)], usual_dwell()).unwrap();
    for (item, value) in items.iter().zip(carried.values()) {
        let alone = equivalent(item.mean, from, to, share).set_point;
        assert!((value.mean - alone).kelvin().abs() < 1e-9);
        let stretch = share.at(from.speed) / share.at(to.speed);
        assert!((value.sd.kelvin() - stretch * item.sd.kelvin()).abs() < 1e-9);
    }
    assert_eq!(carried.correlation(0, 1), 0.0);
}

/// The linear law of error propagation, with the derivative of the map, holds for a narrow spread of shares.
#[test]
fn a_narrow_share_spreads_by_the_derivative() {
    let (from, to) = (conditions(70.0, 10.0), conditions(40.0, 12.0));
    let shares: Vec<(HeatShare, f64)> =
        [0.279, 0.280, 0.281].map(|ratio| (HeatShare::new(ratio).unwrap(), 1.0)).to_vec();
    let set_point = known(500.0, 0.0);
    let carried = carry_together(&[set_point], from, to, &shares, usual_dwell()).unwrap().values()[0];
    let slope = equivalent(set_point.mean, from, to, shares[1].0).per_hundredth_of_share.kelvin() / 0.01;
    let sd_of_share = (2.0f64 / 3.0).sqrt() * 1e-3;
    assert!((carried.sd.kelvin() / (slope.abs() * sd_of_share) - 1.0).abs() < 1e-3, "{carried:?}");
}

/// The share is one unknown: two exactly known temperatures stay in step however uncertain both become.
#[test]
fn what_is_carried_together_moves_together() {
    let shares = crate::drift::ChartSettings::default().heat_shares;
    let (from, to) = (conditions(95.0, 10.0), conditions(40.0, 10.0));
    let ends = [known(430.0, 0.0), known(480.0, 0.0)];
    let carried = carry_together(&ends, from, to, &shares, usual_dwell()).unwrap();
    assert!(carried.values()[0].sd.kelvin() > 10.0);
    assert!((carried.correlation(0, 1) - 1.0).abs() < 1e-9);
    let (width, sd) = carried.apart(0, 1);
    assert!((width.kelvin() - 50.0).abs() < 1e-9 && sd.kelvin() < 1e-6);
    assert_eq!(carried.apart(1, 1).1.kelvin(), 0.0);
}

#[test]
fn nothing_is_carried_to_a_dwell_that_is_too_long() {
    let shares = [(HeatShare::default(), 1.0)];
    let (from, slow) = (conditions(70.0, 10.0), conditions(70.0, 1.0));
    for (from, to) in [(from, slow), (slow, from)] {
        let refused = carry_together(&[known(430.0, 5.0)], from, to, &shares, usual_dwell());
        assert_eq!(refused, Err(HeatError::DwellTooLong));
    }
    let none = carry_together(&[], from, from, &[], usual_dwell());
    assert_eq!(none, Err(HeatError::ShareOutOfRange));
}
