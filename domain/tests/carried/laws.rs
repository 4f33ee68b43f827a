//! Laws that carried advice obeys, on random trials of a known unit.

use lapwatch_domain::acceptance::{Coupon, Mode, Scorching, Specimen};
use lapwatch_domain::band::NoSetPoint;
use lapwatch_domain::carried::{StartInput, starting_steps};
use lapwatch_domain::membrane::MaterialClass;
use lapwatch_domain::policy::{Ceilings, Policy};
use lapwatch_domain::quantity::{
    Quantity, SpeedUnit, TemperatureDifference, TemperatureDifferenceUnit, TemperatureUnit,
};
use lapwatch_domain::trial::{Purpose, TrialInput, evaluate};
use proptest::prelude::*;

use crate::KNOWN;
use crate::unit::{Unit, celsius, input, number, speed};

fn known_unit() -> &'static Unit {
    &KNOWN[1]
}

/// Up to six coupons of three strips that show anything, at the held speed of 3.05 m/min or another.
fn coupons() -> impl Strategy<Value = Vec<Coupon>> {
    let strip = prop::sample::select(vec![
        Specimen { mode: Some(Mode::InterfaceOpened), ..Specimen::default() },
        Specimen { mode: Some(Mode::FilmTear), ..Specimen::default() },
        Specimen { mode: Some(Mode::FilmTear), ..Specimen::default() },
        Specimen { mode: Some(Mode::FilmTear), scorching: vec![Scorching::Char], ..Specimen::default() },
    ]);
    let speed = prop::option::weighted(0.4, (12..60u32).prop_map(|tenths| speed(f64::from(tenths) / 10.0)));
    let coupon = (30..60u32, speed, prop::collection::vec(strip, 3)).prop_map(|(tens, speed, specimens)| {
        Coupon { set_temperature: celsius(f64::from(tens) * 10.0), speed, specimens }
    });
    prop::collection::vec(coupon, 0..7)
}

fn ceilings() -> impl Strategy<Value = Ceilings> {
    prop::option::weighted(0.5, 380.0..620.0f64)
        .prop_map(|maker| Ceilings { maker: maker.map(celsius), organization: None })
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 300, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn carried_advice_keeps_every_limit(coupons in coupons(), ceilings in ceilings(), sheet in -10.0..60.0f64) {
        let mut unit = known_unit().clone();
        let mut day = unit.day();
        day.sheet = sheet;
        let mut input = TrialInput { ceilings, ..input(Purpose::Sweep, coupons) };
        input.surroundings.sheet = Some(celsius(sheet));
        let evaluation = evaluate(&input);
        let Ok(carried) = unit.carry(&day, &input, &evaluation) else { return Ok(()) };
        prop_assert!((0.0..=1.0).contains(&carried.agreement));
        let Some(advice) = carried.advice else { return Ok(()) };
        let top = ceilings.maker.map_or(620.0, |maker| number(maker).min(620.0)) + 1e-6;
        match &evaluation.set_point {
            Err(why) => prop_assert_eq!(advice.set_point.as_ref().err(), Some(why)),
            Ok(_) => prop_assert!(matches!(advice.set_point, Ok(_) | Err(NoSetPoint::NoBand))),
        }
        if let Ok(point) = &advice.set_point {
            let (low, high) = evaluation.judged.all_sound_range().expect("a set point needs a sound step");
            prop_assert!(point.to_set >= low && point.to_set <= high && number(point.to_set) <= top);
        }
        if let Some(band) = &advice.band {
            prop_assert!(band.band.low <= band.band.high && number(band.band.high) <= top);
        }
        if let Some(next) = advice.next_coupon.temperature() {
            prop_assert!(number(next) <= top);
            // Speeds of 1.2 to 6 m/min are never too far from 3.05 to be compared.
            let welded = || input.coupons.iter().zip(&evaluation.judged.coupons);
            let hottest = welded().map(|(_, judged)| number(judged.at_held_speed)).reduce(f64::max);
            prop_assert!(hottest.is_none_or(|hottest| number(next) <= hottest + 40.0 + 1e-3));
            let scorched = welded().filter(|(coupon, _)| coupon.specimens.iter().any(|s| !s.scorching.is_empty()));
            prop_assert!(scorched.into_iter().all(|(_, judged)| next < judged.at_held_speed));
        }
        for edge in [&advice.edges.lower, &advice.edges.upper] {
            let found = edge.estimate;
            prop_assert!(found.q025 <= found.q500 && found.q500 <= found.q975);
        }
    }

    #[test]
    fn starting_steps_keep_every_limit(
        ceilings in ceilings(), sheet in -10.0..60.0f64, display in 1.0..12.0f64,
        fahrenheit in any::<bool>(), purpose in prop::sample::select(Purpose::ALL),
    ) {
        let mut unit = known_unit().clone();
        let mut day = unit.day();
        day.sheet = sheet;
        let knowledge = unit.charts.now(MaterialClass::Pvc, &[]).expect("the unit is known");
        let policy = Policy::default();
        let scale = if fahrenheit { TemperatureUnit::Fahrenheit } else { TemperatureUnit::Celsius };
        let step = TemperatureDifference::new(display.round(), scale.difference_unit()).unwrap();
        let trial = input(purpose, Vec::new());
        let start = StartInput {
            today: unit.today(&day), purpose, sheets: [trial.upper_sheet, trial.lower_sheet],
            unit_maximum: celsius(620.0), display_step: step, temperature_unit: scale,
            speed_unit: SpeedUnit::MetrePerMinute, ceilings, policy: &policy,
        };
        let Ok(found) = starting_steps(Some(&knowledge), &start) else { return Ok(()) };
        // Half a thousandth of a display step is let through, for what was converted from °F.
        let top = ceilings.maker.map_or(620.0, |maker| number(maker).min(620.0)) + 6e-4 * display.round();
        prop_assert!(!found.steps.is_empty() && found.steps.len() <= policy.maximum_coupons);
        prop_assert!(found.steps.iter().all(|step| number(*step) <= top));
        prop_assert!(number(found.set_point.to_set) <= top);
        for pair in found.steps.windows(2) {
            let up = (pair[1] - pair[0]).value_in(TemperatureDifferenceUnit::Kelvin);
            prop_assert!(up > 0.0 && up <= 40.0 + 1e-3, "{up}");
        }
        if let Some(slower) = found.slower {
            prop_assert!(slower.speed < start.today.speed && number(slower.set_point) <= top);
        }
    }
}
