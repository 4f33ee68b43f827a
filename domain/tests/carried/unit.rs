//! A simulated unit whose truth is known, and what its crew welds.

use std::f64::consts::TAU;

use chrono::{DateTime, Duration, TimeZone, Utc};
use lapwatch_domain::acceptance::{Coupon, Criteria, Mode, Scorching, Specimen};
use lapwatch_domain::carried::{Carried, NotCarried, Today, carry};
use lapwatch_domain::drift::{ChartSettings, HistoryEntry, Offsets, UnitCharts};
use lapwatch_domain::edges::Profile;
use lapwatch_domain::heat::{Conditions, Dwell, HeatShare, equivalent};
use lapwatch_domain::membrane::{MaterialClass, Sheet, SheetCondition, WeldMethod};
use lapwatch_domain::policy::{Ceilings, Policy};
use lapwatch_domain::quantity::{
    Quantity, Speed, SpeedUnit, Temperature, TemperatureDifference, TemperatureDifferenceUnit,
    TemperatureUnit, parse,
};
use lapwatch_domain::trial::{Evaluation, Purpose, Surroundings, TrialInput, evaluate};
use uuid::Uuid;

pub(crate) fn celsius(value: f64) -> Temperature {
    Temperature::new(value, TemperatureUnit::Celsius).expect("above absolute zero")
}

pub(crate) fn number(temperature: Temperature) -> f64 {
    temperature.value_in(TemperatureUnit::Celsius)
}

/// A seeded generator (SplitMix64).
#[derive(Clone)]
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

/// Scatter of strips, K, and the share of its variance that the strips of a coupon have in common.
const STRIP_SD: f64 = 15.0;
const IN_COMMON: f64 = 0.5;
/// Scatter of an edge from trial to trial, K.
const TRIAL_SD: f64 = 8.0;

/// A unit, its truth and its history.
#[derive(Clone)]
pub(crate) struct Unit {
    pub(crate) dice: Dice,
    /// Half-points at reference conditions, °C.
    pub(crate) levels: [f64; 2],
    share: HeatShare,
    pub(crate) charts: UnitCharts,
    pub(crate) now: DateTime<Utc>,
    trials: u128,
}

/// One day's trial, with its truth.
pub(crate) struct Day {
    pub(crate) edges: [f64; 2],
    pub(crate) sheet: f64,
}

impl Unit {
    /// A unit without trials.
    pub(crate) fn new(seed: u64) -> Self {
        let mut dice = Dice(seed);
        let lower = 420.0 + 15.0 * dice.normal();
        let levels = [lower, lower + 105.0 + 15.0 * dice.normal()];
        let share = HeatShare::new((0.27 + 0.03 * dice.normal()).clamp(0.2, 0.36)).unwrap();
        let points = Profile::flat(lapwatch_domain::edges::Edge::Upper, celsius(620.0)).len();
        Self {
            dice,
            levels,
            share,
            charts: UnitCharts::new(ChartSettings::default(), points),
            now: Utc.with_ymd_and_hms(2026, 3, 1, 7, 0, 0).unwrap(),
            trials: 0,
        }
    }

    /// A unit after so many trials, one in ten a sweep, the others checks.
    pub(crate) fn after(seed: u64, trials: usize) -> Self {
        let mut unit = Self::new(seed);
        for index in 0..trials {
            let day = unit.day();
            let input = if index % 10 == 0 {
                let coupons =
                    [380.0, 420.0, 460.0, 500.0, 540.0, 580.0].map(|at| unit.weld(&day, at)).to_vec();
                input(Purpose::Sweep, coupons)
            } else {
                let middle = ((day.edges[0] + day.edges[1]) / 10.0).round() * 5.0;
                let coupons = [-20.0, 0.0, 20.0].map(|step| unit.weld(&day, middle + step)).to_vec();
                input(Purpose::Confirmation, coupons)
            };
            let evaluation = evaluate(&input);
            unit.remember(&day, &evaluation);
        }
        unit
    }

    /// The next working day: its sheet temperature, and where its edges are.
    pub(crate) fn day(&mut self) -> Day {
        self.now += Duration::hours(35);
        let season = (self.now - Utc.with_ymd_and_hms(2026, 4, 20, 0, 0, 0).unwrap()).num_days() as f64;
        let sheet = 22.0 + 12.0 * (season / 365.0 * TAU).sin() + 6.0 * self.dice.normal();
        let to = Conditions { sheet: celsius(sheet), ..Conditions::reference() };
        let edges = self.levels.map(|level| {
            number(equivalent(celsius(level), Conditions::reference(), to, self.share).set_point)
        });
        let edges = edges.map(|edge| edge + TRIAL_SD * self.dice.normal());
        Day { edges, sheet }
    }

    /// A coupon of three strips.
    pub(crate) fn weld(&mut self, day: &Day, at: f64) -> Coupon {
        let common = [self.dice.normal(), self.dice.normal()];
        let specimens = (0..3).map(|_| {
            let beyond: Vec<bool> = (0..2)
                .map(|edge| {
                    let scatter =
                        IN_COMMON.sqrt() * common[edge] + (1.0 - IN_COMMON).sqrt() * self.dice.normal();
                    at > day.edges[edge] + STRIP_SD * scatter
                })
                .collect();
            strip(beyond[0], beyond[1])
        });
        Coupon { set_temperature: celsius(at), speed: None, specimens: specimens.collect() }
    }

    pub(crate) fn today(&self, day: &Day) -> Today {
        Today {
            sheet: Some(celsius(day.sheet)),
            speed: held(),
            dwell: Dwell { heated: parse(25.0, "mm").unwrap(), thickness: parse(1.5, "mm").unwrap() },
            at: self.now,
            offsets: Offsets::default(),
        }
    }

    /// The trial with what was known before it.
    pub(crate) fn carry(
        &self,
        day: &Day,
        input: &TrialInput,
        evaluation: &Evaluation,
    ) -> Result<Carried, NotCarried> {
        let knowledge = self.charts.now(MaterialClass::Pvc, &[]).ok_or(NotCarried::NoHistory)?;
        carry(input, evaluation, Ok(&knowledge), &self.today(day))
    }

    /// Takes a trial into the history.
    pub(crate) fn remember(&mut self, day: &Day, evaluation: &Evaluation) {
        self.trials += 1;
        let entry = HistoryEntry {
            trial: Uuid::from_u128(self.trials),
            at: self.now,
            class: MaterialClass::Pvc,
            sheet: Some(celsius(day.sheet)),
            speed: held(),
            lower: &evaluation.evidence.lower.profile,
            upper: &evaluation.evidence.upper.profile,
            offsets: Offsets::default(),
        };
        self.charts.take(&entry, &[]);
    }
}

pub(crate) fn speed(metres_per_minute: f64) -> Speed {
    Speed::new(metres_per_minute, SpeedUnit::MetrePerMinute).unwrap()
}

/// The held speed of every trial.
fn held() -> Speed {
    speed(3.05)
}

fn strip(bonded: bool, scorched: bool) -> Specimen {
    let mode = if bonded { Mode::FilmTear } else { Mode::InterfaceOpened };
    let scorching = if bonded && scorched { vec![Scorching::Char] } else { Vec::new() };
    Specimen { mode: Some(mode), scorching, ..Specimen::default() }
}

pub(crate) fn input(purpose: Purpose, coupons: Vec<Coupon>) -> TrialInput {
    let sheet = Sheet { class: MaterialClass::Pvc, condition: SheetCondition::New };
    TrialInput {
        purpose,
        method: WeldMethod::Automatic,
        unit_maximum: celsius(620.0),
        display_step: TemperatureDifference::new(5.0, TemperatureDifferenceUnit::Kelvin).unwrap(),
        temperature_unit: TemperatureUnit::Celsius,
        ceilings: Ceilings::default(),
        set_point_before: None,
        upper_sheet: sheet,
        lower_sheet: sheet,
        criteria: Criteria::default(),
        policy: Policy::default(),
        coupons,
        supply: None,
        wind: None,
        speed: held(),
        speed_unit: SpeedUnit::MetrePerMinute,
        dwell: None,
        surroundings: Surroundings::default(),
    }
}
