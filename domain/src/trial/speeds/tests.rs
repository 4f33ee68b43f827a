//! Trials that step the speed.

use super::*;
use crate::acceptance::{GradeReason, Mode, Reading, Specimen};
use crate::band::{Limit, NoSetPoint};
use crate::heat::Dwell;
use crate::plan::NextCoupon;
use crate::quantity::parse;
use crate::trial::evaluate::evaluate_with;
use crate::trial::tests::{confirmation, coupon, input, sweep};
use crate::trial::{Evaluation, Outcome, Purpose, evaluate};

fn celsius(value: f64) -> Temperature {
    Temperature::from_celsius(value)
}

fn metres_a_minute(value: f64) -> Speed {
    parse(value, "m/min").unwrap()
}

fn number(speed: Speed) -> f64 {
    speed.value_in(SpeedUnit::MetrePerMinute)
}

fn at_speed(speed: f64, coupon: Coupon) -> Coupon {
    Coupon { speed: Some(metres_a_minute(speed)), ..coupon }
}

/// 480 °C held, 3 m/min meant, the speed stepped from fast and cold to slow and hot.
fn stepped() -> TrialInput {
    let coupons = [
        (5.0, 3, 0, 0),
        (4.0, 2, 1, 0),
        (3.5, 0, 3, 0),
        (3.0, 0, 3, 0),
        (2.5, 0, 3, 0),
        (2.0, 0, 1, 2),
        (1.5, 0, 0, 3),
    ];
    let weld = |(speed, cold, sound, hot)| at_speed(speed, coupon(480.0, cold, sound, hot));
    let mut input = input(Purpose::Sweep, coupons.into_iter().map(weld).collect());
    input.surroundings.sheet = Some(celsius(20.0));
    input.dwell = Some(Dwell { heated: parse(25.0, "mm").unwrap(), thickness: parse(1.5, "mm").unwrap() });
    input
}

fn places(evaluation: &Evaluation) -> Vec<f64> {
    evaluation.judged.coupons.iter().map(|coupon| coupon.at_held_speed.celsius()).collect()
}

/// 20 + 460·φ(v)/φ(3) with φ = 1 − erfcx, β from φ(3.05) = 0.27: computed independently with the error function of the
/// C library and bisection, to three decimals.
#[test]
fn speeds_become_temperatures_at_the_held_speed() {
    let found = places(&evaluate(&stepped()));
    for (found, expected) in found.iter().zip([395.526, 430.9, 453.203, 480.0, 513.125, 555.714, 613.747]) {
        assert!((found - expected).abs() < 6e-4, "{found} against {expected}");
    }
}

#[test]
fn the_answer_is_the_one_of_the_equivalent_sweep() {
    let stepped = stepped();
    let mut swept = stepped.clone();
    for (coupon, place) in swept.coupons.iter_mut().zip(bring(&stepped, HeatShare::default()).placed) {
        *coupon = Coupon { set_temperature: place.at_held_speed, speed: None, ..coupon.clone() };
    }
    let (one, other) = (evaluate(&stepped), evaluate(&swept));
    assert_eq!((&one.evidence, one.band, &one.set_point), (&other.evidence, other.band, &other.set_point));
    assert_eq!(
        (one.next_coupon, one.outcome, &one.judged.steps),
        (other.next_coupon, other.outcome, &other.judged.steps)
    );
    assert_eq!((other.speeds, other.held_temperature), (None, None));
}

#[test]
fn a_coupon_of_the_held_speed_stays_exactly_where_it_is() {
    let plain = sweep();
    let mut said = plain.clone();
    // A sheet temperature would move anything that went through the map.
    said.surroundings.sheet = Some(celsius(-7.0));
    said.coupons.iter_mut().for_each(|coupon| coupon.speed = Some(plain.speed));
    assert_eq!(evaluate(&plain), evaluate(&said));
    // 9.842519685 ft/min is 3 m/min but for its last digits.
    said.coupons
        .iter_mut()
        .for_each(|coupon| coupon.speed = Some(parse(9.842_519_685, "[ft_i]/min").unwrap()));
    assert_eq!(evaluate(&plain), evaluate(&said));
}

#[test]
fn the_sentences_say_how_speeds_were_brought_to_one() {
    let mut input = stepped();
    let said = evaluate(&input).explanation;
    let all = said.join("\n");
    assert_eq!(
        said[2..4],
        [
            "Speeds differed and were brought to one: temperatures here are those that heat the sheet alike at \
             3.0 m/min, reckoned with a sheet at 20 °C, and a unit that heats as usual.",
            "A unit that heats otherwise has them lie further apart or closer together, all in step, the one moved \
             furthest by about 8 °C (one standard deviation).",
        ]
    );
    assert!(!all.contains("could not be checked"), "{all}");
    (input.surroundings.sheet, input.dwell) = (None, None);
    let all = evaluate(&input).explanation.join("\n");
    assert!(all.contains("a sheet at 20 °C, the usual, because it was not measured"), "{all}");
    assert!(all.contains("its heated length or the sheet's thickness is not known"), "{all}");
    let how = evaluate(&input).speeds.unwrap();
    assert_eq!((how.coupons, how.set_aside, how.sheet_measured, how.dwell_checked), (6, 0, false, false));
    // The crew's own units.
    input.speed_unit = SpeedUnit::FootPerMinute;
    assert!(evaluate(&input).explanation.join("\n").contains("alike at 9.8 ft/min"));
    assert_eq!(evaluate(&sweep()).speeds, None);
}

/// The spread of the setting moved furthest is the slope of the map times the spread of the share.
#[test]
fn the_spread_is_that_of_the_unknown_share() {
    let how = evaluate(&stepped()).speeds.unwrap();
    let slowest = |ratio: f64| places(&evaluate_with(&stepped(), HeatShare::new(ratio).unwrap()))[6];
    let spread = (slowest(0.23) - slowest(0.31)) / 2.0;
    assert!((how.largest_sd.kelvin() / spread - 1.0).abs() < 0.02, "{how:?} {spread}");
    // The numbers that the module's documentation gives: at half the held speed, and at the furthest.
    let at = |speed: f64| {
        let coupons = vec![at_speed(speed, coupon(480.0, 0, 3, 0))];
        evaluate(&TrialInput { coupons, ..stepped() }).speeds.unwrap().largest_sd.kelvin()
    };
    assert!((at(1.5) - 8.0).abs() < 0.5 && (at(3.0 / FURTHEST_SPEED_RATIO) - 16.0).abs() < 0.5);
    let held = sweep();
    assert_eq!(places(&evaluate_with(&held, HeatShare::new(0.4).unwrap())), places(&evaluate(&held)));
}

#[test]
fn the_temperature_that_was_held_has_a_band_of_speeds() {
    let evaluation = evaluate(&stepped());
    let band = evaluation.held_temperature.unwrap();
    assert_eq!(band.temperature, celsius(480.0));
    let (slow, set, fast) = (number(band.slow), number(band.to_set), number(band.fast));
    assert!(2.0 < slow && slow < set && set < fast && fast < 4.0, "{band:?}");
    assert_eq!((band.slow_limited_by, band.fast_limited_by), (Limit::HotShare, Limit::ColdShare));
    assert!(
        (set * 10.0 - (set * 10.0).round()).abs() < 1e-9
            && (set - number(band.computed)).abs() <= 0.05 + 1e-9
    );
    // The same set point, seen the other way round.
    let conditions = conditions(&stepped()).0;
    let from = Conditions { speed: band.computed, ..conditions };
    let back = equivalent(celsius(480.0), from, conditions, HeatShare::default()).set_point;
    assert!((back - evaluation.set_point.unwrap().computed).kelvin().abs() < 1e-6);
    let sentence = format!("Set {set:.1} m/min there.");
    assert!(
        evaluation.explanation.iter().any(|said| said.ends_with(&sentence)),
        "{:?}",
        evaluation.explanation
    );
}

/// From the lowest to the highest share that occurs the settings move by tens of degrees, the speeds by less than
/// three hundredths.
#[test]
fn the_band_of_speeds_hardly_depends_on_the_share() {
    let at = |ratio: f64| evaluate_with(&stepped(), HeatShare::new(ratio).unwrap());
    let (low, high) = (at(HeatShare::LOWEST), at(HeatShare::HIGHEST));
    assert!((places(&low)[6] - places(&high)[6]) > 40.0);
    let (low, high) = (low.held_temperature.unwrap(), high.held_temperature.unwrap());
    for (low, high) in [(low.slow, high.slow), (low.fast, high.fast), (low.computed, high.computed)] {
        assert!((number(low) / number(high) - 1.0).abs() < 0.03, "{low:?} {high:?}");
    }
}

#[test]
fn only_a_trial_that_held_one_temperature_has_a_band_of_speeds() {
    assert_eq!(evaluate(&sweep()).held_temperature, None);
    let mut both = stepped();
    both.coupons[0].set_temperature = celsius(500.0);
    let evaluation = evaluate(&both);
    assert!(evaluation.speeds.is_some() && evaluation.held_temperature.is_none());
    // A temperature above a ceiling is no temperature to work at, whatever the speed.
    let mut above = stepped();
    above.ceilings.maker = Some(celsius(470.0));
    assert_eq!(evaluate(&above).held_temperature, None);
}

/// Sound only so slowly that the held speed would need more than the unit can give.
#[test]
fn beyond_the_unit_at_the_held_speed_there_still_is_a_slower_one() {
    let coupons = vec![
        at_speed(3.0, coupon(600.0, 3, 0, 0)),
        at_speed(2.5, coupon(600.0, 3, 0, 0)),
        at_speed(2.0, coupon(600.0, 0, 3, 0)),
        at_speed(1.6, coupon(600.0, 0, 3, 0)),
        at_speed(1.3, coupon(600.0, 0, 0, 3)),
    ];
    let evaluation = evaluate(&input(Purpose::Sweep, coupons));
    assert_eq!(evaluation.outcome, Outcome::Failed);
    assert_eq!(evaluation.set_point, Err(NoSetPoint::CeilingBelowSound));
    assert!(evaluation.outcome_sentence.ends_with("repeat slower."));
    let lower = evaluation.evidence.lower.estimate.unwrap();
    assert!(lower.mean > celsius(640.0) && lower.mean < celsius(720.0), "{lower:?}");
    let band = evaluation.held_temperature.unwrap();
    assert!(number(band.to_set) >= 1.6 && number(band.to_set) <= 2.0, "{band:?}");
    assert!(evaluation.explanation.iter().any(|said| said.contains("For the repeat set 1.")));
    // Nothing hotter than the unit is asked for.
    assert!(evaluation.next_coupon.temperature().is_none_or(|next| next <= celsius(620.0)));
}

#[test]
fn what_cannot_be_compared_is_left_out_and_named() {
    let mut input = stepped();
    // A thin sheet: αt/L² is 0.2 at 1.57 m/min, so that 1.5 m/min is too slow.
    input.dwell = Some(Dwell { heated: parse(25.0, "mm").unwrap(), thickness: parse(0.693, "mm").unwrap() });
    input.coupons[0].speed = Some(metres_a_minute(30.0));
    let evaluation = evaluate(&input);
    let aside: Vec<Option<Reason>> =
        evaluation.judged.coupons.iter().map(|coupon| coupon.set_aside).collect();
    assert_eq!(aside[0], Some(Reason::SpeedTooFar));
    assert_eq!(aside[6], Some(Reason::DwellTooLong));
    assert!(aside[1..6].iter().all(Option::is_none));
    let strips = &evaluation.judged.coupons[6].specimens;
    assert!(strips.iter().all(|strip| strip.reading == Reading::NotCounted));
    assert!(evaluation.judged.grade_reasons.contains(&GradeReason::FewStrips));
    let how = evaluation.speeds.unwrap();
    assert_eq!((how.coupons, how.set_aside, how.dwell_checked), (4, 2, true));
    let said = evaluation.explanation.join("\n");
    assert!(said.contains("1 coupon is left out: welded more than three times as fast or as slow"), "{said}");
    assert!(
        said.contains("1 coupon is left out: at that speed or at the held one the nozzle stays"),
        "{said}"
    );
    // The rest is judged as if they had not been welded, but for the number of coupons.
    let mut without = input.clone();
    without.coupons = input.coupons[1..6].to_vec();
    let rest = evaluate(&without);
    assert_eq!((evaluation.evidence, evaluation.band), (rest.evidence, rest.band));
    assert_eq!(evaluation.held_temperature, rest.held_temperature);
}

#[test]
fn a_held_speed_that_is_too_slow_leaves_only_its_own_coupons() {
    let mut input = stepped();
    input.dwell = Some(Dwell { heated: parse(60.0, "mm").unwrap(), thickness: parse(0.6, "mm").unwrap() });
    let evaluation = evaluate(&input);
    let how = evaluation.speeds.unwrap();
    assert_eq!((how.coupons, how.set_aside), (0, 6));
    assert_eq!(evaluation.judged.coupons[3].set_aside, None);
    assert_eq!(evaluation.judged.totals().counted(), 3);
    assert!(!evaluation.explanation.iter().any(|said| said.contains("brought to one")));
    assert_eq!(evaluation.held_temperature, None);
    // A sheet of no thickness says nothing.
    input.dwell = Some(Dwell { heated: parse(60.0, "mm").unwrap(), thickness: parse(0.0, "mm").unwrap() });
    let how = evaluate(&input).speeds.unwrap();
    assert_eq!((how.coupons, how.dwell_checked), (6, false));
}

#[test]
fn scorching_of_a_slower_coupon_bounds_the_next_one() {
    let mut input = stepped();
    input.coupons.truncate(6);
    let limit = bring(&input, HeatShare::default()).placed[5].at_held_speed;
    assert!(limit > celsius(550.0));
    assert!(evaluate(&input).next_coupon.temperature().is_none_or(|next| next < limit));
    // One step above what was welded so far, at the held speed: 4 m/min at 480 °C is 431 °C there.
    input.coupons = vec![at_speed(4.0, coupon(480.0, 3, 0, 0))];
    let next = evaluate(&input).next_coupon.temperature().unwrap();
    assert!(next <= celsius(431.0 + 40.0), "{next:?}");
    // What cannot be compared was not welded, as far as that goes: the trial begins.
    input.coupons = vec![at_speed(0.5, coupon(480.0, 0, 3, 0))];
    assert_eq!(evaluate(&input).next_coupon.temperature(), Some(celsius(400.0)));
}

/// A mode that was not recorded is read from the place among the steps of speed.
#[test]
fn failures_without_a_mode_are_placed_by_speed() {
    let mut input = stepped();
    let failed = Specimen { passed: Some(false), ..Specimen::default() };
    input.coupons[0].specimens = vec![failed.clone(); 3];
    input.coupons[6].specimens = vec![failed; 3];
    let judged = evaluate(&input).judged;
    assert_eq!((judged.coupons[0].counts.cold, judged.coupons[6].counts.hot), (3, 3));
}

#[test]
fn a_check_that_steps_the_speed_keeps_what_is_in_use() {
    let at = |speed: f64, mode: Mode| {
        let strip = Specimen { mode: Some(mode), ..Specimen::default() };
        let specimens = vec![strip; 3];
        Coupon { set_temperature: celsius(475.0), speed: Some(metres_a_minute(speed)), specimens }
    };
    let sound = |speed: f64| at(speed, Mode::FilmTear);
    let check = confirmation(sound(3.4), sound(3.0), sound(2.6));
    let evaluation = evaluate(&check);
    assert_eq!(evaluation.outcome, Outcome::Stands);
    assert_eq!(evaluation.set_point.unwrap().to_set, celsius(475.0));
    assert!((number(evaluation.held_temperature.unwrap().to_set) - 3.0).abs() < 1e-9);
    let lost = confirmation(at(3.4, Mode::InterfaceOpened), sound(3.0), sound(2.6));
    assert_eq!(evaluate(&lost).outcome, Outcome::MarginLost);
    // A step that is asked for is one the unit can display.
    let mut unfinished = confirmation(sound(3.4), sound(3.02), sound(2.6));
    unfinished.coupons.pop();
    match evaluate(&unfinished).next_coupon {
        NextCoupon::Weld { temperature, .. } => {
            let steps = temperature.celsius() / 5.0;
            assert!((steps - steps.round()).abs() < 1e-9, "{temperature:?}");
        }
        stop => panic!("{stop:?}"),
    }
}

/// The speed of the next coupon heats the sheet as the next temperature would, or a little less; never more.
#[test]
fn the_next_coupon_of_a_stepped_trial_is_a_speed() {
    let mut unfinished = stepped();
    unfinished.coupons.truncate(4);
    let evaluation = evaluate(&unfinished);
    let temperature = evaluation.next_coupon.temperature().expect("three coupons are not enough");
    let speed = evaluation.next_speed.expect("the temperature is held");
    let tenths = 10.0 * speed.value_in(SpeedUnit::MetrePerMinute);
    assert!((tenths - tenths.round()).abs() < 1e-9, "{speed:?} is a whole step");
    let there = Conditions { speed, ..conditions(&unfinished).0 };
    let brought =
        equivalent(celsius(480.0), there, conditions(&unfinished).0, HeatShare::default()).set_point;
    let short = (temperature - brought).kelvin();
    assert!((-1e-6..8.0).contains(&short), "{brought:?} for {temperature:?}");
    let said = format!("weld at {} and the temperature that is held", unfinished.show_speed(speed));
    assert!(evaluation.next_sentence.contains(&said), "{}", evaluation.next_sentence);

    // One that steps the temperature has none.
    assert_eq!(evaluate(&sweep()).next_speed, None);
}
