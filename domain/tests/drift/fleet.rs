//! A simulated fleet: units whose truth is known, and the trials that their crews make.

use std::cell::RefCell;
use std::collections::HashMap;
use std::f64::consts::TAU;
use std::rc::Rc;

use chrono::{DateTime, Duration, TimeZone, Utc};
use lapwatch_domain::drift::{HistoryEntry, Offsets};
use lapwatch_domain::edges::{EdgePrior, Observation, TrialEvidence, stand_alone};
use lapwatch_domain::membrane::MaterialClass;
use lapwatch_domain::quantity::{Quantity, Speed, SpeedUnit, Temperature, TemperatureUnit};
use uuid::Uuid;

const UNIT_MAXIMUM_C: f64 = 620.0;
const REFERENCE_SHEET_C: f64 = 20.0;
/// Edges of a unit like all others.
const USUAL_EDGES_C: [f64; 2] = [425.0, 540.0];
/// Working days come 1.45 calendar days apart.
pub(crate) const DAYS_PER_TRIAL: f64 = 1.45;

/// A seeded generator (SplitMix64).
pub(crate) struct Dice(pub(crate) u64);

impl Dice {
    pub(crate) fn uniform(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((z ^ (z >> 31)) >> 11) as f64 / (1_u64 << 53) as f64
    }

    pub(crate) fn normal(&mut self) -> f64 {
        (-2.0 * (1.0 - self.uniform()).ln()).sqrt() * (TAU * self.uniform()).cos()
    }
}

/// How a crew makes its trials.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Habits {
    /// Every so many trials is a sweep, the others are confirmation checks.
    pub(crate) sweep_every: usize,
    /// Distance of the neighbouring steps of a confirmation check from the set point, K.
    pub(crate) check_step_k: f64,
    /// Whether the sheet's temperature is written down.
    pub(crate) writes_sheet: bool,
}

/// The usual crew: a sweep in ten trials, checks at ±25 K.
pub(crate) const USUAL: Habits = Habits { sweep_every: 10, check_step_k: 25.0, writes_sheet: true };
/// A crew that finds both edges every day.
pub(crate) const SWEEPS: Habits = Habits { sweep_every: 1, ..USUAL };

/// What goes wrong with a unit, at reference conditions.
#[derive(Debug, Clone, Copy)]
pub(crate) enum Fault {
    /// Nothing.
    None,
    /// Both edges move at once by so many K: a sensor.
    Step { from: usize, by_k: f64 },
    /// Both edges move by so many K with every trial: a heater that fades.
    Fade { from: usize, per_trial_k: f64 },
    /// The edges' excess over the sheet grows at once by this share: airflow, drive.
    Excess { from: usize, share: f64 },
    /// The upper edge alone moves at once by so many K: a supply that sags near the top.
    Top { from: usize, by_k: f64 },
}

impl Fault {
    /// The trial with which it begins.
    pub(crate) fn from(self) -> usize {
        match self {
            Self::None => usize::MAX,
            Self::Step { from, .. }
            | Self::Fade { from, .. }
            | Self::Excess { from, .. }
            | Self::Top { from, .. } => from,
        }
    }

    /// How far the lower edge has moved at a trial.
    pub(crate) fn shift_k(self, trial: usize) -> f64 {
        self.shifts_k(trial)[0]
    }

    /// How far both edges have moved at a trial, of a unit like all others.
    fn shifts_k(self, trial: usize) -> [f64; 2] {
        if trial < self.from() {
            return [0.0; 2];
        }
        match self {
            Self::None => [0.0; 2],
            Self::Step { by_k, .. } => [by_k; 2],
            Self::Fade { from, per_trial_k } => [(trial - from) as f64 * per_trial_k; 2],
            Self::Excess { share, .. } => USUAL_EDGES_C.map(|edge| share * (edge - REFERENCE_SHEET_C)),
            Self::Top { by_k, .. } => [0.0, by_k],
        }
    }
}

/// A trial of the simulation.
pub(crate) struct Trial {
    at: DateTime<Utc>,
    sheet: Option<Temperature>,
    evidence: Rc<TrialEvidence>,
}

/// A unit's trials. Its heat share differs from the usual .27, its scatter from the prior's median; the seasons begin
/// anywhere in the year.
pub(crate) fn trials(seed: u64, count: usize, habits: Habits, fault: Fault) -> Vec<Trial> {
    trials_on(seed, count, habits, fault, |_| 0.0)
}

/// The same on sheets that move both edges of each trial by so many K, at reference conditions.
pub(crate) fn trials_on(
    seed: u64,
    count: usize,
    habits: Habits,
    fault: Fault,
    sheets_k: impl Fn(usize) -> f64,
) -> Vec<Trial> {
    let mut dice = Dice(seed);
    let edges = USUAL_EDGES_C.map(|edge| edge + 12.0 * dice.normal());
    let share = (0.27 + 0.045 * dice.normal()).clamp(0.19, 0.37);
    let season = dice.uniform() * TAU;
    let sigma = 17.0 * (0.25 * dice.normal()).exp();
    let mut set_point = 480.0;
    (0..count)
        .map(|trial| {
            let days = trial as f64 * DAYS_PER_TRIAL;
            let sheet = 18.0 + 16.0 * (season + TAU * days / 365.0).sin() + 5.0 * dice.normal();
            let shifts = fault.shifts_k(trial);
            let [lower, upper] = [0, 1].map(|which| {
                let level = edges[which] + shifts[which] + sheets_k(trial);
                sheet
                    + (REFERENCE_SHEET_C + share * (level - REFERENCE_SHEET_C) - sheet) / share
                    + 8.0 * dice.normal()
            });
            // The crew follows the band, slowly and with errors, on the machine's grid of 10 K.
            let seen = 0.5 * (lower + upper) + 8.0 * dice.normal();
            set_point = ((0.5 * set_point + 0.5 * seen) / 10.0).round() * 10.0;
            let steps = if trial % habits.sweep_every == 0 { (-3, 40.0) } else { (-1, habits.check_step_k) };
            let observations = weld(&mut dice, set_point, steps, (lower, upper), sigma);
            Trial {
                at: Utc.with_ymd_and_hms(2025, 1, 6, 7, 0, 0).unwrap()
                    + Duration::minutes((days * 1440.0) as i64),
                sheet: habits.writes_sheet.then(|| celsius(sheet)),
                evidence: evidence_of(&observations),
            }
        })
        .collect()
}

/// Setting (bits of °C), cold and hot strips of each coupon.
type Seen = Vec<(u64, usize, usize)>;

thread_local! {
    /// Evidence by what was seen: most checks find the same three coupons sound.
    static SEEN: RefCell<HashMap<Seen, Rc<TrialEvidence>>> = RefCell::default();
}

fn evidence_of(observations: &[Observation]) -> Rc<TrialEvidence> {
    let setting = |coupon: &Observation| coupon.temperature.value_in(TemperatureUnit::Celsius).to_bits();
    let key = observations.iter().map(|coupon| (setting(coupon), coupon.cold, coupon.hot)).collect();
    let evaluate = || Rc::new(stand_alone(observations, celsius(UNIT_MAXIMUM_C), &EdgePrior::default()));
    SEEN.with_borrow_mut(|seen| seen.entry(key).or_insert_with(evaluate).clone())
}

/// Three strips of each coupon from cold to hot, up to the first coupon that scorches throughout.
fn weld(
    dice: &mut Dice,
    set_point: f64,
    (outermost, step_k): (i32, f64),
    (lower, upper): (f64, f64),
    sigma: f64,
) -> Vec<Observation> {
    let mut coupons = Vec::new();
    let half = 0.5_f64.sqrt();
    for place in outermost..=-outermost {
        let setting = set_point + step_k * f64::from(place);
        let shared = [dice.normal(), dice.normal()];
        let mut coupon = Observation { temperature: celsius(setting), cold: 0, sound: 0, hot: 0 };
        for _ in 0..3 {
            let [cold_below, hot_above] = [(lower, shared[0]), (upper, shared[1])]
                .map(|(edge, common)| edge + sigma * half * (common + dice.normal()));
            match setting {
                _ if setting < cold_below => coupon.cold += 1,
                _ if setting > hot_above => coupon.hot += 1,
                _ => coupon.sound += 1,
            }
        }
        let scorched = coupon.hot == 3;
        if setting <= UNIT_MAXIMUM_C {
            coupons.push(coupon);
        }
        if scorched {
            break;
        }
    }
    coupons
}

/// The trials as the charts take them; the trial with index i has the id i + 1.
pub(crate) fn entries(trials: &[Trial]) -> Vec<HistoryEntry<'_>> {
    let speed = Speed::new(3.05, SpeedUnit::MetrePerMinute).unwrap();
    trials
        .iter()
        .enumerate()
        .map(|(index, trial)| HistoryEntry {
            trial: Uuid::from_u128(index as u128 + 1),
            at: trial.at,
            class: MaterialClass::Pvc,
            sheet: trial.sheet,
            speed,
            lower: &trial.evidence.lower.profile,
            upper: &trial.evidence.upper.profile,
            offsets: Offsets::default(),
        })
        .collect()
}

fn celsius(value: f64) -> Temperature {
    Temperature::new(value, TemperatureUnit::Celsius).unwrap()
}
