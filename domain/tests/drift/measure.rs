//! What is measured of simulated fleets.

use std::thread;

use lapwatch_domain::drift::{ChartSettings, Signal, TimeToLimit, UnitCharts, UnitSeries, unit_series};
use lapwatch_domain::fleet::{FadeEvidence, Fades, UnitHistory};
use lapwatch_domain::quantity::{Quantity, TemperatureDifference, TemperatureDifferenceUnit};
use uuid::Uuid;

use crate::fleet::{Fault, Habits, entries, trials};

/// Trials of each unit.
pub(crate) const TRIALS: usize = 230;

/// The series of `units` units, worked out on two threads.
pub(crate) fn fleet_series(
    units: u64,
    habits: Habits,
    fault: Fault,
    settings: &ChartSettings,
) -> Vec<UnitSeries> {
    let one = |unit: u64| {
        let trials = trials(unit * 77 + 5, TRIALS, habits, fault);
        unit_series(&entries(&trials), &[], &[], settings).remove(0)
    };
    on_two_threads(units, one)
}

pub(crate) fn on_two_threads<T: Send>(units: u64, one: impl Fn(u64) -> T + Sync) -> Vec<T> {
    let half = units / 2;
    thread::scope(|scope| {
        let other = scope.spawn(|| (half..units).map(&one).collect::<Vec<_>>());
        let mut all: Vec<_> = (0..half).map(&one).collect();
        all.extend(other.join().unwrap());
        all
    })
}

pub(crate) fn signals(series: &UnitSeries) -> impl Iterator<Item = &Signal> {
    series.lower.signals.iter().chain(&series.upper.signals)
}

pub(crate) fn index(signal: &Signal) -> usize {
    signal.trial.as_u128() as usize - 1
}

/// Alarms per trial on healthy units, over the promised number.
pub(crate) fn alarm_ratio(name: &str, units: u64, habits: Habits, settings: &ChartSettings) -> f64 {
    let series = fleet_series(units, habits, Fault::None, settings);
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

/// What was found of a fault in the units that had it.
#[derive(Debug)]
pub(crate) struct Found {
    /// Trials from the beginning of the fault to the first signal, rising, `TRIALS` standing for never.
    pub(crate) delays: Vec<usize>,
    /// Of how many units the range of onset of that signal held the first trial with the fault, or the one before.
    pub(crate) onsets_held: usize,
    /// Of how many units there was a signal.
    pub(crate) signals: usize,
}

impl Found {
    /// The delay of this share of the units.
    pub(crate) fn quantile(&self, percent: usize) -> usize {
        self.delays[(self.delays.len() * percent / 100).min(self.delays.len() - 1)]
    }
}

pub(crate) fn found(units: u64, habits: Habits, fault: Fault) -> Found {
    let from = fault.from();
    let series = fleet_series(units, habits, fault, &ChartSettings::default());
    let first = |unit: &UnitSeries| {
        signals(unit).filter(|signal| index(signal) >= from).min_by_key(|signal| index(signal)).cloned()
    };
    let firsts: Vec<Option<Signal>> = series.iter().map(first).collect();
    let delay = |signal: &Option<Signal>| signal.as_ref().map_or(TRIALS, |signal| index(signal) - from + 1);
    let mut delays: Vec<usize> = firsts.iter().map(delay).collect();
    delays.sort_unstable();
    let onset = |trial: Uuid| trial.as_u128() as usize - 1;
    let held = |signal: &&Signal| {
        (onset(signal.onset_first.trial)..=onset(signal.onset_last.trial) + 1).contains(&from)
    };
    Found {
        delays,
        onsets_held: firsts.iter().flatten().filter(held).count(),
        signals: firsts.iter().flatten().count(),
    }
}

/// How often a time to the limit was looked for while a signal stood and the limit lay ahead, how often one was shown, and
/// how often its interval then held the truth.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Times {
    pub(crate) looked: usize,
    pub(crate) shown: usize,
    pub(crate) held: usize,
    /// Sum of the lengths of the intervals shown, days.
    pub(crate) days_wide: f64,
}

impl Times {
    pub(crate) fn and(self, other: Self) -> Self {
        Self {
            looked: self.looked + other.looked,
            shown: self.shown + other.shown,
            held: self.held + other.held,
            days_wide: self.days_wide + other.days_wide,
        }
    }
}

/// What the fades of such units, not those that are looked at elsewhere, say of the rate of a fade.
pub(crate) fn fades(units: u64, habits: Habits, fault: impl Fn(u64) -> Fault + Sync) -> Fades {
    let one = |unit: u64| {
        let trials = trials(unit * 77 + 900_005, TRIALS, habits, fault(unit));
        let entries = entries(&trials);
        let history = UnitHistory { unit: Uuid::from_u128(unit.into()), history: &entries, resets: &[] };
        FadeEvidence::of(&history, &ChartSettings::default())
    };
    Fades::of(on_two_threads(units, one))
}

/// Looks every five trials at the lower edge of units whose limit lies `limit_k` above its level.
pub(crate) fn times_to_limit(
    name: &str,
    units: u64,
    habits: Habits,
    (fault, limit_k): (Fault, f64),
    settings: &ChartSettings,
) -> Times {
    let one = |unit: u64| {
        let trials = trials(unit * 77 + 5, TRIALS, habits, fault);
        let entries = entries(&trials);
        let points = entries.iter().map(|entry| entry.profile_points()).max().unwrap();
        let mut charts = UnitCharts::new(settings.clone(), points);
        let reached = (0..TRIALS).find(|&trial| fault.shift_k(trial) >= limit_k);
        let mut times = Times::default();
        for (trial, entry) in entries.iter().enumerate().take(reached.unwrap_or(TRIALS)) {
            charts.take(entry, &[]);
            if trial < 60 || trial % 5 != 0 {
                continue;
            }
            let series = charts.series(&[], &[]).remove(0);
            let signal = series.lower.signal();
            let Some((course, level)) =
                signal.and_then(|signal| signal.course.as_ref()).zip(series.lower.level)
            else {
                continue;
            };
            times.looked += 1;
            let limit =
                level.mean + TemperatureDifference::new(limit_k, TemperatureDifferenceUnit::Kelvin).unwrap();
            if let TimeToLimit::Between { earliest, latest, .. } = course.reaches(limit) {
                times.shown += 1;
                times.days_wide += (latest - earliest).as_seconds_f64() / 86_400.0;
                times.held +=
                    usize::from(reached.is_some_and(|at| (earliest..=latest).contains(&entries[at].at)));
            }
        }
        times
    };
    let times = on_two_threads(units, one).into_iter().fold(Times::default(), Times::and);
    println!("{name}, limit {limit_k} K off: {times:?}");
    times
}
