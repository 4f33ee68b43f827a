//! What one trial costs on one core.

use criterion::{Criterion, criterion_group, criterion_main};
use lapwatch_domain::edges::{EdgePrior, Observation, stand_alone};
use lapwatch_domain::quantity::{Quantity, Temperature, TemperatureUnit};
use std::hint::black_box;

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
    let sweep = observations(&[
        (380.0, 3, 0, 0),
        (420.0, 1, 2, 0),
        (460.0, 0, 3, 0),
        (500.0, 0, 3, 0),
        (540.0, 0, 1, 2),
        (580.0, 0, 0, 3),
    ]);
    let check = observations(&[(440.0, 0, 3, 0), (460.0, 0, 3, 0), (480.0, 0, 3, 0)]);
    criterion.bench_function("stand-alone evidence, sweep of 6 coupons of 3 strips", |bencher| {
        bencher.iter(|| stand_alone(black_box(&sweep), celsius(620.0), &prior));
    });
    criterion.bench_function("stand-alone evidence, confirmation of 3 coupons of 3 strips", |bencher| {
        bencher.iter(|| stand_alone(black_box(&check), celsius(620.0), &prior));
    });
}

criterion_group!(benches, edges);
criterion_main!(benches);
