//! Laws of trials that step the speed.

use lapwatch_domain::edges::Edge;
use lapwatch_domain::heat::{Conditions, HeatShare, equivalent, surface_share};
use lapwatch_domain::trial::{TrialInput, evaluate};
use proptest::prelude::*;

use crate::any::{celsius, kelvin, metres_a_minute, number, per_minute, trial};
use crate::{cases, same_place};

proptest! {
    #![proptest_config(ProptestConfig {
        cases: cases(), max_shrink_iters: 500, failure_persistence: None, ..ProptestConfig::default()
    })]

    #[test]
    fn slower_is_hotter_and_the_held_speed_is_left_alone(input in trial()) {
        let evaluation = evaluate(&input);
        let held = per_minute(input.speed);
        let sheet = input.surroundings.sheet.unwrap_or(celsius(20.0));
        for (coupon, judged) in input.coupons.iter().zip(&evaluation.judged.coupons) {
            let (set, there) = (coupon.set_temperature, judged.at_held_speed);
            let ratio = coupon.speed.map_or(1.0, |speed| per_minute(speed) / held);
            prop_assert!(ratio != 1.0 || (set == there && judged.set_aside.is_none()));
            // Air cooler than the sheet heats nothing.
            if set > sheet {
                prop_assert!(there > sheet);
                prop_assert!(ratio > 1.0 - 1e-5 || there > set);
                prop_assert!(ratio < 1.0 + 1e-5 || there < set);
            }
            prop_assert!((0.33..3.01).contains(&ratio) || judged.set_aside.is_some());
            prop_assert!(judged.set_aside.is_none() || judged.counts.counted() == 0);
        }
    }

    /// Stepping the speed at one temperature is stepping the temperature at one speed.
    #[test]
    fn a_trial_of_speeds_is_a_trial_of_temperatures(
        input in trial(), temperature in 350.0..560.0f64, ratios in prop::collection::vec(0.4..2.5f64, 1..9),
    ) {
        let held = per_minute(input.speed);
        let mut stepped = TrialInput { unit_maximum: celsius(1000.0), dwell: None, ..input };
        for (coupon, ratio) in stepped.coupons.iter_mut().zip(ratios.iter().cycle()) {
            coupon.set_temperature = celsius(temperature);
            coupon.speed = Some(metres_a_minute(held * ratio));
        }
        let mut swept = stepped.clone();
        let sheet = stepped.surroundings.sheet.map_or(20.0, number);
        let beta = HeatShare::default().beta();
        let share = |speed: f64| surface_share(beta * (3.05 / speed).sqrt());
        for coupon in &mut swept.coupons {
            let speed = per_minute(coupon.speed.take().expect("a speed"));
            coupon.set_temperature = celsius(sheet + (temperature - sheet) * share(speed) / share(held));
        }
        let (one, other) = (evaluate(&stepped), evaluate(&swept));
        for edge in Edge::ALL {
            let (one, other) = (one.evidence.of(*edge), other.evidence.of(*edge));
            prop_assert_eq!(one.class, other.class);
            if let (Some(one), Some(other)) = (one.estimate, other.estimate) {
                prop_assert!((number(one.mean) - number(other.mean)).abs() < 1e-6);
                prop_assert!((kelvin(one.sd) - kelvin(other.sd)).abs() < 1e-6, "{one:?} {other:?}");
            }
        }
        prop_assert_eq!(one.outcome, other.outcome);
        prop_assert_eq!(one.set_point.as_ref().err(), other.set_point.as_ref().err());
        if let (Ok(one), Ok(other)) = (&one.set_point, &other.set_point) {
            prop_assert!(same_place(one, other), "{one:?} {other:?}");
        }
        prop_assert_eq!(one.band.is_some(), other.band.is_some());
        let to = Conditions { sheet: celsius(sheet), speed: stepped.speed };
        let at = |speed| {
            let from = Conditions { speed, ..to };
            number(equivalent(celsius(temperature), from, to, HeatShare::default()).set_point)
        };
        // What is welded next heats no more than the next temperature would.
        if let Some(speed) = one.next_speed {
            let next = one.next_coupon.temperature().expect("a speed is one of a coupon");
            prop_assert!(at(speed) <= number(next) + 1e-6, "{speed:?} for {next:?}");
        }
        let Some(speeds) = one.held_temperature else { return Ok(()) };
        // Never beyond what was tried, even where a ceiling ends the band of temperatures.
        let tried = || stepped.coupons.iter().filter_map(|coupon| coupon.speed).map(per_minute);
        let slowest = tried().fold(f64::INFINITY, f64::min) * (1.0 - 1e-6);
        let fastest = tried().fold(0.0, f64::max) * (1.0 + 1e-6);
        prop_assert!(speeds.slow <= speeds.fast);
        for speed in [speeds.slow, speeds.fast, speeds.computed, speeds.to_set] {
            prop_assert!((slowest..=fastest).contains(&per_minute(speed)), "{speeds:?}");
        }
        // Seen as speeds the band is the same band.
        let ceilings = &stepped.ceilings;
        if let (Some(band), None, None) = (one.band, ceilings.maker, ceilings.organization) {
            prop_assert!((at(speeds.slow) - number(band.high)).abs() < 1e-5);
            prop_assert!((at(speeds.fast) - number(band.low)).abs() < 1e-5);
        }
    }
}
