//! Laws of the fits.

use std::sync::OnceLock;

use chrono::Duration;
use lapwatch_domain::drift::{ChartSettings, HistoryEntry, Offsets};
use lapwatch_domain::edges::{Edge, Observation, Profile};
use lapwatch_domain::fleet::{Basis, Spread, Surface, UnitHistory};
use lapwatch_domain::membrane::MaterialClass;
use lapwatch_domain::quantity::{
    Quantity, Temperature, TemperatureDifference, TemperatureDifferenceUnit, TemperatureUnit,
};
use lapwatch_domain::trial::Purpose;
use proptest::prelude::*;
use uuid::Uuid;

use crate::heat::{self, SEASONS};
use crate::measure::{Truth, entries, histories};
use crate::strips::{Dice, Habit, Trial, fleet, steps_of};

/// A fleet just large enough, and its fit.
fn some_fleet() -> Vec<Trial> {
    fleet(5, Truth { rho: 0.7, sigma_k: 20.0, ln_spread: 0.2 }, 8, 8, &[Habit::Sweep(20.0)])
}

fn its_fit() -> Spread {
    static FIT: OnceLock<Spread> = OnceLock::new();
    *FIT.get_or_init(|| {
        let fit = Spread::fit(steps_of(&some_fleet()));
        assert_eq!((fit.correlation.basis, fit.scatter.basis), (Basis::Fitted, Basis::Fitted), "{fit:?}");
        fit
    })
}

fn celsius(value: f64) -> Temperature {
    Temperature::new(value, TemperatureUnit::Celsius).expect("above absolute zero")
}

fn kelvin(value: f64) -> TemperatureDifference {
    TemperatureDifference::new(value, TemperatureDifferenceUnit::Kelvin).expect("finite")
}

fn shuffle<T>(items: &mut [T], dice: &mut Dice) {
    for end in (1..items.len()).rev() {
        items.swap(end, (dice.uniform() * (end + 1) as f64) as usize);
    }
}

/// Trials that say nothing of σ and ρ: all strips alike, no search, no strips, or too short a one.
fn silent() -> impl Strategy<Value = Trial> {
    let step =
        |celsius_: f64, cold, sound, hot| Observation { temperature: celsius(celsius_), cold, sound, hot };
    let check = (40..50u32, 0..3usize, 0..3usize).prop_map(move |(tens, cold, hot)| {
        let middle = f64::from(tens) * 10.0;
        let steps = vec![
            step(middle - 40.0, cold, 3 - cold, 0),
            step(middle, 0, 3, 0),
            step(middle + 40.0, 0, 3 - hot, hot),
        ];
        (Purpose::Confirmation, steps)
    });
    let all_sound = (1..8usize).prop_map(move |count| {
        (Purpose::Sweep, (0..count).map(|place| step(400.0 + 30.0 * place as f64, 0, 3, 0)).collect())
    });
    let short = (0..4usize)
        .prop_map(move |cold| (Purpose::Sweep, vec![step(420.0, cold, 4 - cold, 0), step(450.0, 0, 3, 1)]));
    let started_inside = Just((
        Purpose::Commissioning,
        vec![step(420.0, 1, 2, 0), step(460.0, 0, 3, 0), step(500.0, 0, 3, 0)],
    ));
    (1..20u128, prop_oneof![check, all_sound, short, started_inside])
        .prop_map(|(unit, (purpose, steps))| Trial { unit, purpose, steps })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(4))]

    /// The order of trials, of coupons and of strips (which are counted), and where on the scale the steps lie.
    #[test]
    fn order_and_place_do_not_matter(seed in any::<u64>(), up in 0..20u32) {
        let mut trials = some_fleet();
        let mut dice = Dice(seed);
        shuffle(&mut trials, &mut dice);
        for trial in &mut trials {
            shuffle(&mut trial.steps, &mut dice);
            for step in &mut trial.steps {
                step.temperature = step.temperature + kelvin(f64::from(up));
            }
        }
        prop_assert_eq!(Spread::fit(steps_of(&trials)), its_fit());
    }

    /// Checks, trials without an edge, and edges met by chance change nothing, however many.
    #[test]
    fn no_evidence_changes_nothing(silent in prop::collection::vec(silent(), 0..60)) {
        let mut trials = some_fleet();
        trials.extend(silent);
        prop_assert_eq!(Spread::fit(steps_of(&trials)), its_fit());
    }
}

#[test]
fn the_whole_fleet_twice_narrows_every_interval() {
    let once = its_fit();
    let (trials, again) = (some_fleet(), some_fleet());
    let twice = Spread::fit(steps_of(&trials).chain(steps_of(&again)));
    assert!(twice.correlation.estimate.sd < once.correlation.estimate.sd);
    assert!(twice.scatter.ln_median_sd < once.scatter.ln_median_sd);
}

/// A fleet of four units, one of which also welds another class.
fn heat_fleet() -> Vec<Vec<heat::Trial>> {
    (0..4).map(|unit| heat::unit(unit * 9 + 2, 0.24, MaterialClass::Pvc, 40, SEASONS)).collect()
}

#[test]
fn the_order_of_units_and_trials_does_not_matter() {
    let trials = heat_fleet();
    let mut shuffled = entries(&trials);
    let sorted = shuffled.clone();
    let settings = ChartSettings::default();
    let expected = Surface::fit(&histories(&sorted), &settings);
    assert_eq!(expected.classes[0].basis, Basis::Fitted);
    let mut dice = Dice(1);
    shuffled.iter_mut().for_each(|history| shuffle(history, &mut dice));
    // A trial given twice is one trial.
    for history in &mut shuffled {
        history.push(history[0]);
    }
    let mut units = histories(&shuffled);
    units.reverse();
    assert_eq!(Surface::fit(&units, &settings), expected);
}

#[test]
fn trials_that_say_nothing_leave_the_heat_share_where_it_is() {
    let trials = heat_fleet();
    let plain = entries(&trials);
    let maximum = celsius(620.0);
    let (lower, upper) = (Profile::flat(Edge::Lower, maximum), Profile::flat(Edge::Upper, maximum));
    let mut padded = plain.clone();
    for history in &mut padded {
        let last = *history.last().expect("40 trials");
        history.extend((1..6).map(|day| HistoryEntry {
            trial: Uuid::from_u128(1000 + day),
            at: last.at + Duration::days(day as i64),
            sheet: Some(celsius(60.0)),
            lower: &lower,
            upper: &upper,
            offsets: Offsets::default(),
            ..last
        }));
    }
    let settings = ChartSettings::default();
    let (plain, padded) =
        (Surface::fit(&histories(&plain), &settings), Surface::fit(&histories(&padded), &settings));
    for (before, after) in plain.units.iter().zip(&padded.units) {
        assert_eq!(after.trials, before.trials + 5);
        assert!((after.estimate.mean - before.estimate.mean).abs() < 1e-9, "{before:?} {after:?}");
        assert!((after.narrowing - before.narrowing).abs() < 1e-9);
    }
}

/// Other classes are other populations; service lets half of what was learnt stand, and service after the last trial
/// all of it.
#[test]
fn classes_are_apart_and_service_forgets_by_half() {
    let pvc = heat_fleet();
    let tpo: Vec<_> =
        (0..4).map(|unit| heat::unit(unit * 9 + 4, 0.33, MaterialClass::Tpo, 40, SEASONS)).collect();
    let settings = ChartSettings::default();
    let (pvc, tpo) = (entries(&pvc), entries(&tpo));
    let mixed: Vec<Vec<HistoryEntry<'_>>> =
        pvc.iter().zip(&tpo).map(|(pvc, tpo)| [pvc.clone(), tpo.clone()].concat()).collect();
    let both = Surface::fit(&histories(&mixed), &settings);
    let alone = Surface::fit(&histories(&pvc), &settings);
    assert_eq!((both.classes[0], &both.units[..4]), (alone.classes[0], &alone.units[..]));
    assert_eq!(both.classes[1].class, MaterialClass::Tpo);
    assert!(both.classes[1].mean.low > both.classes[0].mean.high, "{:?}", both.classes);

    let served = |resets: &[_]| {
        let unit = UnitHistory { unit: Uuid::from_u128(1), history: &pvc[0], resets };
        Surface::fit(&[unit], &settings).units[0]
    };
    let (first, last) = (pvc[0][0].at, pvc[0][39].at);
    let never = served(&[]);
    assert_eq!(served(&[last + Duration::days(1)]), never);
    assert!(served(&[first + (last - first) / 2]).narrowing > never.narrowing);
}
