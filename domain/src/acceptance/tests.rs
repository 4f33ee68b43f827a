//! The order of precedence, case by case.

use super::*;
use crate::membrane::WeldMethod;
use crate::quantity::Length;

fn celsius(value: f64) -> Temperature {
    Temperature::from_celsius(value)
}

fn wide() -> Option<Length> {
    Some(Length::millimetres(40.0))
}

fn torn() -> Specimen {
    Specimen { mode: Some(Mode::FilmTear), bonded_width: wide(), ..Specimen::default() }
}

fn opened() -> Specimen {
    Specimen { mode: Some(Mode::InterfaceOpened), ..Specimen::default() }
}

fn failed() -> Specimen {
    Specimen { passed: Some(false), ..Specimen::default() }
}

fn coupon(temperature: f64, specimens: Vec<Specimen>) -> Coupon {
    Coupon { set_temperature: celsius(temperature), speed: None, specimens }
}

fn judge_automatic(coupons: &[Coupon]) -> JudgedTrial {
    judge(coupons, WeldMethod::Automatic, &Criteria::default())
}

/// The reading and the first reason of a strip on its own.
fn read(specimen: Specimen) -> (Reading, Reason) {
    let trial = judge_automatic(&[coupon(460.0, vec![specimen])]);
    let judged = &trial.coupons[0].specimens[0];
    (judged.reading, judged.reasons[0])
}

#[test]
fn precedence() {
    let narrow = Some(Length::millimetres(30.0));
    let char_seen = vec![Scorching::Char];
    let cases = [
        (torn(), Reading::Sound, Reason::FilmTore),
        (opened(), Reading::Cold, Reason::InterfaceOpened),
        // A test that is none comes before everything, scorching included.
        (
            Specimen { cut: Some(CutDirection::Along), scorching: char_seen.clone(), ..torn() },
            Reading::NotCounted,
            Reason::CutAlongSeam,
        ),
        (
            Specimen { width: Some(Length::millimetres(30.0)), ..torn() },
            Reading::NotCounted,
            Reason::WrongStripWidth,
        ),
        (Specimen { faults: vec![Fault::WarmPull], ..opened() }, Reading::NotCounted, Reason::WarmPull),
        (Specimen { faults: vec![Fault::CutFault], ..torn() }, Reading::NotCounted, Reason::CutFault),
        // Char wins over an open interface, over a narrow bond and over dirt.
        (Specimen { scorching: char_seen.clone(), ..opened() }, Reading::Hot, Reason::Char),
        (
            Specimen {
                scorching: char_seen,
                bonded_width: narrow,
                contamination: vec![Contamination::Dirt],
                ..torn()
            },
            Reading::Hot,
            Reason::Char,
        ),
        // Brittle sheet is hot when the bond held, but does not turn an opened one into a hot one.
        (Specimen { scorching: vec![Scorching::Brittle], ..torn() }, Reading::Hot, Reason::Brittle),
        (
            Specimen { scorching: vec![Scorching::Brittle], ..opened() },
            Reading::Cold,
            Reason::InterfaceOpened,
        ),
        // Narrow comes before contaminated, contaminated before cold and sound.
        (
            Specimen { bonded_width: narrow, contamination: vec![Contamination::Dirt], ..torn() },
            Reading::Narrow,
            Reason::BondTooNarrow,
        ),
        (
            Specimen { contamination: vec![Contamination::Moisture], ..opened() },
            Reading::Contaminated,
            Reason::Moisture,
        ),
        (
            Specimen { contamination: vec![Contamination::AgedSheet], ..torn() },
            Reading::Contaminated,
            Reason::AgedSheet,
        ),
        // The width of an opened bond is no reason to call it narrow.
        (Specimen { bonded_width: narrow, ..opened() }, Reading::Cold, Reason::InterfaceOpened),
        // The mode decides over the verdict, except that a failed film tear is asked back.
        (Specimen { passed: Some(true), ..opened() }, Reading::Cold, Reason::InterfaceOpened),
        (Specimen { passed: Some(false), ..torn() }, Reading::Unclear, Reason::FailedYetTore),
        (
            Specimen { passed: Some(true), bonded_width: wide(), ..Specimen::default() },
            Reading::Sound,
            Reason::PassedWithoutMode,
        ),
        (
            Specimen { passed: Some(true), bonded_width: narrow, ..Specimen::default() },
            Reading::Narrow,
            Reason::BondTooNarrow,
        ),
        (failed(), Reading::Unclear, Reason::FailedWithoutMode),
        (Specimen::default(), Reading::Unclear, Reason::NothingRecorded),
    ];
    for (specimen, reading, reason) in cases {
        assert_eq!(read(specimen.clone()), (reading, reason), "{specimen:?}");
    }
}

#[test]
fn the_required_width_depends_on_the_method() {
    let coupons = [coupon(460.0, vec![torn()])];
    let hand = judge(&coupons, WeldMethod::Hand, &Criteria::default());
    assert_eq!(hand.coupons[0].specimens[0].reading, Reading::Narrow);
}

#[test]
fn failures_without_a_mode_are_read_from_their_place() {
    let trial = judge_automatic(&[
        coupon(420.0, vec![failed(), torn(), torn()]),
        coupon(460.0, vec![torn(); 3]),
        coupon(480.0, vec![failed(), torn(), torn()]),
        coupon(500.0, vec![torn(); 3]),
        coupon(540.0, vec![failed(), failed(), torn()]),
    ]);
    let first = |index: usize| &trial.coupons[index].specimens[0];
    assert_eq!((first(0).reading, first(0).reasons[0]), (Reading::Cold, Reason::FailedBelowSound));
    assert_eq!((first(2).reading, first(2).reasons[0]), (Reading::Unclear, Reason::FailedWithoutMode));
    assert_eq!((first(4).reading, first(4).reasons[0]), (Reading::Hot, Reason::FailedAboveSound));
    assert_eq!(trial.coupons[4].counts.hot, 2);
    assert!(!trial.strips_disagree);
    assert_eq!(
        trial.grade_reasons,
        [GradeReason::FewStrips, GradeReason::StripsUnclear, GradeReason::ModeAssumed]
    );
}

#[test]
fn failures_without_a_mode_stay_unclear_without_a_sound_step() {
    let trial =
        judge_automatic(&[coupon(420.0, vec![failed(); 3]), coupon(460.0, vec![failed(), torn(), torn()])]);
    assert_eq!(trial.totals().unclear, 4);
    assert_eq!(trial.all_sound_range(), None);
}

#[test]
fn contradictions_are_marked_and_lower_the_grade() {
    let charred = Specimen { scorching: vec![Scorching::Browning], ..torn() };
    let cases = [
        // A cold strip above an all-sound step.
        vec![coupon(440.0, vec![torn(); 3]), coupon(480.0, vec![opened(), torn(), torn()])],
        // A hot strip below one.
        vec![coupon(440.0, vec![charred.clone(), torn(), torn()]), coupon(480.0, vec![torn(); 3])],
        // A cold strip at the step of an all-sound coupon.
        vec![coupon(440.0, vec![torn(); 3]), coupon(440.0, vec![opened(), torn(), torn()])],
        // A cold strip above a hot one.
        vec![coupon(440.0, vec![charred; 3]), coupon(480.0, vec![opened(); 3])],
    ];
    for coupons in cases {
        let trial = judge_automatic(&coupons);
        assert!(trial.strips_disagree, "{coupons:?}");
        assert!(trial.grade_reasons.contains(&GradeReason::StripsDisagree));
        assert!(trial.grade > EvidenceGrade::Full);
        let marked =
            trial.coupons.iter().flat_map(|c| &c.specimens).any(|s| s.reasons.contains(&Reason::Disagrees));
        assert!(marked);
    }
}

#[test]
fn other_failures_fail_a_step_without_entering_an_edge() {
    let narrow = Specimen { bonded_width: Some(Length::millimetres(30.0)), ..torn() };
    let trial = judge_automatic(&[coupon(460.0, vec![torn(), torn(), narrow])]);
    let counts = trial.steps[0].counts;
    assert_eq!((counts.counted(), counts.other(), counts.all_sound()), (2, 1, false));
    assert_eq!(trial.all_sound_range(), None);
}

#[test]
fn coupons_of_one_step_are_taken_together() {
    let trial = judge_automatic(&[coupon(460.0, vec![torn(); 3]), coupon(460.0 + 1e-9, vec![opened(); 3])]);
    assert_eq!(trial.steps.len(), 1);
    assert_eq!(trial.steps[0].coupons, 2);
    assert!(!trial.steps[0].counts.all_sound());
}
