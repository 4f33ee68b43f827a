//! Prints the tables of `watch.md`: false alarms, delays, onsets, times to a limit and causes in fleets whose truth is known.
//!
//! Not a measurement of time: `cargo bench --profile dev -p lapwatch-domain --bench watch`.

#[path = "watch/blame.rs"]
mod blame;
#[path = "../tests/drift/fleet.rs"]
mod fleet;
#[path = "watch/knowing.rs"]
mod knowing;
#[path = "../tests/drift/lots.rs"]
mod lots;
#[path = "../tests/drift/measure.rs"]
mod measure;

use fleet::{DAYS_PER_TRIAL, Fault, Habits, SWEEPS, USUAL};
use lapwatch_domain::drift::ChartSettings;
use lots::{Roofs, WATCHED, Watched};
use measure::{TRIALS, alarm_ratio, fades, found, on_two_threads, times_to_limit};

const HEALTHY_UNITS: u64 = 480;
const FAULTY_UNITS: u64 = 120;
/// Medians that are compared want more units: those of 120 are some trials off.
const COMPARED_UNITS: u64 = 480;

fn main() {
    false_alarms();
    delays();
    against_knowing();
    edge_finding_interval();
    limits();
    shared_lots();
    blame::table();
}

fn false_alarms() {
    println!("\n# False alarms on healthy units\n");
    let mixes = [
        ("one sweep in ten, checks at ±15 K", Habits { check_step_k: 15.0, ..USUAL }),
        ("one sweep in ten, checks at ±25 K", USUAL),
        ("one sweep in ten, checks at ±40 K", Habits { check_step_k: 40.0, ..USUAL }),
        ("one sweep in four, checks at ±25 K", Habits { sweep_every: 4, ..USUAL }),
        ("one sweep in two, checks at ±25 K", Habits { sweep_every: 2, ..USUAL }),
        ("sweeps only", SWEEPS),
        ("sweeps only, the sheet's temperature never written down", Habits { writes_sheet: false, ..SWEEPS }),
    ];
    for (name, habits) in mixes {
        alarm_ratio(name, HEALTHY_UNITS, habits, &ChartSettings::default());
    }
}

fn delays() {
    println!("\n# Delays of faults that begin at trial 100\n");
    let from = 100;
    let faults = [
        ("a sensor: both edges +20 K", Fault::Step { from, by_k: 20.0 }),
        ("a sensor: both edges +40 K", Fault::Step { from, by_k: 40.0 }),
        ("less air or a fast drive: excess +5 %", Fault::Excess { from, share: 0.05 }),
        ("less air or a fast drive: excess +10 %", Fault::Excess { from, share: 0.10 }),
        ("a sag near the top: upper edge +25 K", Fault::Top { from, by_k: 25.0 }),
        ("a fading heater: +.4 K a trial", Fault::Fade { from, per_trial_k: 0.4 }),
        ("a fading heater: +1 K a trial", Fault::Fade { from, per_trial_k: 1.0 }),
        ("a fading heater: +2 K a trial", Fault::Fade { from, per_trial_k: 2.0 }),
    ];
    println!("| fault | trials: median, 90 % | days: median, 90 % | onset held, % |");
    println!("| --- | --- | --- | --- |");
    for (name, fault) in faults {
        for (mix, habits) in [("one sweep in ten", USUAL), ("sweeps only", SWEEPS)] {
            let found = found(FAULTY_UNITS, habits, fault);
            let [half, most] = [50, 90].map(|percent| found.quantile(percent));
            let trials = |delay: usize| if delay >= TRIALS { "never".to_owned() } else { delay.to_string() };
            let days = |delay: usize| {
                if delay >= TRIALS {
                    "never".to_owned()
                } else {
                    format!("{:.0}", delay as f64 * DAYS_PER_TRIAL)
                }
            };
            println!(
                "| {name}, {mix} | {}, {} | {}, {} | {:.0} |",
                trials(half),
                trials(most),
                days(half),
                days(most),
                100.0 * found.onsets_held as f64 / found.signals.max(1) as f64
            );
        }
    }
}

/// Against charts that know level, scatter and shift and are held to the same number of false alarms.
fn against_knowing() {
    println!("\n# Median delay over that of charts that know everything\n");
    println!("| fault, sweeps only | onset at trial | here | knowing | ratio |");
    println!("| --- | --- | --- | --- | --- |");
    let sigma_k = knowing::SIGMA_K;
    for from in [12, 30, 100] {
        let steps =
            [1.0, 2.0].map(|by| (format!("step of {by} σ"), Fault::Step { from, by_k: by * sigma_k }));
        let ramps = [0.02, 0.05, 0.1]
            .map(|by| (format!("{by} σ a trial"), Fault::Fade { from, per_trial_k: by * sigma_k }));
        for (name, fault) in steps.into_iter().chain(ramps) {
            let here = found(COMPARED_UNITS, SWEEPS, fault).quantile(50);
            let known = knowing::median_delay(fault);
            println!("| {name} | {from} | {here} | {known} | {:.2} |", here as f64 / known as f64);
        }
    }
}

fn edge_finding_interval() {
    println!("\n# What the edge-finding interval buys\n");
    println!("| both edges +30 K at trial 100; a sweep every | median, trials | 90 %, trials |");
    println!("| --- | --- | --- |");
    for (days, sweep_every) in [(7, 5), (14, 10), (28, 20)] {
        let fault = Fault::Step { from: 100, by_k: 30.0 };
        let found = found(FAULTY_UNITS, Habits { sweep_every, ..USUAL }, fault);
        println!("| {days} days | {} | {} |", found.quantile(50), found.quantile(90));
    }
}

fn limits() {
    println!("\n# Times to a limit 40 K off\n");
    for (mix, habits) in [
        ("one sweep in ten", USUAL),
        ("one sweep in two", Habits { sweep_every: 2, ..USUAL }),
        ("sweeps only", SWEEPS),
    ] {
        for per_trial_k in [0.3, 0.5, 1.0] {
            let fault = Fault::Fade { from: 60, per_trial_k };
            times_to_limit(
                &format!("{mix}, a fade of {per_trial_k} K a trial"),
                FAULTY_UNITS,
                habits,
                (fault, 40.0),
                &ChartSettings::default(),
            );
        }
        let step = Fault::Step { from: 60, by_k: 20.0 };
        let name = format!("{mix}, a step of 20 K");
        times_to_limit(&name, FAULTY_UNITS, habits, (step, 40.0), &ChartSettings::default());
    }
    let fade = |per_trial_k| Fault::Fade { from: 60, per_trial_k };
    let fitted = fades(16, SWEEPS, |unit| fade([0.25, 0.35, 0.45, 0.6][unit as usize % 4]));
    let told = ChartSettings { fade_rate: fitted.rate, ..ChartSettings::default() };
    for per_trial_k in [0.3, 0.5, 1.0] {
        let name =
            format!("sweeps only, by the fit of 16 fades of .25 to .6 K a trial, a fade of {per_trial_k} K");
        times_to_limit(&name, FAULTY_UNITS, SWEEPS, (fade(per_trial_k), 40.0), &told);
    }
    let step = Fault::Step { from: 60, by_k: 20.0 };
    times_to_limit("the same, a step of 20 K", FAULTY_UNITS, SWEEPS, (step, 40.0), &told);
}

/// Sixteen units of eight crews, over the 60 trials about the change to another run; a fit each day.
fn shared_lots() {
    println!("\n# Shifts that units share\n");
    println!(
        "| sheets and units | shifts of runs | sound units flagged | unit-days | told of the run, after trials | other runs told of, run-days | \
         delay of the fault |"
    );
    println!("| --- | --- | --- | --- | --- | --- | --- |");
    let from = WATCHED.0 + 5;
    let cases = [
        ("ordinary runs", 0.0, Fault::None),
        ("a run that moves both edges +40 K", 40.0, Fault::None),
        ("ordinary runs, one unit +30 K", 0.0, Fault::Step { from, by_k: 30.0 }),
        ("a run +40 K, one unit +30 K more", 40.0, Fault::Step { from, by_k: 30.0 }),
    ];
    for (mix, habits) in [("one sweep in ten", USUAL), ("sweeps only", SWEEPS)] {
        for (name, bad_k, fault) in cases {
            for take_off in [false, true] {
                let roofs = Roofs { units: 16, habits, bad_k, fault };
                several(&format!("{name}, {mix}"), roofs, 4, take_off);
            }
        }
    }
}

/// The same roofs several times, on two threads; sums, and the delays that there were.
fn several(name: &str, roofs: Roofs, times: u64, take_off: bool) {
    let found = on_two_threads(times, |seed| roofs.watch(seed + 1, take_off));
    let sum = |of: &dyn Fn(&Watched) -> usize| found.iter().map(of).sum::<usize>();
    let mut delays: Vec<usize> = found.iter().map(|found| found.delay.unwrap_or(TRIALS)).collect();
    delays.sort_unstable();
    let mut told: Vec<usize> = found.iter().filter_map(|found| found.told).collect();
    told.sort_unstable();
    println!(
        "| {name} | {} | {} | {} | {} of {}, {} | {} | {} |",
        if take_off { "taken off" } else { "left in" },
        sum(&|found| found.sound_flagged),
        sum(&|found| found.sound_days),
        told.len(),
        times,
        told.get(told.len() / 2).map_or("–".to_owned(), ToString::to_string),
        sum(&|found| found.told_wrongly),
        if roofs.fault.from() < TRIALS { delays[delays.len() / 2].to_string() } else { "–".to_owned() },
    );
}
