//! What one trial costs on one core.

use criterion::{Criterion, criterion_group, criterion_main};
use lapwatch_domain::acceptance::{Coupon, Criteria, Mode, Scorching, Specimen};
use lapwatch_domain::edges::{EdgePrior, Observation, stand_alone};
use lapwatch_domain::membrane::{MaterialClass, Sheet, SheetCondition, WeldMethod};
use lapwatch_domain::policy::{Ceilings, Policy};
use lapwatch_domain::quantity::{
    Quantity, Speed, SpeedUnit, Temperature, TemperatureDifference, TemperatureDifferenceUnit,
    TemperatureUnit,
};
use lapwatch_domain::trial::{Purpose, Surroundings, TrialInput, evaluate};
use std::hint::black_box;

/// Temperature in °C, cold, sound and hot strips.
const SWEEP: [(f64, usize, usize, usize); 6] = [
    (380.0, 3, 0, 0),
    (420.0, 1, 2, 0),
    (460.0, 0, 3, 0),
    (500.0, 0, 3, 0),
    (540.0, 0, 1, 2),
    (580.0, 0, 0, 3),
];
const CHECK: [(f64, usize, usize, usize); 3] = [(440.0, 0, 3, 0), (460.0, 0, 3, 0), (480.0, 0, 3, 0)];

fn celsius(value: f64) -> Temperature {
    Temperature::new(value, TemperatureUnit::Celsius).expect("above absolute zero")
}

fn observations(rows: &[(f64, usize, usize, usize)]) -> Vec<Observation> {
    rows.iter()
        .map(|&(temperature, cold, sound, hot)| Observation {
            temperature: celsius(temperature),
            cold,
            sound,
            hot,
        })
        .collect()
}

fn edges(criterion: &mut Criterion) {
    let prior = EdgePrior::default();
    let (sweep, check) = (observations(&SWEEP), observations(&CHECK));
    criterion.bench_function("stand-alone evidence, sweep of 6 coupons of 3 strips", |bencher| {
        bencher.iter(|| stand_alone(black_box(&sweep), celsius(620.0), &prior));
    });
    criterion.bench_function("stand-alone evidence, confirmation of 3 coupons of 3 strips", |bencher| {
        bencher.iter(|| stand_alone(black_box(&check), celsius(620.0), &prior));
    });
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
        display_step: TemperatureDifference::new(5.0, TemperatureDifferenceUnit::Kelvin).expect("finite"),
        temperature_unit: TemperatureUnit::Celsius,
        ceilings: Ceilings::default(),
        set_point_before: (purpose == Purpose::Confirmation).then(|| celsius(460.0)),
        upper_sheet: sheet,
        lower_sheet: sheet,
        criteria: Criteria::default(),
        policy: Policy::default(),
        coupons: rows.iter().map(coupon).collect(),
        supply: None,
        wind: None,
        speed: Speed::new(3.0, SpeedUnit::MetrePerMinute).expect("positive"),
        speed_unit: SpeedUnit::MetrePerMinute,
        dwell: None,
        surroundings: Surroundings::default(),
    }
}

fn trials(criterion: &mut Criterion) {
    let sweep = input(Purpose::Sweep, &SWEEP);
    let check = input(Purpose::Confirmation, &CHECK);
    let early = input(Purpose::Sweep, &SWEEP[1..3]);
    for (name, input) in [("sweep of 6", &sweep), ("confirmation of 3", &check), ("search after 2", &early)] {
        criterion.bench_function(&format!("whole evaluation, {name} coupons"), |bencher| {
            bencher.iter(|| evaluate(black_box(input)));
        });
    }
}

criterion_group!(benches, edges, trials);
criterion_main!(benches);
