//! Fleets whose heat shares are known, over seasons.

use std::f64::consts::TAU;

use chrono::{DateTime, Duration, TimeZone, Utc};
use lapwatch_domain::drift::{HistoryEntry, Offsets};
use lapwatch_domain::edges::{EdgePrior, Observation, TrialEvidence, stand_alone};
use lapwatch_domain::heat::{Conditions, HeatShare, equivalent};
use lapwatch_domain::membrane::MaterialClass;
use lapwatch_domain::quantity::{Quantity, Speed, SpeedUnit, Temperature, TemperatureUnit};
use uuid::Uuid;

use crate::strips::Dice;

const UNIT_MAXIMUM_C: f64 = 620.0;
const SIGMA_K: f64 = 17.0;
const RHO: f64 = 0.5;
/// From trial to trial, K: what charts assume.
const NOISE_K: f64 = 8.0;

/// Under what a unit's trials were made.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Weather {
    /// Half the difference of the sheet between summer and winter, K.
    pub(crate) season_k: f64,
    /// Standard deviation from day to day, K.
    pub(crate) day_k: f64,
}

/// Sheets from about 0 to 40 °C over a year.
pub(crate) const SEASONS: Weather = Weather { season_k: 16.0, day_k: 5.0 };
/// The same sheet temperature every day.
pub(crate) const INDOORS: Weather = Weather { season_k: 0.0, day_k: 1.0 };

/// One trial.
pub(crate) struct Trial {
    at: DateTime<Utc>,
    sheet: Temperature,
    speed: Speed,
    class: MaterialClass,
    evidence: TrialEvidence,
}

/// A unit's trials over a year, one sweep in five, the others checks at ±25 K.
pub(crate) fn unit(
    seed: u64,
    share: f64,
    class: MaterialClass,
    count: usize,
    weather: Weather,
) -> Vec<Trial> {
    let mut dice = Dice(seed);
    let share = HeatShare::new(share).expect("in range");
    let levels = [425.0 + 12.0 * dice.normal(), 540.0 + 12.0 * dice.normal()];
    let season = dice.uniform() * TAU;
    (0..count)
        .map(|trial| {
            let days = 365.0 * trial as f64 / count as f64;
            let sheet =
                20.0 + weather.season_k * (season + TAU * days / 365.0).sin() + weather.day_k * dice.normal();
            let here = Conditions { sheet: celsius(sheet), speed: speed(3.05) };
            let edges = levels.map(|level| {
                let there = equivalent(celsius(level), Conditions::reference(), here, share).set_point;
                there.value_in(TemperatureUnit::Celsius) + NOISE_K * dice.normal()
            });
            let middle = ((edges[0] + edges[1] + 16.0 * dice.normal()) / 20.0).round() * 10.0;
            let steps = if trial % 5 == 0 { (-3, 40.0) } else { (-1, 25.0) };
            let welded = weld(&mut dice, middle, steps, edges);
            Trial {
                at: Utc.with_ymd_and_hms(2025, 1, 6, 7, 0, 0).unwrap()
                    + Duration::minutes((days * 1440.0) as i64),
                sheet: here.sheet,
                speed: here.speed,
                class,
                evidence: stand_alone(&welded, celsius(UNIT_MAXIMUM_C), &EdgePrior::default()),
            }
        })
        .collect()
}

fn weld(dice: &mut Dice, middle: f64, (outermost, step_k): (i32, f64), edges: [f64; 2]) -> Vec<Observation> {
    let mut coupons = Vec::new();
    for place in outermost..=-outermost {
        let setting = middle + step_k * f64::from(place);
        if setting > UNIT_MAXIMUM_C {
            break;
        }
        let coupon = peel(dice, setting, edges);
        coupons.push(coupon);
        if coupon.hot == 3 {
            break;
        }
    }
    coupons
}

fn peel(dice: &mut Dice, setting: f64, edges: [f64; 2]) -> Observation {
    let mut coupon = Observation { temperature: celsius(setting), cold: 0, sound: 0, hot: 0 };
    let shared = [dice.normal(), dice.normal()];
    for _ in 0..3 {
        let [cold_below, hot_above] = [0, 1].map(|edge| {
            edges[edge] + SIGMA_K * (RHO.sqrt() * shared[edge] + (1.0 - RHO).sqrt() * dice.normal())
        });
        match setting {
            _ if setting < cold_below => coupon.cold += 1,
            _ if setting > hot_above => coupon.hot += 1,
            _ => coupon.sound += 1,
        }
    }
    coupon
}

/// The trials as charts take them.
pub(crate) fn entries(trials: &[Trial]) -> Vec<HistoryEntry<'_>> {
    trials
        .iter()
        .enumerate()
        .map(|(index, trial)| HistoryEntry {
            trial: Uuid::from_u128(index as u128 + 1),
            at: trial.at,
            class: trial.class,
            sheet: Some(trial.sheet),
            speed: trial.speed,
            lower: &trial.evidence.lower.profile,
            upper: &trial.evidence.upper.profile,
            offsets: Offsets::default(),
        })
        .collect()
}

fn celsius(value: f64) -> Temperature {
    Temperature::new(value, TemperatureUnit::Celsius).expect("above absolute zero")
}

fn speed(value: f64) -> Speed {
    Speed::new(value, SpeedUnit::MetrePerMinute).expect("above zero")
}
