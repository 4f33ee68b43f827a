//! The charts of one unit, taken from trial to trial.

use chrono::{DateTime, Utc};
use uuid::Uuid;

use super::run::Run;
use super::{ChartSettings, HistoryEntry, Knowledge, Offsets, Quiet, SignalEnd, UnitSeries};
use crate::membrane::MaterialClass;

/// The unit's series, one per material class it has trials of, in the order of [`MaterialClass::ALL`].
///
/// `history` and `resets` (times of service events with effect on heat) may come in any order; entries are taken by time,
/// those of the same time by trial id. The result depends on nothing else. To go on from trial to trial without
/// beginning again, see [`UnitCharts`].
#[must_use]
pub fn unit_series(
    history: &[HistoryEntry<'_>],
    resets: &[DateTime<Utc>],
    quiet: &[Quiet],
    settings: &ChartSettings,
) -> Vec<UnitSeries> {
    let mut entries: Vec<&HistoryEntry<'_>> = history.iter().collect();
    entries.sort_by_key(|entry| entry.key());
    let mut resets = resets.to_vec();
    resets.sort_unstable();
    let points = history.iter().map(HistoryEntry::profile_points).max().unwrap_or(1);
    let mut charts = UnitCharts::new(settings.clone(), points);
    for entry in entries {
        charts.take(entry, &resets);
    }
    charts.series(&resets, quiet)
}

/// The charts of one unit after some of its trials, ready to take the next.
///
/// A unit's charts after n + 1 trials are those after n trials and one step. Kept between trials, they save going
/// through the whole history for each new one; a trial that comes late, or a service event that does, needs them made
/// anew: [`UnitCharts::lead_to`] tells.
///
/// # Examples
///
/// ```
/// use chrono::{TimeZone, Utc};
/// use lapwatch_domain::drift::{ChartSettings, HistoryEntry, Offsets, UnitCharts, unit_series};
/// use lapwatch_domain::edges::{Edge, Profile};
/// use lapwatch_domain::membrane::MaterialClass;
/// use lapwatch_domain::quantity::{Quantity, Speed, SpeedUnit, Temperature, TemperatureUnit};
/// use uuid::Uuid;
///
/// let maximum = Temperature::new(620.0, TemperatureUnit::Celsius)?;
/// let (lower, upper) = (Profile::flat(Edge::Lower, maximum), Profile::flat(Edge::Upper, maximum));
/// let entry = |day: u32| HistoryEntry {
///     trial: Uuid::from_u128(u128::from(day)),
///     at: Utc.with_ymd_and_hms(2026, 6, day, 7, 0, 0).unwrap(),
///     class: MaterialClass::Pvc,
///     sheet: None,
///     speed: Speed::new(3.05, SpeedUnit::MetrePerMinute).unwrap(),
///     lower: &lower,
///     upper: &upper,
///     offsets: Offsets::default(),
/// };
/// let settings = ChartSettings::default();
/// let mut charts = UnitCharts::new(settings.clone(), upper.len());
/// charts.take(&entry(1), &[]);
/// charts.take(&entry(2), &[]);
///
/// // One after the other, or all at once: the same.
/// assert_eq!(charts.series(&[], &[]), unit_series(&[entry(2), entry(1)], &[], &[], &settings));
///
/// // A trial between the two was not taken: these charts cannot go on to such a history.
/// let keys = [entry(1), entry(2), entry(3)].map(|entry| (entry.key(), entry.offsets));
/// assert!(charts.lead_to(&keys, &[], &settings));
/// assert!(!charts.lead_to(&[keys[0], keys[2]], &[], &settings));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone)]
pub struct UnitCharts {
    settings: ChartSettings,
    profile_points: usize,
    /// Every trial taken, in order, and what was taken off it.
    taken: Vec<((DateTime<Utc>, Uuid), Offsets)>,
    /// The restarts up to the last trial.
    resets: Vec<DateTime<Utc>>,
    /// One for each class with trials.
    runs: Vec<Run>,
}

impl UnitCharts {
    /// Charts without trials, for profiles of at most so many points ([`HistoryEntry::profile_points`]).
    #[must_use]
    pub const fn new(settings: ChartSettings, profile_points: usize) -> Self {
        Self { settings, profile_points, taken: Vec::new(), resets: Vec::new(), runs: Vec::new() }
    }

    /// How many trials were taken.
    #[must_use]
    pub const fn taken(&self) -> usize {
        self.taken.len()
    }

    /// Of how many points the profiles may be.
    #[must_use]
    pub const fn profile_points(&self) -> usize {
        self.profile_points
    }

    /// Whether they are the charts of the beginning of a history: made with the same settings, from the first of these
    /// trials (`keys`: [`HistoryEntry::key`], ascending, with the trial's offsets) and from all those of the `resets` (ascending) that lie before
    /// the last one taken.
    #[must_use]
    pub fn lead_to(
        &self,
        keys: &[((DateTime<Utc>, Uuid), Offsets)],
        resets: &[DateTime<Utc>],
        settings: &ChartSettings,
    ) -> bool {
        self.settings == *settings && keys.starts_with(&self.taken) && self.resets == self.so_far(resets)
    }

    /// Takes the next trial. `resets` are the times of all service events with effect on heat, ascending; those after
    /// the last trial and up to this one restart the charts.
    ///
    /// # Panics
    ///
    /// When the trial does not come after the last one, or its profiles have more than
    /// [`UnitCharts::profile_points`] points.
    pub fn take(&mut self, entry: &HistoryEntry<'_>, resets: &[DateTime<Utc>]) {
        assert!(
            self.taken.last().is_none_or(|(last, _)| *last < entry.key()),
            "trials come in order of time"
        );
        assert!(entry.profile_points() <= self.profile_points, "the profile is longer than the charts allow");
        let before = self.resets.len();
        self.taken.push((entry.key(), entry.offsets));
        self.resets = self.so_far(resets).to_vec();
        if let Some(at) = self.resets.get(before) {
            for run in &mut self.runs {
                run.restart(*at, &self.settings);
            }
        }
        let run = match self.runs.iter().position(|run| run.class() == entry.class) {
            Some(found) => &mut self.runs[found],
            None => {
                self.runs.push(Run::new(entry.class, self.profile_points, &self.settings));
                self.runs.last_mut().expect("one was just added")
            }
        };
        run.take(entry, &self.settings);
    }

    /// The series as they stand, one per material class, in the order of [`MaterialClass::ALL`]. `resets` are as for
    /// [`UnitCharts::take`]: service after the last trial ends what stood. `quiet` marks the signals that people closed.
    #[must_use]
    pub fn series(&self, resets: &[DateTime<Utc>], quiet: &[Quiet]) -> Vec<UnitSeries> {
        let after = resets[self.so_far(resets).len()..].first();
        let of_class = |class: &MaterialClass| self.runs.iter().find(|run| run.class() == *class);
        let runs = MaterialClass::ALL.iter().filter_map(of_class);
        runs.map(|run| {
            let mut run = run.clone();
            if let Some(at) = after {
                run.restart(*at, &self.settings);
            }
            let mut series = run.finish(&self.settings);
            close_signals(&mut series, quiet);
            series
        })
        .collect()
    }

    /// What the history knew of the edges before a trial, from the trials performed before it only. For one of the latest 40
    /// trials of its material class; `None` for any other.
    #[must_use]
    pub fn before(&self, trial: Uuid) -> Option<&Knowledge> {
        self.runs.iter().find_map(|run| run.before(trial))
    }

    /// What was taken off a trial; `None` of one that was not taken.
    #[must_use]
    pub fn offsets(&self, trial: Uuid) -> Option<Offsets> {
        let taken = self.taken.iter().rev().find(|((_, id), _)| *id == trial);
        taken.map(|(_, offsets)| *offsets)
    }

    /// What the history knows of the edges on a material class after its last trial. `None` without a trial of that class, and
    /// after service that affected the heat (`resets` as for [`UnitCharts::take`]).
    #[must_use]
    pub fn now(&self, class: MaterialClass, resets: &[DateTime<Utc>]) -> Option<Knowledge> {
        let served = self.so_far(resets).len() < resets.len();
        let run = self.runs.iter().find(|run| run.class() == class).filter(|_| !served)?;
        Some(run.knowledge(&self.settings)).filter(|knowledge| knowledge.trials > 0)
    }

    /// Those of the `resets` that lie at or before the last trial.
    fn so_far<'r>(&self, resets: &'r [DateTime<Utc>]) -> &'r [DateTime<Utc>] {
        let last = self.taken.last().map(|((at, _), _)| *at);
        &resets[..resets.partition_point(|at| last.is_some_and(|last| *at <= last))]
    }
}

/// Marks the signals that people closed.
fn close_signals(series: &mut UnitSeries, quiet: &[Quiet]) {
    let class = series.class;
    for edge in [&mut series.lower, &mut series.upper] {
        for signal in &mut edge.signals {
            let ended = signal.end.map(SignalEnd::at);
            signal.closed_at = quiet
                .iter()
                .filter(|quiet| {
                    quiet.class == class && quiet.edge == edge.edge && quiet.direction == signal.direction
                })
                .map(|quiet| quiet.at)
                .filter(|&at| at >= signal.at && ended.is_none_or(|ended| at < ended))
                .min();
        }
    }
}
