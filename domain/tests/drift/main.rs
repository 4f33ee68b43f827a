//! Simulated fleets: do the charts keep their promise on healthy units, and how soon do they see a shift?
//!
//! Every number is seeded. Run with `--nocapture` to see the table.

mod fleet;

use std::thread;

use fleet::{Fault, Habits, SWEEPS, USUAL, entries, trials};
use lapwatch_domain::drift::{ChartSettings, Direction, Signal, UnitSeries, unit_series};
use lapwatch_domain::quantity::{Quantity, TemperatureDifferenceUnit};

const TRIALS: usize = 230;

/// The series of `units` units, worked out on two threads.
fn fleet_series(units: u64, habits: Habits, fault: Fault, settings: &ChartSettings) -> Vec<UnitSeries> {
    let one = |unit: u64| {
        let trials = trials(unit * 77 + 5, TRIALS, habits, fault);
        unit_series(&entries(&trials), &[], &[], settings).remove(0)
    };
    let half = units / 2;
    thread::scope(|scope| {
        let other = scope.spawn(|| (half..units).map(one).collect::<Vec<_>>());
        let mut series: Vec<_> = (0..half).map(one).collect();
        series.extend(other.join().unwrap());
        series
    })
}

fn signals(series: &UnitSeries) -> impl Iterator<Item = &Signal> {
    series.lower.signals.iter().chain(&series.upper.signals)
}

fn index(signal: &Signal) -> usize {
    signal.trial.as_u128() as usize - 1
}

/// Alarms per trial on healthy units, over the promised number.
fn alarm_ratio(name: &str, units: u64, habits: Habits) -> f64 {
    let settings = ChartSettings::default();
    let series = fleet_series(units, habits, Fault::None, &settings);
    let alarms: usize = series.iter().map(|unit| signals(unit).count()).sum();
    let watched = units as f64 * TRIALS as f64;
    let ratio = alarms as f64 / (watched / settings.promise_arl);
    println!(
        "healthy, {name}: {alarms} false alarms in {watched} trials, {ratio:.2} of the promise; \
         {:.0} and {:.0} effective trials of {TRIALS}",
        series.iter().map(|unit| unit.lower.effective_trials).sum::<f64>() / units as f64,
        series.iter().map(|unit| unit.upper.effective_trials).sum::<f64>() / units as f64,
    );
    ratio
}

/// Trials from the beginning of a fault to the first signal: quartiles, `TRIALS` standing for never.
fn delays(name: &str, units: u64, habits: Habits, fault: Fault, from: usize) -> [usize; 3] {
    let mut delays: Vec<usize> = fleet_series(units, habits, fault, &ChartSettings::default())
        .iter()
        .map(|unit| {
            let first = signals(unit).map(index).filter(|&trial| trial >= from).min();
            first.map_or(TRIALS, |trial| trial - from + 1)
        })
        .collect();
    delays.sort_unstable();
    let quartiles = [1, 2, 3].map(|quarter| delays[delays.len() * quarter / 4]);
    println!(
        "{name}: a quarter found within {} trials, half {}, three quarters {}",
        quartiles[0], quartiles[1], quartiles[2]
    );
    quartiles
}

/// The promise: one false alarm in 500 trials of a unit over all its charts, through the seasons, with heat shares that
/// differ from the usual. The bounds leave twice the Poisson error of a rate at the promise.
#[test]
fn healthy_fleets_raise_no_more_false_alarms_than_promised() {
    assert!(alarm_ratio("one sweep in ten, checks at ±25 K", 120, USUAL) < 1.0);
    assert!(alarm_ratio("checks at ±15 K", 24, Habits { check_step_k: 15.0, ..USUAL }) < 1.0);
    assert!(alarm_ratio("checks at ±40 K", 24, Habits { check_step_k: 40.0, ..USUAL }) < 1.0);
    assert!(alarm_ratio("sweeps only", 60, SWEEPS) < 1.0);
    assert!(
        alarm_ratio("sheet temperature never written down", 24, Habits { writes_sheet: false, ..USUAL })
            < 1.0
    );
}

#[test]
fn steps_and_fades_are_found() {
    let step = |from, by_k| Fault::Step { from, by_k };
    let fade = |from, per_trial_k| Fault::Fade { from, per_trial_k };
    assert!(delays("+40 K at trial 100", 24, USUAL, step(100, 40.0), 100)[1] <= 12);
    assert!(delays("-40 K at trial 100", 24, USUAL, step(100, -40.0), 100)[1] <= 12);
    assert!(delays("+40 K at trial 60", 24, USUAL, step(60, 40.0), 60)[1] <= 15);
    assert!(delays("+20 K at trial 100", 24, USUAL, step(100, 20.0), 100)[1] <= 50);
    assert!(delays("a fade of .5 K a trial from trial 60", 24, USUAL, fade(60, 0.5), 60)[1] <= 75);
    // One standard deviation of an edge-finding trial, found by a chart that knew everything beforehand in 8 trials.
    assert!(delays("sweeps only, +20 K at trial 30", 24, SWEEPS, step(30, 20.0), 30)[1] <= 11);
    assert!(
        delays("sweeps only, a fade of .4 K a trial from trial 50", 24, SWEEPS, fade(50, 0.4), 50)[1] <= 65
    );
}

/// A signal says which way, roughly how far, and since when.
#[test]
fn a_signal_tells_direction_size_and_onset() {
    let series = fleet_series(30, USUAL, Fault::Step { from: 100, by_k: 40.0 }, &ChartSettings::default());
    let found: Vec<&Signal> = series
        .iter()
        .flat_map(|unit| unit.lower.signals.iter().find(|signal| index(signal) >= 100))
        .collect();
    assert!(found.len() >= 25, "{}", found.len());
    let kelvin = TemperatureDifferenceUnit::Kelvin;
    let upwards = found.iter().filter(|signal| signal.direction == Direction::Up).count();
    assert!(upwards * 100 >= found.len() * 90, "{upwards} of {}", found.len());
    let mut shifts: Vec<f64> = found.iter().map(|signal| signal.shift.value_in(kelvin)).collect();
    shifts.sort_by(f64::total_cmp);
    let median = shifts[shifts.len() / 2];
    assert!((30.0..=50.0).contains(&median), "{median}");
    let covered = found
        .iter()
        .filter(|signal| {
            let (first, last) =
                (signal.onset_first.trial.as_u128() - 1, signal.onset_last.trial.as_u128() - 1);
            first <= 100 && 100 <= last + 1
        })
        .count();
    println!(
        "shift +40 K read as {median:.0} K; the range of onset holds trial 100 in {covered} of {}",
        found.len()
    );
    assert!(covered * 100 >= found.len() * 75, "{covered} of {}", found.len());
}
