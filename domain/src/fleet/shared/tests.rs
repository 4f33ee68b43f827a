use chrono::{DateTime, NaiveDate, TimeDelta};
use uuid::Uuid;

use super::site::{Site, Told};
use super::*;
use crate::fleet::Basis;
use crate::numerics::normal;
use crate::quantity::TemperatureUnit;

/// Standard normal numbers that fill the line evenly (the golden ratio's multiples: van der Corput's idea for one dimension).
struct Even(f64);

impl Even {
    fn next(&mut self) -> f64 {
        self.0 = (self.0 + 0.618_033_988_749_895) % 1.0;
        normal::quantile(self.0.clamp(1e-6, 1.0 - 1e-6))
    }
}

const SD_K: f64 = 18.0;
const NOISE_K: f64 = 8.0;
const TRIALS: usize = 60;

fn lot(number: usize) -> Uuid {
    Uuid::from_u128(1000 + number as u128)
}

/// A unit with its own level that changes lots every ten trials, ten trials later than the unit before. What moves its edges
/// is told by lot and trial.
fn unit(number: usize, moved: impl Fn(usize, usize) -> f64) -> SharedEvidence {
    let mut even = Even(0.37 * number as f64);
    let level = 425.0 + 12.0 * even.next();
    let told = |trial: usize| {
        let lot_number = trial / 10 + number % 3;
        let spread = libm::hypot(SD_K, NOISE_K);
        let mut site = |level: f64| {
            let mean = level + moved(lot_number, trial) + spread * even.next();
            Some(Site { mean, precision: (SD_K * SD_K).recip() })
        };
        let day = NaiveDate::from_num_days_from_ce_opt(740_000 + trial as i32).unwrap();
        Told {
            at: DateTime::UNIX_EPOCH + TimeDelta::days(trial as i64),
            class: MaterialClass::Pvc,
            segment: trial / 45,
            setting: Setting {
                membrane: Some(Uuid::from_u128(7)),
                lot: Some(lot(lot_number)),
                day: Some((Uuid::from_u128(9), day)),
            },
            edges: [site(level), site(level + 110.0)],
        }
    };
    SharedEvidence { unit: Uuid::from_u128(number as u128 + 1), trials: (0..TRIALS).map(told).collect() }
}

fn fleet(units: usize, moved: impl Fn(usize, usize, usize) -> f64) -> Vec<SharedEvidence> {
    (0..units).map(|number| unit(number, |lot, trial| moved(number, lot, trial))).collect()
}

fn shift(shared: &Shared, by: SharedBy) -> Option<&SharedShift> {
    shared.shifts.iter().find(|shift| shift.by == by)
}

#[test]
fn a_bad_lot_is_told_from_its_neighbours() {
    let shared = Shared::of(fleet(9, |_, lot, _| if lot == 3 { 35.0 } else { 0.0 }));
    let bad = shift(&shared, SharedBy::Lot(lot(3))).expect("nine units met it");
    assert!(bad.is_notable() && (bad.units, bad.trials) == (9, 90), "{bad:?}");
    assert_eq!(bad.latest, DateTime::UNIX_EPOCH + TimeDelta::days(39));
    let said = bad.sentences(TemperatureUnit::Celsius);
    assert!(said[0].starts_with("This production run moves the lower edge up by 3"), "{said:?}");
    assert!(said[0].ends_with("as 9 units tell.") && said[2].contains("not flagged"), "{said:?}");
    for found in [bad.shifts.lower, bad.shifts.upper] {
        let found = found.expect("informed");
        assert!((found.mean.kelvin() - 35.0).abs() < 2.5 * found.sd.kelvin(), "{found:?}");
        assert!(found.low < found.mean && found.mean < found.high && found.sd.kelvin() < 8.0, "{found:?}");
    }
    for other in shared.shifts.iter().filter(|shift| shift.by != bad.by) {
        assert!(!other.is_notable(), "{other:?}");
    }
    // Every unit met one product only: nothing can be said of it.
    assert!(shared.shifts.iter().all(|shift| shift.by.kind() != SharedKind::Membrane));
}

#[test]
fn a_units_own_trouble_is_not_its_sheets() {
    // One of the units runs 60 K high while it has lot 3, and is right again afterwards.
    let shared = Shared::of(fleet(9, |unit, lot, _| if unit == 4 && lot == 3 { 60.0 } else { 0.0 }));
    let found = shift(&shared, SharedBy::Lot(lot(3))).expect("informed");
    assert!(!found.is_notable(), "{found:?}");
    let own = found.for_unit(Uuid::from_u128(5)).lower.mean.kelvin();
    assert!(own.abs() < 4.0, "the others say {own}");
    let all = found.shifts.lower.expect("informed").mean.kelvin();
    assert!(own < all && all < 8.0, "{own} {all}");
}

#[test]
fn two_units_are_too_few() {
    let shared = Shared::of(fleet(2, |_, lot, _| if lot == 3 { 35.0 } else { 0.0 }));
    assert_eq!(shared.shifts, Vec::new());
    assert_eq!(shared.noise.basis, Basis::FewUnits);
    assert!((shared.noise.mean.kelvin() - 8.0).abs() < 1e-12);
    let setting = Setting { lot: Some(lot(3)), ..Setting::default() };
    assert_eq!(shared.offsets(Uuid::from_u128(1), MaterialClass::Pvc, &setting), Offsets::default());
}

/// Of two runs that differ, which one is out of the ordinary cannot be told: they are taken to lie on either side of it.
#[test]
fn of_two_lots_neither_is_the_ordinary_one() {
    let two = |unit: usize| {
        let mut told = self::unit(unit, |lot, _| if lot >= 4 { 40.0 } else { 0.0 });
        for told in &mut told.trials {
            let later = told.setting.lot >= Some(lot(4));
            told.setting.lot = Some(lot(usize::from(later)));
        }
        told
    };
    let shared = Shared::of((0..6).map(two));
    let [one, other] = [0, 1].map(|number| {
        let found = shift(&shared, SharedBy::Lot(lot(number))).expect("informed");
        found.shifts.lower.expect("informed").mean.kelvin()
    });
    assert!((other - one - 40.0).abs() < 6.0 && (one + other).abs() < 6.0, "{one} {other}");
}

#[test]
fn a_day_is_kept_where_it_stands_out() {
    let shared = Shared::of(fleet(9, |_, _, trial| if trial == 25 { -60.0 } else { 0.0 }));
    let days: Vec<&SharedShift> =
        shared.shifts.iter().filter(|shift| shift.by.kind() == SharedKind::Day).collect();
    let [day] = days[..] else { panic!("{days:?}") };
    assert_eq!(
        day.by,
        SharedBy::Day(Uuid::from_u128(9), NaiveDate::from_num_days_from_ce_opt(740_025).unwrap())
    );
    assert!(day.shifts.lower.expect("informed").high.kelvin() < -10.0, "{day:?}");
}

#[test]
fn a_unit_that_was_not_there_takes_all_that_is_known() {
    let shared = Shared::of(fleet(9, |_, lot, _| if lot == 3 { 35.0 } else { 0.0 }));
    let bad = shift(&shared, SharedBy::Lot(lot(3))).expect("informed");
    let all = bad.shifts.lower.expect("informed");
    let stranger = bad.for_unit(Uuid::from_u128(777)).lower;
    assert_eq!((stranger.mean, stranger.sd), (all.mean, all.sd));
    let own = bad.for_unit(Uuid::from_u128(1)).lower;
    assert!(own.sd > all.sd, "eight units know less than nine");
    let setting = Setting { lot: Some(lot(3)), ..Setting::default() };
    assert_eq!(shared.offsets(Uuid::from_u128(1), MaterialClass::Pvc, &setting).lower, own);
}

#[test]
fn the_order_of_units_does_not_matter() {
    let moved = |_: usize, lot: usize, _: usize| if lot == 2 { -25.0 } else { 0.0 };
    let units = fleet(7, moved);
    let backwards: Vec<SharedEvidence> = units.iter().rev().cloned().collect();
    assert_eq!(Shared::of(units), Shared::of(backwards));
}

/// Levels that creep cancel in differences from one trial to the next.
#[test]
fn trial_noise_is_found_beside_a_creeping_level() {
    let noisy = |noise: f64| {
        let mut even = Even(0.2);
        let mut units = fleet(12, |_, _, trial| 0.3 * trial as f64);
        for told in units.iter_mut().flat_map(|unit| &mut unit.trials) {
            for site in told.edges.iter_mut().flatten() {
                site.mean += noise * even.next();
            }
        }
        Shared::of(units).noise
    };
    // 8 K are in the trials already.
    for (added, truth) in [(0.0, 8.0), (12.0, 14.42)] {
        let found = noisy(added);
        assert_eq!(found.basis, Basis::Fitted);
        assert!(found.low.kelvin() < truth && truth < found.high.kelvin(), "{found:?} {truth}");
    }
}
