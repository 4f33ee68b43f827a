//! Whole trials, held against what the rules say and a crew would expect.

use super::*;
use crate::acceptance::{Mode, Scorching, Specimen};
use crate::edges::EdgeClass;
use crate::membrane::{MaterialClass, SheetCondition};
use crate::plan::{StopReason, WeldReason};
use crate::quantity::{Length, Quantity, SpeedUnit, TemperatureDifferenceUnit, WindSpeedUnit};

fn celsius(value: f64) -> Temperature {
    Temperature::from_celsius(value)
}

fn sound() -> Specimen {
    Specimen {
        mode: Some(Mode::FilmTear),
        bonded_width: Some(Length::millimetres(40.0)),
        ..Specimen::default()
    }
}

fn cold() -> Specimen {
    Specimen { mode: Some(Mode::InterfaceOpened), ..Specimen::default() }
}

fn hot() -> Specimen {
    Specimen { mode: Some(Mode::FilmTear), scorching: vec![Scorching::Char], ..Specimen::default() }
}

/// A coupon with so many cold, sound and hot strips.
pub(super) fn coupon(temperature: f64, cold_strips: usize, sound_strips: usize, hot_strips: usize) -> Coupon {
    let mut specimens = vec![cold(); cold_strips];
    specimens.extend(vec![sound(); sound_strips]);
    specimens.extend(vec![hot(); hot_strips]);
    Coupon { set_temperature: celsius(temperature), speed: None, specimens }
}

pub(super) fn input(purpose: Purpose, coupons: Vec<Coupon>) -> TrialInput {
    let sheet = Sheet { class: MaterialClass::Pvc, condition: SheetCondition::New };
    TrialInput {
        purpose,
        method: WeldMethod::Automatic,
        unit_maximum: celsius(620.0),
        display_step: TemperatureDifference::from_kelvin(5.0),
        temperature_unit: TemperatureUnit::Celsius,
        ceilings: Ceilings::default(),
        set_point_before: None,
        upper_sheet: sheet,
        lower_sheet: sheet,
        criteria: Criteria::default(),
        policy: Policy::default(),
        coupons,
        supply: None,
        wind: None,
        speed: Speed::new(3.0, SpeedUnit::MetrePerMinute).expect("positive"),
        speed_unit: SpeedUnit::MetrePerMinute,
        dwell: None,
        surroundings: Surroundings::default(),
    }
}

pub(super) fn sweep() -> TrialInput {
    let coupons = vec![
        coupon(380.0, 3, 0, 0),
        coupon(420.0, 1, 2, 0),
        coupon(460.0, 0, 3, 0),
        coupon(500.0, 0, 3, 0),
        coupon(540.0, 0, 1, 2),
        coupon(580.0, 0, 0, 3),
    ];
    input(Purpose::Sweep, coupons)
}

pub(super) fn confirmation(below: Coupon, at: Coupon, above: Coupon) -> TrialInput {
    let set_point_before = Some(at.set_temperature);
    TrialInput { set_point_before, ..input(Purpose::Confirmation, vec![below, at, above]) }
}

#[test]
fn the_worked_sweep_from_strips_to_sentences() {
    let evaluation = evaluate(&sweep());
    assert_eq!(evaluation.outcome, Outcome::Stands);
    assert_eq!(evaluation.judged.grade, crate::acceptance::EvidenceGrade::Full);
    assert!(evaluation.is_edge_finding);
    // Recomputed independently with SciPy.
    let point = evaluation.set_point.as_ref().expect("a set point");
    assert!((point.computed.celsius() - 475.157).abs() < 6e-4);
    let band = evaluation.band.expect("a band");
    assert!((band.low.celsius() - 447.92).abs() < 6e-3 && (band.high.celsius() - 502.56).abs() < 6e-3);
    assert_eq!(
        evaluation.explanation,
        [
            "The trial stands, with a set point of 475 °C.",
            "18 strips from 6 coupons: 4 cold, 9 sound, 5 hot.",
            "Half the strips would open at about 414 °C (95 %: 370 °C to 446 °C).",
            "Half the strips would scorch at about 537 °C (95 %: 503 °C to 574 °C).",
            "Between 448 °C and 503 °C at most 10 % of strips are expected cold and at most 10 % hot.",
            "Set 475 °C, 27 °C from the cool end of the band and 28 °C from its hot end.",
            "Next coupon: weld at 400 °C, because it is expected to tell most about both edges.",
            "Advice only: the membrane maker, the specification, local codes and the qualified person on site decide.",
        ]
    );
    assert!(evaluation.cautions.contains(&Caution::Smoulder));
    assert!(evaluation.cautions.contains(&Caution::ChlorideFumes));
}

#[test]
fn sentences_speak_the_scale_of_the_crew() {
    let ten = TemperatureDifference::new(10.0, TemperatureDifferenceUnit::Rankine).expect("finite");
    let input = TrialInput { temperature_unit: TemperatureUnit::Fahrenheit, display_step: ten, ..sweep() };
    let evaluation = evaluate(&input);
    assert_eq!(evaluation.outcome_sentence, "The trial stands, with a set point of 890 °F.");
    assert!(evaluation.explanation.iter().all(|sentence| !sentence.contains("°C")));
}

#[test]
fn a_check_that_stands_keeps_the_set_point() {
    let input = confirmation(coupon(455.0, 0, 3, 0), coupon(475.0, 0, 3, 0), coupon(495.0, 0, 3, 0));
    let evaluation = evaluate(&input);
    assert_eq!(evaluation.outcome, Outcome::Stands);
    let point = evaluation.set_point.expect("a set point");
    assert_eq!((point.to_set, point.basis), (celsius(475.0), crate::band::SetPointBasis::Confirmed));
    assert_eq!(evaluation.next_coupon, NextCoupon::Stop { reason: StopReason::Confirmed });
    assert!(!evaluation.is_edge_finding);
    assert_eq!(evaluation.evidence.lower.class, EdgeClass::OpenBelow);
}

#[test]
fn a_check_that_loses_a_neighbour_loses_margin() {
    let input = confirmation(coupon(455.0, 1, 2, 0), coupon(475.0, 0, 3, 0), coupon(495.0, 0, 3, 0));
    let evaluation = evaluate(&input);
    assert_eq!(evaluation.outcome, Outcome::MarginLost);
    assert!(evaluation.is_edge_finding);
    let to_set = evaluation.set_point.expect("a set point").to_set;
    assert!(to_set >= celsius(475.0) && to_set <= celsius(495.0));
}

#[test]
fn a_check_fails_when_its_set_point_is_not_all_sound() {
    let cold_at = confirmation(coupon(455.0, 0, 3, 0), coupon(475.0, 1, 2, 0), coupon(495.0, 0, 3, 0));
    let evaluation = evaluate(&cold_at);
    assert_eq!(evaluation.outcome, Outcome::Failed);
    assert!(evaluation.judged.strips_disagree);
    assert!(evaluation.outcome_sentence.contains("Stop welding with this unit"));
    // Without a recorded set point the middle step is the one that counts.
    let no_record = TrialInput { set_point_before: None, ..cold_at };
    assert_eq!(evaluate(&no_record).outcome, Outcome::Failed);
}

#[test]
fn an_unfinished_check_asks_for_the_missing_step() {
    let mut input = confirmation(coupon(455.0, 0, 3, 0), coupon(475.0, 0, 3, 0), coupon(495.0, 0, 3, 0));
    input.coupons.pop();
    let evaluation = evaluate(&input);
    assert_eq!(evaluation.outcome, Outcome::NoVerdict);
    let expected = NextCoupon::Weld { temperature: celsius(495.0), reason: WeldReason::CompletesCheck };
    assert_eq!(evaluation.next_coupon, expected);
    input.coupons.clear();
    let evaluation = evaluate(&input);
    assert_eq!(evaluation.outcome, Outcome::NoVerdict);
    assert_eq!(evaluation.next_coupon.temperature(), Some(celsius(475.0)));
}

#[test]
fn a_sweep_without_a_sound_step_fails() {
    let input =
        input(Purpose::Sweep, vec![coupon(400.0, 3, 0, 0), coupon(440.0, 0, 2, 1), coupon(480.0, 0, 0, 3)]);
    let evaluation = evaluate(&input);
    assert_eq!(evaluation.outcome, Outcome::Failed);
    assert_eq!(evaluation.set_point, Err(NoSetPoint::NothingSound));
}

#[test]
fn nothing_recorded_is_no_verdict() {
    let blank =
        Coupon { set_temperature: celsius(460.0), speed: None, specimens: vec![Specimen::default(); 3] };
    for coupons in [Vec::new(), vec![blank]] {
        let evaluation = evaluate(&input(Purpose::Sweep, coupons));
        assert_eq!(evaluation.outcome, Outcome::NoVerdict);
        assert_eq!(evaluation.band, None);
        assert_eq!(evaluation.evidence.upper.class, EdgeClass::None);
    }
}

#[test]
fn sheets_that_do_not_weld_get_no_set_point() {
    let tpo = Sheet { class: MaterialClass::Tpo, condition: SheetCondition::New };
    let evaluation = evaluate(&TrialInput { lower_sheet: tpo, ..sweep() });
    assert_eq!(evaluation.set_point, Err(NoSetPoint::IncompatibleSheets));
    assert_eq!(evaluation.band, None);
    assert_eq!(evaluation.next_coupon, NextCoupon::Stop { reason: StopReason::IncompatibleSheets });
    assert_eq!(evaluation.cautions[0], Caution::IncompatibleSheets);
}

#[test]
fn cautions_follow_the_situation() {
    let wind = WindSpeed::new(8.0, WindSpeedUnit::MetrePerSecond).expect("positive");
    let aged = Sheet { class: MaterialClass::Tpo, condition: SheetCondition::Aged };
    let input = TrialInput {
        wind: Some(wind),
        supply: Some(SupplySource::Generator),
        upper_sheet: aged,
        lower_sheet: aged,
        ..sweep()
    };
    let cautions = evaluate(&input).cautions;
    for expected in [Caution::Wind, Caution::Generator, Caution::Cords, Caution::AgedSheet, Caution::Fumes] {
        assert!(cautions.contains(&expected), "{expected} is missing from {cautions:?}");
    }
    assert!(!cautions.contains(&Caution::ChlorideFumes));
    assert_eq!(cautions.last(), Some(&Caution::AdviceOnly));
}

#[test]
fn implausible_values_are_named_with_their_place() {
    let mut input = sweep();
    assert_eq!(input.check(), Ok(()));
    input.coupons[1].set_temperature = celsius(1200.0);
    input.coupons[2].set_temperature = celsius(640.0);
    input.coupons[3].set_temperature = celsius(20.0);
    input.display_step = TemperatureDifference::ZERO;
    let found: Vec<(Place, ImplausibleKind)> =
        input.check().expect_err("implausible").into_iter().map(|found| (found.place, found.kind)).collect();
    assert_eq!(
        found,
        [
            (Place::DisplayStep, ImplausibleKind::DisplayStep),
            (Place::SetTemperature(1), ImplausibleKind::TooHot),
            (Place::SetTemperature(2), ImplausibleKind::AboveUnitMaximum),
            (Place::SetTemperature(3), ImplausibleKind::TooCool),
        ]
    );
    // Refused or not, an evaluation does not fail.
    let _ = evaluate(&input);
}

#[test]
fn the_next_coupon_keeps_its_safety_limits() {
    // Only sound strips up to 460 °C: the upper edge is unknown, but one step of 40 °C is the most.
    let open = input(Purpose::Sweep, vec![coupon(420.0, 3, 0, 0), coupon(460.0, 0, 3, 0)]);
    let next = evaluate(&open).next_coupon.temperature().expect("more to learn");
    assert!(next <= celsius(500.0), "{next:?}");
    // A char strip at 500 °C that was not even a valid test still forbids 500 °C and above.
    let mut scorched = open.clone();
    let mut strip = hot();
    strip.faults = vec![crate::acceptance::Fault::WarmPull];
    scorched.coupons.push(Coupon { set_temperature: celsius(500.0), speed: None, specimens: vec![strip; 3] });
    let next = evaluate(&scorched).next_coupon.temperature().expect("more to learn");
    assert!(next < celsius(500.0), "{next:?}");
    // At the ceiling there is nothing hotter to weld.
    let ceilings = Ceilings { maker: Some(celsius(470.0)), organization: None };
    let next = evaluate(&TrialInput { ceilings, ..open }).next_coupon.temperature();
    assert!(next.is_none_or(|next| next <= celsius(470.0)));
}

#[test]
fn a_contradicting_cross_check_is_said() {
    let upside_down = vec![coupon(400.0, 0, 0, 3), coupon(450.0, 0, 3, 0), coupon(500.0, 3, 0, 0)];
    let evaluation = evaluate(&input(Purpose::Sweep, upside_down));
    let note = "A second method finds no temperature at which half the strips would open: the two disagree. \
                Look at the strips again or weld more coupons there.";
    assert!(evaluation.explanation.iter().any(|sentence| sentence == note), "{:?}", evaluation.explanation);
}

/// Swapped labels, or a wrong one: the only sound step lies below three that opened.
#[test]
fn a_step_that_was_sound_by_luck_is_no_set_point() {
    let coupons =
        vec![coupon(400.0, 0, 3, 0), coupon(450.0, 3, 0, 0), coupon(500.0, 3, 0, 0), coupon(550.0, 3, 0, 0)];
    let evaluation = evaluate(&input(Purpose::Sweep, coupons));
    assert_eq!(evaluation.outcome, Outcome::NoVerdict);
    assert_eq!(evaluation.set_point, Err(crate::band::NoSetPoint::NoBand));
    assert!(
        evaluation.explanation.iter().all(|sentence| !sentence.starts_with("Set ")),
        "{:?}",
        evaluation.explanation
    );
    let two = vec![coupon(450.0, 0, 3, 0), coupon(500.0, 3, 0, 0)];
    assert!(evaluate(&input(Purpose::Sweep, two)).set_point.is_err());
}

#[test]
fn one_step_or_one_strip_is_no_sweep() {
    for coupons in [
        vec![coupon(450.0, 0, 1, 0)],
        vec![coupon(450.0, 0, 3, 0)],
        vec![coupon(450.0, 0, 1, 0), coupon(490.0, 0, 1, 0)],
    ] {
        for purpose in [Purpose::Sweep, Purpose::Commissioning, Purpose::Recheck] {
            let evaluation = evaluate(&input(purpose, coupons.clone()));
            assert_eq!(evaluation.outcome, Outcome::NoVerdict, "{coupons:?}");
            assert_eq!(evaluation.set_point, Err(crate::band::NoSetPoint::TooLittle));
            assert!(evaluation.next_coupon.temperature().is_some(), "it says what to weld");
        }
    }
    let enough = vec![coupon(450.0, 0, 3, 0), coupon(490.0, 0, 3, 0)];
    assert_eq!(evaluate(&input(Purpose::Sweep, enough)).outcome, Outcome::Stands);
}
