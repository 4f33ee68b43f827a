//! Simulated fleets: do the charts keep their promise on healthy units, and how soon do they see a shift?
//!
//! Every number is seeded. Run with `--nocapture` to see the table.

mod fleet;
mod lots;
mod measure;

use fleet::{Fault, Habits, SWEEPS, USUAL};
use lapwatch_domain::drift::{ChartSettings, Direction, Signal};
use lapwatch_domain::fleet::Basis;
use lapwatch_domain::quantity::{Quantity, TemperatureDifferenceUnit};
use measure::{Found, alarm_ratio, fades, fleet_series, index, times_to_limit};

/// The promise: one false alarm in 500 trials of a unit over all its charts, through the seasons, with heat shares that
/// differ from the usual. The bounds leave twice the Poisson error of a rate at the promise.
#[test]
fn healthy_fleets_raise_no_more_false_alarms_than_promised() {
    let alarm_ratio = |name: &str, units, habits| alarm_ratio(name, units, habits, &ChartSettings::default());
    assert!(alarm_ratio("one sweep in ten, checks at ±25 K", 120, USUAL) < 1.0);
    assert!(alarm_ratio("checks at ±15 K", 24, Habits { check_step_k: 15.0, ..USUAL }) < 1.0);
    assert!(alarm_ratio("checks at ±40 K", 24, Habits { check_step_k: 40.0, ..USUAL }) < 1.0);
    assert!(alarm_ratio("sweeps only", 60, SWEEPS) < 1.0);
    assert!(
        alarm_ratio("sheet temperature never written down", 24, Habits { writes_sheet: false, ..USUAL })
            < 1.0
    );
}

fn found(name: &str, units: u64, habits: Habits, fault: Fault) -> Found {
    let found = measure::found(units, habits, fault);
    let [quarter, half, most] = [25, 50, 75].map(|percent| found.quantile(percent));
    println!("{name}: a quarter found within {quarter} trials, half {half}, three quarters {most}");
    found
}

#[test]
fn steps_and_fades_are_found() {
    let step = |from, by_k| Fault::Step { from, by_k };
    let fade = |from, per_trial_k| Fault::Fade { from, per_trial_k };
    assert!(found("+40 K at trial 100", 24, USUAL, step(100, 40.0)).quantile(50) <= 12);
    assert!(found("-40 K at trial 100", 24, USUAL, step(100, -40.0)).quantile(50) <= 12);
    assert!(found("+40 K at trial 60", 24, USUAL, step(60, 40.0)).quantile(50) <= 15);
    assert!(found("+20 K at trial 100", 24, USUAL, step(100, 20.0)).quantile(50) <= 50);
    assert!(found("a fade of .5 K a trial from trial 60", 24, USUAL, fade(60, 0.5)).quantile(50) <= 75);
    let airflow =
        found("less air: 8 % more excess at trial 100", 24, USUAL, Fault::Excess { from: 100, share: 0.08 });
    assert!(airflow.quantile(50) <= 12);
    assert!(airflow.onsets_held * 100 >= airflow.signals * 80, "{airflow:?}");
    let sag =
        found("a sag: the upper edge up 40 K at trial 100", 24, USUAL, Fault::Top { from: 100, by_k: 40.0 });
    assert!(sag.quantile(50) <= 25);
    // One standard deviation of an edge-finding trial, found by a chart that knew everything beforehand in 8 trials.
    assert!(found("sweeps only, +20 K at trial 30", 24, SWEEPS, step(30, 20.0)).quantile(50) <= 11);
    assert!(
        found("sweeps only, a fade of .4 K a trial from trial 50", 24, SWEEPS, fade(50, 0.4)).quantile(50)
            <= 65
    );
}

/// A time to the limit is silent until it can be said, and holds when it is shown. Crews that find both edges every day: with
/// one sweep in ten the trials tell a fade from a step too late for anything to be shown.
#[test]
fn times_to_a_limit_hold_when_they_are_shown() {
    let fade = |per_trial_k| {
        let name = format!("sweeps only, a fade of {per_trial_k} K a trial");
        times_to_limit(
            &name,
            24,
            SWEEPS,
            (Fault::Fade { from: 60, per_trial_k }, 40.0),
            &ChartSettings::default(),
        )
    };
    let fades = [0.3, 0.5, 1.0].map(fade);
    let shown: usize = fades.iter().map(|times| times.shown).sum();
    let held: usize = fades.iter().map(|times| times.held).sum();
    assert!(shown >= 50, "{shown}");
    assert!(held * 100 >= shown * 88, "{held} of {shown}");
    let by_step = (Fault::Step { from: 60, by_k: 20.0 }, 40.0);
    let step = times_to_limit("sweeps only, a step of 20 K", 24, SWEEPS, by_step, &ChartSettings::default());
    assert!(step.shown * 100 <= step.looked * 10, "{step:?}");
}

/// A fleet whose welders fade alike says so, and times to a limit are told by it: sooner, and still true. Of a
/// fade that is much faster than those before it says less truly, but does not go wrong: a fit leaves room.
#[test]
fn a_fleets_own_fades_tell_when_the_next_one_is_there() {
    let fade = |per_trial_k| Fault::Fade { from: 60, per_trial_k };
    let fitted = fades(16, SWEEPS, |unit| fade([0.25, 0.35, 0.45, 0.6][unit as usize % 4]));
    println!("{fitted:?}");
    assert_eq!(fitted.basis, Basis::Fitted);
    // Rates are those of a day; trials are 1.45 days apart.
    let truth = 0.39 / 1.45;
    assert!(fitted.typical.low < truth && truth < fitted.typical.high, "{fitted:?}");
    let (usual, told) =
        (ChartSettings::default(), ChartSettings { fade_rate: fitted.rate, ..ChartSettings::default() });
    let times = |settings: &ChartSettings, rates: &[f64]| {
        let of_rate = |rate: &f64| {
            let name = format!("sweeps only, a fade of {rate} K a trial, {:?}", settings.fade_rate);
            times_to_limit(&name, 24, SWEEPS, (fade(*rate), 40.0), settings)
        };
        rates.iter().map(of_rate).fold(measure::Times::default(), measure::Times::and)
    };
    let (before, after) = (times(&usual, &[0.3, 0.5]), times(&told, &[0.3, 0.5]));
    let wide = |times: measure::Times| times.days_wide / times.shown as f64;
    println!(
        "shown {} -> {}, {:.0} -> {:.0} days wide",
        before.shown,
        after.shown,
        wide(before),
        wide(after)
    );
    assert!(after.held * 100 >= after.shown * 90, "{after:?}");
    assert!(after.shown * 4 >= before.shown * 5, "{before:?} {after:?}");
    let other = times(&told, &[1.0]);
    assert!(other.held * 100 >= other.shown * 75, "{other:?}");
    let by_step = (Fault::Step { from: 60, by_k: 20.0 }, 40.0);
    let step = times_to_limit("sweeps only, a step of 20 K, told", 24, SWEEPS, by_step, &told);
    assert!(step.shown * 100 <= step.looked * 10, "{step:?}");
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
    assert!(covered * 100 >= found.len() * 85, "{covered} of {}", found.len());
}

/// A production run that moves the edges of all welders is told of once, and the welders are left alone; what is wrong with
/// one of them beside is found all the same.
#[test]
fn a_bad_run_is_not_a_failing_heater() {
    let roofs = lots::Roofs { units: 6, habits: SWEEPS, bad_k: 40.0, fault: Fault::None };
    let [left_in, taken_off] = [false, true].map(|take_off| roofs.watch(3, take_off));
    println!("{left_in:?}\n{taken_off:?}");
    assert!(left_in.sound_flagged >= 5, "{left_in:?}");
    assert!(taken_off.sound_days * 4 < left_in.sound_days, "{taken_off:?} {left_in:?}");
    assert!(taken_off.told.is_some_and(|told| told <= 15), "{taken_off:?}");
    assert_eq!(taken_off.told_wrongly, 0, "{taken_off:?}");
    let fault = Fault::Step { from: lots::WATCHED.0 + 5, by_k: 30.0 };
    let found = lots::Roofs { fault, bad_k: 0.0, ..roofs }.watch(3, true);
    assert!(found.delay.is_some_and(|delay| delay <= 12), "{found:?}");
}
