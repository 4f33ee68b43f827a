//! The charts on hand-made likelihoods. Simulated fleets are in `tests/drift`.

use chrono::{DateTime, Duration, TimeZone, Utc};
use uuid::Uuid;

use super::*;
use crate::edges::PROFILE_START_CELSIUS;
use crate::heat::{Conditions, HeatShare, equivalent};
use crate::quantity::{Quantity, SpeedUnit};

/// A normal likelihood about `mean_c` on the grid of profiles up to `end_c`.
fn normal(mean_c: f64, sd_k: f64, end_c: f64) -> Profile {
    profile(end_c, |at| -0.5 * ((at - mean_c) / sd_k).powi(2))
}

/// All strips sound from `from_c` upwards: likely below, less and less above.
fn open_below(from_c: f64, sd_k: f64, end_c: f64) -> Profile {
    profile(end_c, |at| crate::numerics::normal::ln_cdf((from_c - at) / sd_k))
}

fn profile(end_c: f64, ln: impl Fn(f64) -> f64) -> Profile {
    let points = ((end_c - PROFILE_START_CELSIUS) / 4.0) as usize + 1;
    let values: Vec<f64> = (0..points).map(|index| ln(PROFILE_START_CELSIUS + 4.0 * index as f64)).collect();
    let greatest = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let bytes: Vec<u8> =
        values.iter().flat_map(|ln| ((ln - greatest) as f32).min(0.0).to_le_bytes()).collect();
    Profile::from_bytes(&bytes).unwrap()
}

struct Trial {
    lower: Profile,
    upper: Profile,
    sheet: Option<f64>,
    speed: f64,
    class: MaterialClass,
}

impl Trial {
    /// Both edges seen with a standard deviation of 16 K, at reference conditions.
    fn seen(lower_c: f64, upper_c: f64) -> Self {
        Self {
            lower: normal(lower_c, 16.0, 620.0),
            upper: normal(upper_c, 16.0, 670.0),
            sheet: Some(20.0),
            speed: 3.05,
            class: MaterialClass::Pvc,
        }
    }
}

fn at(index: usize) -> DateTime<Utc> {
    Utc.with_ymd_and_hms(2025, 4, 1, 7, 0, 0).unwrap() + Duration::days(index as i64)
}

fn entries(trials: &[Trial]) -> Vec<HistoryEntry<'_>> {
    trials
        .iter()
        .enumerate()
        .map(|(index, trial)| HistoryEntry {
            trial: Uuid::from_u128(index as u128 + 1),
            at: at(index),
            class: trial.class,
            sheet: trial.sheet.map(Temperature::from_celsius),
            speed: Speed::new(trial.speed, SpeedUnit::MetrePerMinute).unwrap(),
            lower: &trial.lower,
            upper: &trial.upper,
            offsets: Offsets::default(),
        })
        .collect()
}

/// Readings of the lower edge that scatter evenly by ±`spread` about 430 °C; the upper edge 110 K above.
fn healthy(count: usize, spread: f64) -> Vec<Trial> {
    (0..count)
        .map(|index| {
            let miss = spread * ((index * 7 % 5) as f64 - 2.0) / 2.0;
            Trial::seen(430.0 + miss, 540.0 - miss)
        })
        .collect()
}

fn with_step(healthy_trials: usize, moved: usize, by: f64) -> Vec<Trial> {
    let mut trials = healthy(healthy_trials, 14.0);
    trials.extend((0..moved).map(|_| Trial::seen(430.0 + by, 540.0 + by)));
    trials
}

fn chart(trials: &[Trial], resets: &[DateTime<Utc>], quiet: &[Quiet]) -> UnitSeries {
    unit_series(&entries(trials), resets, quiet, &ChartSettings::default()).remove(0)
}

/// Of a level known well, a normal reading x with variance s² + τ² moves the chart by δ(x − δ/2)/(s² + τ²).
#[test]
fn increments_are_those_of_the_normal_log_likelihood_ratio() {
    let settings = ChartSettings { stray_share: 0.0, baseline_trials: 1e9, ..ChartSettings::default() };
    let mut trials = healthy(400, 14.0);
    trials.push(Trial::seen(452.0, 540.0));
    trials.push(Trial::seen(444.0, 540.0));
    let series = unit_series(&entries(&trials), &[], &[], &settings).remove(0);
    let points = &series.lower.points;
    let variance = 16.0_f64.powi(2) + 8.0_f64.powi(2);
    for (index, reading) in [(400, 22.0), (401, 14.0)] {
        let step = points[index].up - points[index - 1].up;
        let expected = 20.0 * (reading - 10.0) / variance;
        assert!((step - expected).abs() < 0.05, "{step} against {expected}");
    }
    let level = series.lower.level.unwrap();
    assert!((level.mean.celsius() - 430.0).abs() < 0.5);
    // 402 readings of variance 320.
    assert!((level.sd.kelvin() / (variance / 402.0).sqrt() - 1.0).abs() < 0.2, "{}", level.sd.kelvin());
}

#[test]
fn a_step_is_signalled_with_its_onset_and_size() {
    let trials = with_step(40, 15, 40.0);
    let series = chart(&trials, &[], &[]);
    let signal = series.lower.signal().unwrap();
    assert_eq!(signal.direction, Direction::Up);
    let raised = signal.trial.as_u128();
    assert!((41..=46).contains(&raised), "{raised}");
    assert!(signal.chart > signal.limit);
    assert!(signal.onset_first.at <= at(40) && signal.onset_last.at >= at(39), "{signal:?}");
    assert!((signal.shift.kelvin() - 40.0).abs() < 6.0, "{}", signal.shift.kelvin());
    assert!(signal.shift_sd.kelvin() < 8.0);
    // What came after the onset was not learnt.
    assert!((series.lower.level.unwrap().mean.celsius() - 430.0).abs() < 3.0);
    // A healthy unit is silent, and the same trials in another order of arrival say the same.
    assert!(chart(&healthy(120, 14.0), &[], &[]).lower.signals.is_empty());
    let mut shuffled = entries(&trials);
    shuffled.reverse();
    shuffled.swap(3, 40);
    assert_eq!(unit_series(&shuffled, &[], &[], &ChartSettings::default()), [series]);
}

#[test]
fn charts_speak_from_the_seventh_trial() {
    let trials: Vec<Trial> = (0..12).map(|index| Trial::seen(430.0 + 25.0 * index as f64, 560.0)).collect();
    let series = chart(&trials, &[], &[]);
    assert!(series.lower.points[..6].iter().all(|point| !point.speaks && point.height() == 0.0));
    assert!(series.lower.points[6..].iter().all(|point| point.speaks));
    let raised = series.lower.signals[0].trial.as_u128();
    assert!(raised >= 7, "{raised}");
}

#[test]
fn service_begins_anew_and_later_trials_can_take_a_signal_back() {
    let mut trials = with_step(40, 10, 40.0);
    let serviced = chart(&trials, &[at(49) + Duration::hours(3)], &[]);
    assert_eq!(serviced.lower.level, None, "nothing is known after the service yet");
    assert_eq!(serviced.lower.signals[0].end, Some(SignalEnd::Service { at: at(49) + Duration::hours(3) }));
    assert!(serviced.lower.signal().is_none());

    trials.extend(healthy(25, 14.0));
    let after = chart(&trials, &[at(49) + Duration::hours(3)], &[]);
    assert_eq!(after.lower.points.last().unwrap().segment, 1);
    assert!((after.lower.level.unwrap().mean.celsius() - 430.0).abs() < 6.0);
    assert!(after.lower.effective_trials < 35.0 && after.lower.signal().is_none());

    let taken_back = chart(&trials, &[], &[]);
    let signal = &taken_back.lower.signals[0];
    assert!(matches!(signal.end, Some(SignalEnd::Subsided { .. })), "{signal:?}");
    assert!(taken_back.lower.signal().is_none());
    // Service before the first trial, or twice between the same two, changes nothing.
    let resets = [at(0) - Duration::days(9), at(49) + Duration::hours(3), at(49) + Duration::hours(5)];
    assert_eq!(chart(&trials, &resets, &[]), after);
}

#[test]
fn a_person_can_close_a_signal_that_stands() {
    let trials = with_step(40, 20, 40.0);
    let quiet = |at, direction| Quiet { at, class: MaterialClass::Pvc, edge: Edge::Lower, direction };
    let closed_at = at(50);
    let series = chart(&trials, &[], &[quiet(closed_at, Direction::Up), quiet(at(30), Direction::Up)]);
    assert_eq!(series.lower.signals.len(), 1, "quiet until the chart has fallen");
    assert_eq!(series.lower.signals[0].closed_at, Some(closed_at));
    assert!(series.lower.signal().is_none());
    let other = chart(&trials, &[], &[quiet(closed_at, Direction::Down)]);
    assert_eq!(other.lower.signals[0].closed_at, None);
}

/// A unit whose heat share is .21 goes from a winter of 0 °C sheets to a summer of 40 °C: its set points fall by 150 K, and
/// its reference level stands still.
#[test]
fn a_spring_is_not_a_drift_and_teaches_the_heat_share() {
    let share = HeatShare::new(0.21).unwrap();
    let trials: Vec<Trial> = (0..150)
        .map(|index| {
            let sheet = 20.0 - 20.0 * (index as f64 * std::f64::consts::TAU / 200.0).cos()
                + (index * 7 % 5) as f64
                - 2.0;
            let speed = if index % 4 == 0 { 3.4 } else { 3.05 };
            let to = Conditions {
                sheet: Temperature::from_celsius(sheet),
                speed: Speed::new(speed, SpeedUnit::MetrePerMinute).unwrap(),
            };
            let miss = 12.0 * ((index * 3 % 7) as f64 - 3.0) / 3.0;
            let edge = |level: f64| {
                equivalent(Temperature::from_celsius(level), Conditions::reference(), to, share)
                    .set_point
                    .celsius()
                    + miss
            };
            let (lower, upper) = (edge(410.0), edge(500.0));
            Trial { sheet: Some(sheet), speed, ..Trial::seen(lower, upper) }
        })
        .collect();
    let series = chart(&trials, &[], &[]);
    assert!(series.lower.signals.is_empty() && series.upper.signals.is_empty(), "{:?}", series.lower.signals);
    let (mean, sd) = series.heat_share;
    assert!((mean - 0.21).abs() < 0.012 && sd < 0.012, "{mean} ± {sd}");
    assert!((series.lower.level.unwrap().mean.celsius() - 410.0).abs() < 6.0);
}

#[test]
fn open_edges_count_for_what_they_say() {
    let mut trials = healthy(30, 14.0);
    let series_before = chart(&trials, &[], &[]);
    // Sound from 455 °C up says little of an edge at 430; sound from 400 °C up speaks against it.
    trials.push(Trial { lower: open_below(455.0, 16.0, 620.0), ..Trial::seen(430.0, 540.0) });
    let weak = chart(&trials, &[], &[]);
    trials.pop();
    trials
        .extend((0..6).map(|_| Trial { lower: open_below(400.0, 16.0, 620.0), ..Trial::seen(430.0, 540.0) }));
    let strong = chart(&trials, &[], &[]);
    let point = weak.lower.points.last().unwrap();
    assert!(point.open_below && !point.open_above);
    let gained = weak.lower.effective_trials - series_before.lower.effective_trials;
    assert!((0.02..0.5).contains(&gained), "{gained}");
    assert!(strong.lower.points.last().unwrap().down > 3.0);
    assert_eq!(strong.lower.points.last().unwrap().up, 0.0);
}

/// Wild, empty and one-sided histories give finite numbers.
#[test]
fn nothing_breaks_a_chart() {
    let flat = |end_c| profile(end_c, |_| 0.0);
    let mut trials = healthy(10, 14.0);
    trials.push(Trial {
        lower: normal(260.0, 3.0, 620.0),
        upper: normal(660.0, 3.0, 670.0),
        ..Trial::seen(0.0, 0.0)
    });
    trials.push(Trial { lower: flat(620.0), upper: flat(670.0), ..Trial::seen(0.0, 0.0) });
    trials.push(Trial { sheet: Some(75.0), speed: 0.4, ..Trial::seen(430.0, 540.0) });
    trials.push(Trial { sheet: None, speed: 12.0, ..Trial::seen(430.0, 540.0) });
    trials.push(Trial { lower: flat(254.0), upper: flat(250.0), ..Trial::seen(0.0, 0.0) });
    trials.push(Trial { lower: normal(430.0, 0.5, 480.0), ..Trial::seen(0.0, 540.0) });
    trials.push(Trial { class: MaterialClass::Tpo, ..Trial::seen(500.0, 600.0) });
    let all = unit_series(&entries(&trials), &[], &[], &ChartSettings::default());
    assert_eq!(
        all.iter().map(|series| series.class).collect::<Vec<_>>(),
        [MaterialClass::Pvc, MaterialClass::Tpo]
    );
    for series in &all {
        for point in series.lower.points.iter().chain(&series.upper.points) {
            let numbers =
                [point.up, point.down, point.limit, point.effective_trials, point.interval.middle.celsius()];
            assert!(numbers.iter().all(|number| number.is_finite()), "{point:?}");
            assert!(
                point.interval.low <= point.interval.middle && point.interval.middle <= point.interval.high
            );
        }
    }
    assert!(all[0].lower.signals.is_empty(), "one wild trial is no drift");
    assert!(unit_series(&[], &[at(0)], &[], &ChartSettings::default()).is_empty());
}

/// Charts that are taken from trial to trial are those that are made at once: through steps and restarts, with two
/// classes, unwritten sheet temperatures and other speeds.
#[test]
fn going_on_is_the_same_as_beginning_again() {
    let mut trials = with_step(25, 12, 45.0);
    trials.extend(healthy(20, 14.0));
    trials.extend(with_step(10, 50, -40.0));
    for (index, trial) in trials.iter_mut().enumerate() {
        trial.sheet = (index % 6 != 0).then_some(10.0 + (index % 25) as f64);
        trial.speed = if index % 9 == 0 { 2.4 } else { 3.05 };
        trial.class = if index % 4 == 3 { MaterialClass::Tpo } else { MaterialClass::Pvc };
    }
    let entries = entries(&trials);
    let hour = Duration::hours(1);
    let resets = [at(0) - hour, at(37) - hour, at(37), at(90) + hour, at(500)];
    let quiet =
        [Quiet { at: at(33), class: MaterialClass::Pvc, edge: Edge::Lower, direction: Direction::Up }];
    let settings = ChartSettings::default();
    let points = entries.iter().map(HistoryEntry::profile_points).max().unwrap();
    let mut charts = UnitCharts::new(settings.clone(), points);
    let mut signals = 0;
    for (index, entry) in entries.iter().enumerate() {
        charts.take(entry, &resets);
        let gone_on = charts.series(&resets, &quiet);
        assert_eq!(gone_on, unit_series(&entries[..=index], &resets, &quiet, &settings), "trial {index}");
        signals = gone_on.iter().map(|unit| unit.lower.signals.len() + unit.upper.signals.len()).sum();
    }
    assert!(signals > 3, "{signals} signals make no test");

    let keys: Vec<_> = entries.iter().map(|entry| (entry.key(), entry.offsets)).collect();
    assert!(charts.lead_to(&keys, &resets, &settings));
    assert!(!charts.lead_to(&keys[1..], &resets, &settings), "a trial too many was taken");
    let late_service = [resets[0], at(20), resets[1], resets[2], resets[3], resets[4]];
    assert!(!charts.lead_to(&keys, &late_service, &settings), "a restart is missing");
    let other = ChartSettings { promise_arl: 400.0, ..settings.clone() };
    assert!(!charts.lead_to(&keys, &resets, &other), "other limits");
    let mut shifted = keys;
    shifted[0].1.lower.mean = TemperatureDifference::from_kelvin(3.0);
    assert!(!charts.lead_to(&shifted, &resets, &settings), "another offset was taken off");
}
