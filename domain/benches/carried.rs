//! What carried advice costs on top of a trial's own evaluation.

use chrono::{DateTime, TimeDelta, TimeZone, Utc};
use criterion::{Criterion, criterion_group, criterion_main};
use lapwatch_domain::acceptance::{Coupon, Criteria, Mode, Scorching, Specimen};
use lapwatch_domain::carried::{Today, carry};
use lapwatch_domain::drift::{ChartSettings, HistoryEntry, Offsets, UnitCharts};
use lapwatch_domain::heat::Dwell;
use lapwatch_domain::membrane::{MaterialClass, Sheet, SheetCondition, WeldMethod};
use lapwatch_domain::policy::{Ceilings, Policy};
use lapwatch_domain::quantity::{Quantity, SpeedUnit, Temperature, TemperatureUnit, parse};
use lapwatch_domain::trial::{Purpose, Surroundings, TrialInput, evaluate};
use std::hint::black_box;
use uuid::Uuid;

/// Temperature in °C, cold, sound and hot strips.
const SWEEP: [(f64, usize, usize, usize); 6] = [
    (380.0, 3, 0, 0),
    (420.0, 1, 2, 0),
    (460.0, 0, 3, 0),
    (500.0, 0, 3, 0),
    (540.0, 0, 1, 2),
    (580.0, 0, 0, 3),
];
const CHECK: [(f64, usize, usize, usize); 3] = [(455.0, 0, 3, 0), (475.0, 0, 3, 0), (495.0, 0, 3, 0)];

fn celsius(value: f64) -> Temperature {
    Temperature::new(value, TemperatureUnit::Celsius).expect("above absolute zero")
}

fn start() -> DateTime<Utc> {
    Utc.with_ymd_and_hms(2026, 3, 1, 7, 0, 0).single().expect("a time")
}

/// A coupon with so many cold, sound and hot strips.
fn coupon(&(temperature, cold, sound, hot): &(f64, usize, usize, usize)) -> Coupon {
    let opened = Specimen { mode: Some(Mode::InterfaceOpened), ..Specimen::default() };
    let torn = Specimen { mode: Some(Mode::FilmTear), ..Specimen::default() };
    let charred = Specimen { scorching: vec![Scorching::Char], ..torn.clone() };
    let specimens = [vec![opened; cold], vec![torn; sound], vec![charred; hot]].concat();
    Coupon { set_temperature: celsius(temperature), speed: None, specimens }
}

fn input(purpose: Purpose, rows: &[(f64, usize, usize, usize)]) -> TrialInput {
    let sheet = Sheet { class: MaterialClass::Pvc, condition: SheetCondition::New };
    TrialInput {
        purpose,
        method: WeldMethod::Automatic,
        unit_maximum: celsius(620.0),
        display_step: parse(5.0, "K").expect("a difference"),
        temperature_unit: TemperatureUnit::Celsius,
        ceilings: Ceilings::default(),
        set_point_before: None,
        upper_sheet: sheet,
        lower_sheet: sheet,
        criteria: Criteria::default(),
        policy: Policy::default(),
        coupons: rows.iter().map(coupon).collect(),
        supply: None,
        wind: None,
        speed: parse(3.05, "m/min").expect("a speed"),
        speed_unit: SpeedUnit::MetrePerMinute,
        dwell: None,
        surroundings: Surroundings::default(),
    }
}

/// The charts of a unit after 30 sweeps.
fn history() -> UnitCharts {
    let evaluation = evaluate(&input(Purpose::Sweep, &SWEEP));
    let (lower, upper) = (&evaluation.evidence.lower.profile, &evaluation.evidence.upper.profile);
    let mut charts = UnitCharts::new(ChartSettings::default(), upper.len());
    for day in 0..30 {
        let entry = HistoryEntry {
            trial: Uuid::from_u128(day as u128 + 1),
            at: start() + TimeDelta::days(day),
            class: MaterialClass::Pvc,
            sheet: Some(celsius(20.0)),
            speed: parse(3.05, "m/min").expect("a speed"),
            lower,
            upper,
            offsets: Offsets::default(),
        };
        charts.take(&entry, &[]);
    }
    charts
}

fn carried(criterion: &mut Criterion) {
    let charts = history();
    let knowledge = charts.now(MaterialClass::Pvc, &[]).expect("a history");
    let today = Today {
        sheet: Some(celsius(22.0)),
        speed: parse(3.05, "m/min").expect("a speed"),
        dwell: Dwell {
            heated: parse(25.0, "mm").expect("a length"),
            thickness: parse(1.5, "mm").expect("a length"),
        },
        at: start() + TimeDelta::days(31),
        offsets: Offsets::default(),
    };
    for (name, purpose, rows) in [
        ("sweep of 6 coupons", Purpose::Sweep, &SWEEP[..]),
        ("check of 3 coupons", Purpose::Confirmation, &CHECK),
    ] {
        let input = input(purpose, rows);
        let evaluation = evaluate(&input);
        assert!(
            carry(&input, &evaluation, Ok(&knowledge), &today).is_ok_and(|carried| carried.advice.is_some())
        );
        criterion.bench_function(&format!("evaluate, {name}"), |bencher| {
            bencher.iter(|| evaluate(black_box(&input)));
        });
        criterion.bench_function(&format!("carry, {name}"), |bencher| {
            bencher.iter(|| carry(black_box(&input), &evaluation, Ok(&knowledge), &today));
        });
    }
}

criterion_group!(benches, carried);
criterion_main!(benches);
