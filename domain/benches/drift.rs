//! What it costs to work out a unit's whole series anew, and to go on from it by one trial.

use std::hint::black_box;

use chrono::{Duration, TimeZone, Utc};
use criterion::{BatchSize, Criterion, criterion_group, criterion_main};
use lapwatch_domain::drift::{ChartSettings, HistoryEntry, Offsets, UnitCharts, unit_series};
use lapwatch_domain::edges::{EdgePrior, Observation, TrialEvidence, stand_alone};
use lapwatch_domain::membrane::MaterialClass;
use lapwatch_domain::quantity::{Quantity, Speed, SpeedUnit, Temperature, TemperatureUnit};
use uuid::Uuid;

fn celsius(value: f64) -> Temperature {
    Temperature::new(value, TemperatureUnit::Celsius).expect("a temperature")
}

/// A sweep every tenth trial, else a check of three steps; no two neighbours alike.
fn evidence(index: usize) -> TrialEvidence {
    let shift = 3.0 * (index % 7) as f64;
    let coupon = |temperature: f64, cold, hot| Observation {
        temperature: celsius(temperature + shift),
        cold,
        sound: 3 - cold - hot,
        hot,
    };
    let observations = if index.is_multiple_of(10) {
        vec![
            coupon(380.0, 3, 0),
            coupon(420.0, 1, 0),
            coupon(460.0, 0, 0),
            coupon(500.0, 0, 0),
            coupon(540.0, 0, 2),
            coupon(580.0, 0, 3),
        ]
    } else {
        vec![coupon(455.0, 0, 0), coupon(480.0, 0, 0), coupon(505.0, 0, 0)]
    };
    stand_alone(&observations, celsius(620.0), &EdgePrior::default())
}

fn whole_series(criterion: &mut Criterion) {
    let evidence: Vec<TrialEvidence> = (0..500).map(evidence).collect();
    let start = Utc.with_ymd_and_hms(2024, 1, 8, 7, 0, 0).single().expect("a time");
    let history: Vec<HistoryEntry<'_>> = evidence
        .iter()
        .enumerate()
        .map(|(index, evidence)| HistoryEntry {
            trial: Uuid::from_u128(index as u128 + 1),
            at: start + Duration::days(index as i64),
            class: MaterialClass::Pvc,
            sheet: Some(celsius(20.0 + 15.0 * (index as f64 / 58.0).sin())),
            speed: Speed::new(3.05, SpeedUnit::MetrePerMinute).expect("a speed"),
            lower: &evidence.lower.profile,
            upper: &evidence.upper.profile,
            offsets: Offsets::default(),
        })
        .collect();
    let settings = ChartSettings::default();
    criterion.bench_function("unit_series, 500 trials, both edges", |bencher| {
        bencher.iter(|| unit_series(black_box(&history), &[], &[], &settings));
    });
    let points = history.iter().map(HistoryEntry::profile_points).max().unwrap_or(1);
    let mut charts = UnitCharts::new(settings, points);
    let (last, first) = history.split_last().expect("there are trials");
    first.iter().for_each(|entry| charts.take(entry, &[]));
    criterion.bench_function("UnitCharts: one trial after 499, both edges", |bencher| {
        bencher.iter_batched(
            || charts.clone(),
            |mut charts| {
                charts.take(black_box(last), &[]);
                charts
            },
            BatchSize::LargeInput,
        );
    });
    criterion.bench_function("UnitCharts: copy and series of 499 trials", |bencher| {
        bencher.iter(|| black_box(&charts).clone().series(&[], &[]));
    });
}

criterion_group!(benches, whole_series);
criterion_main!(benches);
