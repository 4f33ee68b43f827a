//! Fleets whose units lay the same production runs, one of which may be bad.

use lapwatch_domain::drift::{ChartSettings, HistoryEntry, UnitCharts, UnitSeries};
use lapwatch_domain::fleet::{Setting, Shared, SharedBy, SharedEvidence, UnitHistory};
use lapwatch_domain::membrane::MaterialClass;
use uuid::Uuid;

use crate::fleet::{Dice, Fault, Habits, Trial, entries, trials_on};
use crate::measure::{TRIALS, index, signals};

/// A run lasts six weeks; crews change over on different days.
const LOT_TRIALS: usize = 29;
const DAYS_APART: usize = 3;
/// Standard deviation of what an ordinary run does to the edges, K.
const ORDINARY_K: f64 = 4.0;
/// The bad run, and the trials within which crews lay it.
const BAD: usize = 4;
pub(crate) const WATCHED: (usize, usize) = (BAD * LOT_TRIALS - 21, (BAD + 1) * LOT_TRIALS + 10);

/// Units, eight crews, what the bad run does (K), and the fault of the first unit.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Roofs {
    pub(crate) units: u64,
    pub(crate) habits: Habits,
    pub(crate) bad_k: f64,
    pub(crate) fault: Fault,
}

/// The run that a unit lays in a trial.
fn lot(unit: u64, trial: usize) -> usize {
    (trial + DAYS_APART * (unit % 8) as usize) / LOT_TRIALS
}

fn setting(unit: u64, trial: usize) -> Setting {
    Setting { lot: Some(Uuid::from_u128(lot(unit, trial) as u128 + 1)), ..Setting::default() }
}

/// What came of it, with shifts of runs taken off or not.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Watched {
    /// Sound units with a signal that began and stood on any day of the time watched.
    pub(crate) sound_flagged: usize,
    /// Days on which each of those stood, summed.
    pub(crate) sound_days: usize,
    /// Trials from the fault of the first unit to its first signal.
    pub(crate) delay: Option<usize>,
    /// Trials of the first crew with the bad run until it was told of.
    pub(crate) told: Option<usize>,
    /// Ordinary runs that were told of as if they were bad, on any day.
    pub(crate) told_wrongly: usize,
}

impl Roofs {
    fn trials(&self, seed: u64) -> Vec<Vec<Trial>> {
        let mut dice = Dice(seed ^ 0x51_0e);
        let lots: Vec<f64> = (0..TRIALS / LOT_TRIALS + 2)
            .map(|lot| ORDINARY_K * dice.normal() + if lot == BAD { self.bad_k } else { 0.0 })
            .collect();
        let unit = |unit: u64| {
            let fault = if unit == 0 { self.fault } else { Fault::None };
            trials_on(seed * 1000 + unit, TRIALS, self.habits, fault, |trial| lots[lot(unit, trial)])
        };
        (0..self.units).map(unit).collect()
    }

    /// Goes through the time watched day by day, a fit being made of the days before each.
    pub(crate) fn watch(&self, seed: u64, take_off: bool) -> Watched {
        let all = self.trials(seed);
        let entries: Vec<Vec<HistoryEntry<'_>>> = all.iter().map(|trials| entries(trials)).collect();
        let mut found = Watched { sound_flagged: 0, sound_days: 0, delay: None, told: None, told_wrongly: 0 };
        let mut flagged = vec![false; entries.len()];
        for day in WATCHED.0..WATCHED.1 {
            let shared = if take_off { fit(&entries, day) } else { Shared::of([]) };
            for shift in shared.shifts.iter().filter(|shift| shift.is_notable()) {
                if shift.by == SharedBy::Lot(Uuid::from_u128(BAD as u128 + 1)) && self.bad_k != 0.0 {
                    found.told = found.told.or(Some(day - (WATCHED.0 - 1)));
                } else {
                    found.told_wrongly += 1;
                }
            }
            for (unit, entries) in entries.iter().enumerate() {
                let series = series(unit as u64, &entries[..=day], &shared);
                let stands =
                    signals(&series).any(|signal| signal.end.is_none() && index(signal) >= WATCHED.0);
                if unit == 0 && self.fault.from() < TRIALS {
                    let seen = stands && found.delay.is_none();
                    found.delay = if seen { Some(day + 1 - self.fault.from()) } else { found.delay };
                } else if stands {
                    found.sound_flagged += usize::from(!flagged[unit]);
                    found.sound_days += 1;
                    flagged[unit] = true;
                }
            }
        }
        found
    }
}

/// What the trials before a day say.
fn fit(entries: &[Vec<HistoryEntry<'_>>], day: usize) -> Shared {
    let evidence = |unit: u64| {
        let history = &entries[unit as usize][..day];
        let settings: Vec<Setting> = (0..day).map(|trial| setting(unit, trial)).collect();
        let told = UnitHistory { unit: id(unit), history, resets: &[] };
        SharedEvidence::of(&told, &settings, &ChartSettings::default())
    };
    Shared::of((0..entries.len() as u64).map(evidence))
}

fn id(unit: u64) -> Uuid {
    Uuid::from_u128(u128::from(unit) + 1)
}

/// A unit's series with what its sheets are known to do taken off.
fn series(unit: u64, entries: &[HistoryEntry<'_>], shared: &Shared) -> UnitSeries {
    let points = entries.iter().map(|entry| entry.profile_points()).max().unwrap();
    let mut charts = UnitCharts::new(ChartSettings::default(), points);
    for (trial, entry) in entries.iter().enumerate() {
        let offsets = shared.offsets(id(unit), MaterialClass::Pvc, &setting(unit, trial));
        charts.take(&HistoryEntry { offsets, ..*entry }, &[]);
    }
    charts.series(&[], &[]).remove(0)
}
