//! Carried advice on cases that can be followed by hand.

use chrono::{DateTime, TimeDelta, TimeZone, Utc};
use uuid::Uuid;

use super::agreement::Agreement;
use super::*;
use crate::drift::{KnowledgePart, LevelPart, Offset, Onset};
use crate::edges::{EdgePrior, Observation, stand_alone};
use crate::heat::{Conditions, HeatShare, equivalent};
use crate::membrane::{MaterialClass, Sheet, SheetCondition};
use crate::policy::{Ceilings, Policy};
use crate::quantity::{Length, SpeedUnit, TemperatureDifference, TemperatureUnit, parse};
use crate::trial::Purpose;

fn celsius(value: f64) -> Temperature {
    Temperature::from_celsius(value)
}

fn now() -> DateTime<Utc> {
    Utc.with_ymd_and_hms(2026, 6, 1, 7, 0, 0).unwrap()
}

/// A history that knows the heat share for certain and both levels to 5 K.
fn knowledge(lower: f64, upper: f64) -> Knowledge {
    let level = |mean| LevelPart { mean, sd: 5.0 };
    let part =
        KnowledgePart { share: HeatShare::default(), weight: 1.0, levels: [level(lower), level(upper)] };
    Knowledge {
        parts: vec![part],
        trial_noise: TemperatureDifference::from_kelvin(8.0),
        trials: 21,
        latest: Some(Onset { trial: Uuid::from_u128(1), at: now() - TimeDelta::days(3) }),
        moved: false,
    }
}

fn today(sheet: f64, metres_per_minute: f64) -> Today {
    Today {
        sheet: Some(celsius(sheet)),
        speed: parse(metres_per_minute, "m/min").unwrap(),
        dwell: Dwell { heated: Length::millimetres(25.0), thickness: Length::millimetres(1.5) },
        at: now(),
        offsets: Offsets::default(),
    }
}

fn start<'a>(policy: &'a Policy, purpose: Purpose, today: Today) -> StartInput<'a> {
    let sheet = Sheet { class: MaterialClass::Pvc, condition: SheetCondition::New };
    StartInput {
        today,
        purpose,
        sheets: [sheet, sheet],
        unit_maximum: celsius(620.0),
        display_step: TemperatureDifference::from_kelvin(5.0),
        temperature_unit: TemperatureUnit::Celsius,
        speed_unit: SpeedUnit::MetrePerMinute,
        ceilings: Ceilings::default(),
        policy,
    }
}

/// A level is that on ordinary sheets; what other units say of today's is added, and what they leave open.
#[test]
fn sheets_that_move_the_edges_are_allowed_for() {
    let policy = Policy::default();
    let known = knowledge(410.0, 530.0);
    let kelvin = TemperatureDifference::from_kelvin;
    let moved = |mean, sd| Offset { mean: kelvin(mean), sd: kelvin(sd) };
    let offsets = Offsets { lower: moved(20.0, 0.0), upper: moved(20.0, 12.0) };
    let today = Today { offsets, ..today(20.0, 3.05) };
    let found = starting_steps(Some(&known), &start(&policy, Purpose::Confirmation, today)).unwrap();
    let [lower, upper] = found.expected;
    assert!((lower.mean.celsius() - 430.0).abs() < 1e-9 && (upper.mean.celsius() - 550.0).abs() < 1e-9);
    // √(25 + 64 + 100 + .9), and 144 more.
    assert!(
        (lower.sd.kelvin() - 13.780).abs() < 1e-3 && (upper.sd.kelvin() - 18.273).abs() < 1e-3,
        "{upper:?}"
    );
    assert_eq!(
        found.explanation[2],
        "Other units' trials say that these sheets move the lower edge by +20 °C and the upper by +20 °C; that is allowed for."
    );
}

#[test]
fn a_check_begins_around_the_carried_set_point() {
    let policy = Policy::default();
    let known = knowledge(410.0, 530.0);
    let found =
        starting_steps(Some(&known), &start(&policy, Purpose::Confirmation, today(20.0, 3.05))).unwrap();
    assert_eq!(found.steps, [450.0, 470.0, 490.0].map(celsius));
    assert_eq!(found.explanation[0], "Weld coupons at 450, 470, 490 °C.");
    assert_eq!(
        found.explanation[1],
        "Carried from 21 earlier trials of this unit, the latest 3 days before, to these conditions."
    );
    // Level, trial noise, unseen drift, three days: √(25 + 64 + 100 + 0.9).
    let lower = found.expected[0];
    assert!((lower.mean - celsius(410.0)).kelvin().abs() < 1e-9);
    assert!((lower.sd.kelvin() - 189.9f64.sqrt()).abs() < 1e-9);
    assert_eq!(found.slower, None);
    let band = found.band.expect("a band");
    assert!(band.low > celsius(420.0) && band.high < celsius(520.0));

    // A sheet at 5 °C asks for hotter air, as the map has it.
    let cold =
        starting_steps(Some(&known), &start(&policy, Purpose::Confirmation, today(5.0, 3.05))).unwrap();
    let to = Conditions { sheet: celsius(5.0), ..Conditions::reference() };
    let expected = equivalent(celsius(410.0), Conditions::reference(), to, HeatShare::default()).set_point;
    assert!((cold.expected[0].mean - expected).kelvin().abs() < 1e-9);
    assert_eq!(cold.steps[1] - found.steps[1], TemperatureDifference::from_kelvin(40.0));
}

#[test]
fn a_sweep_begins_cool_and_ends_beyond_the_upper_edge() {
    let policy = Policy::default();
    let known = knowledge(410.0, 530.0);
    let found = starting_steps(Some(&known), &start(&policy, Purpose::Sweep, today(20.0, 3.05))).unwrap();
    assert_eq!(found.steps, [395.0, 435.0, 470.0, 510.0, 545.0].map(celsius));
}

#[test]
fn at_the_limit_the_advice_is_to_go_slower() {
    let policy = Policy::default();
    let ceilings = Ceilings { maker: Some(celsius(470.0)), organization: None };
    let input = StartInput { ceilings, ..start(&policy, Purpose::Confirmation, today(20.0, 3.05)) };
    let found = starting_steps(Some(&knowledge(420.0, 540.0)), &input).unwrap();
    assert!(found.steps.iter().all(|step| *step <= celsius(470.0)));
    let slower = found.slower.expect("the set point lies above the ceiling");
    assert_eq!(slower.set_point, celsius(445.0));
    // 480 °C at 3.05 m/min is 450 °C or a little less there.
    let there = Conditions { speed: slower.speed, ..Conditions::reference() };
    let same = equivalent(celsius(480.0), Conditions::reference(), there, HeatShare::default()).set_point;
    assert!(same <= celsius(450.5) && same > celsius(444.0), "{same:?}");
    assert!(
        found.explanation.last().unwrap().contains("Weld slower: at 2.5 m/min"),
        "{:?}",
        found.explanation
    );
}

#[test]
fn what_is_not_known_is_refused_with_its_reason() {
    let policy = Policy::default();
    let usual = start(&policy, Purpose::Confirmation, today(20.0, 3.05));
    let refused =
        |knowledge: Option<&Knowledge>, input: &StartInput<'_>| starting_steps(knowledge, input).unwrap_err();
    let known = knowledge(410.0, 530.0);
    assert_eq!(refused(None, &usual), NotCarried::NoHistory);
    assert_eq!(refused(Some(&Knowledge { moved: true, ..known.clone() }), &usual), NotCarried::Moved);
    let no_sheet = StartInput { today: Today { sheet: None, ..usual.today }, ..usual };
    assert_eq!(refused(Some(&known), &no_sheet), NotCarried::SheetTemperatureMissing);
    let by_hand = StartInput { today: today(20.0, 0.3), ..usual };
    assert_eq!(refused(Some(&known), &by_hand), NotCarried::DwellTooLong);
    let tpo = Sheet { class: MaterialClass::Tpo, condition: SheetCondition::New };
    let mixed = StartInput { sheets: [tpo, usual.sheets[1]], ..usual };
    assert_eq!(refused(Some(&known), &mixed), NotCarried::IncompatibleSheets);
    let crawling = StartInput { today: today(20.0, 0.5), ..usual };
    assert_eq!(refused(Some(&known), &crawling), NotCarried::BeyondRange);
    let mut vague = known.clone();
    vague.parts[0].levels[1].sd = 40.0;
    assert_eq!(refused(Some(&vague), &usual), NotCarried::NotKnown);
    let (first, sentence) = full_sweep(&usual);
    assert_eq!(first, celsius(400.0));
    assert_eq!(sentence, "Make a full sweep, starting at 400 °C, at most 40 °C up from coupon to coupon.");
}

/// For an edge found with standard deviation s where the history expects it d away with standard deviation r, the ratio is
/// exp(−d²/2(r² + s²)).
#[test]
fn agreement_is_the_likelihood_ratio() {
    let observations = [
        (380.0, 3, 0, 0),
        (420.0, 1, 2, 0),
        (460.0, 0, 3, 0),
        (500.0, 0, 3, 0),
        (540.0, 0, 1, 2),
        (580.0, 0, 0, 3),
    ]
    .map(|(at, cold, sound, hot)| Observation { temperature: celsius(at), cold, sound, hot });
    let trial = stand_alone(&observations, celsius(620.0), &EdgePrior::default());
    let agreement = |by: f64| {
        let forecast = Forecast::new(&knowledge(413.6 + by, 537.0 + by), &today(20.0, 3.05)).unwrap();
        Agreement::of(&forecast, &trial).probability
    };
    assert!(agreement(0.0) > 0.97);
    let ratio =
        |by: f64| (-0.5 * by * by * (1.0 / (189.9 + 18.9 * 18.9) + 1.0 / (189.9 + 17.5 * 17.5))).exp();
    // What a trial says is not quite normal: it parts from the formula in the tails.
    for (by, tolerance) in [(-40.0, 0.9), (25.0, 0.5), (40.0, 0.9)] {
        assert!(
            (agreement(by) / ratio(by)).ln().abs() < tolerance,
            "{by}: {} for {}",
            agreement(by),
            ratio(by)
        );
    }
    assert!(agreement(40.0) < LEAST_AGREEMENT);
    // Strips that leave an edge open contradict only what they exclude.
    let check = [460.0, 480.0].map(|at| Observation { temperature: celsius(at), cold: 0, sound: 3, hot: 0 });
    let trial = stand_alone(&check, celsius(620.0), &EdgePrior::default());
    let open = |lower: f64| {
        let forecast = Forecast::new(&knowledge(lower, lower + 120.0), &today(20.0, 3.05)).unwrap();
        Agreement::of(&forecast, &trial).probability
    };
    let found = [375.0, 400.0, 530.0].map(open);
    assert!(found[0] > 0.5 && found[1] > 0.7 && found[2] < LEAST_AGREEMENT, "{found:?}");
}

/// What edges are taken together for speed changes no share by more than a few millionths.
#[test]
fn carried_shares_are_exact() {
    use crate::band::Shares;
    use crate::edges::{CarriedEvidence, Edge};
    let observations = [(455.0, 0), (475.0, 0), (495.0, 1)].map(|(at, hot)| Observation {
        temperature: celsius(at),
        cold: 0,
        sound: 3 - hot,
        hot,
    });
    let trial = stand_alone(&observations, celsius(620.0), &EdgePrior::default());
    let forecast = Forecast::new(&knowledge(413.6, 537.0), &today(20.0, 3.05)).unwrap();
    let [lower, upper] = [Edge::Lower, Edge::Upper].map(|edge| forecast.before_strips(edge));
    let edges = CarriedEvidence::new(&trial, [&lower, &upper]).expect("they agree");
    let (coarse, fine) = (Shares::carried(&edges), Shares::fine(&edges));
    for at in [420.0, 440.0, 460.0, 480.0, 500.0, 520.0] {
        assert!((coarse.cold(at) - fine.cold(at)).abs() < 2e-5, "{at}");
        assert!((coarse.hot(at) - fine.hot(at)).abs() < 2e-5, "{at}");
    }
}
