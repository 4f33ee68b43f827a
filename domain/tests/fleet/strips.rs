//! Fleets whose strips scatter and agree in a known way.

use std::f64::consts::TAU;

use lapwatch_domain::edges::Observation;
use lapwatch_domain::fleet::TrialSteps;
use lapwatch_domain::quantity::{Quantity, Temperature, TemperatureUnit};
use lapwatch_domain::trial::Purpose;
use uuid::Uuid;

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

/// How a crew chooses its steps.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Habit {
    /// Upwards by so many K from well below the band to the first coupon that scorched throughout.
    Sweep(f64),
    /// The same, but to the first coupon with any scorched strip.
    Careful(f64),
    /// The same fixed steps every time, from so many °C by so many K, so many of them, whatever they show.
    Fixed(f64, f64, usize),
    /// Three coupons about the set point, so many K apart.
    Check(f64),
}

/// What is true of a fleet's strips.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Strips {
    pub(crate) rho: f64,
    /// Median of the scatter, K, and the standard deviation of its logarithm from edge to edge.
    pub(crate) sigma_k: f64,
    pub(crate) ln_spread: f64,
}

/// One simulated trial.
#[derive(Debug)]
pub(crate) struct Trial {
    pub(crate) unit: u128,
    pub(crate) purpose: Purpose,
    pub(crate) steps: Vec<Observation>,
}

pub(crate) fn steps_of(trials: &[Trial]) -> impl Iterator<Item = TrialSteps<'_>> {
    trials.iter().map(|trial| TrialSteps {
        unit: Uuid::from_u128(trial.unit),
        purpose: trial.purpose,
        steps: &trial.steps,
    })
}

/// So many trials of each of so many units, by each of the habits in turn.
pub(crate) fn fleet(seed: u64, truth: Strips, units: u128, trials: usize, habits: &[Habit]) -> Vec<Trial> {
    let mut dice = Dice(seed);
    let mut all = Vec::new();
    for unit in 1..=units {
        let level = 400.0 + 40.0 * dice.uniform();
        let width = 100.0 + 40.0 * dice.uniform();
        for trial in 0..trials {
            let lower = level + 12.0 * dice.normal();
            let edges = [lower, lower + width];
            let sigmas = [(); 2].map(|()| truth.sigma_k * (truth.ln_spread * dice.normal()).exp());
            let habit = habits[trial % habits.len()];
            let purpose =
                if matches!(habit, Habit::Check(_)) { Purpose::Confirmation } else { Purpose::Sweep };
            all.push(Trial { unit, purpose, steps: weld(&mut dice, habit, edges, sigmas, truth.rho) });
        }
    }
    all
}

fn weld(dice: &mut Dice, habit: Habit, edges: [f64; 2], sigmas: [f64; 2], rho: f64) -> Vec<Observation> {
    let middle = ((edges[0] + edges[1]) / 20.0).round() * 10.0;
    let (start, step, most) = match habit {
        Habit::Sweep(step) | Habit::Careful(step) => {
            (330.0 + (4.0 * dice.uniform()).floor() * 10.0, step, 40)
        }
        Habit::Fixed(start, step, most) => (start, step, most),
        Habit::Check(step) => (middle - step, step, 3),
    };
    let mut coupons = Vec::new();
    for place in 0..most {
        let setting = start + step * place as f64;
        if setting > 620.0 {
            break;
        }
        let coupon = peel(dice, setting, edges, sigmas, rho);
        coupons.push(coupon);
        let over = match habit {
            Habit::Sweep(_) => coupon.hot == 3,
            Habit::Careful(_) => coupon.hot > 0,
            Habit::Fixed(..) | Habit::Check(_) => false,
        };
        if over {
            break;
        }
    }
    coupons
}

/// Three strips; those of one coupon share the part ρ of the variance about each edge.
fn peel(dice: &mut Dice, setting: f64, edges: [f64; 2], sigmas: [f64; 2], rho: f64) -> Observation {
    let temperature = Temperature::new(setting, TemperatureUnit::Celsius).expect("above absolute zero");
    let mut coupon = Observation { temperature, cold: 0, sound: 0, hot: 0 };
    let shared = [dice.normal(), dice.normal()];
    for _ in 0..3 {
        let turns: Vec<f64> = (0..2)
            .map(|edge| {
                edges[edge] + sigmas[edge] * (rho.sqrt() * shared[edge] + (1.0 - rho).sqrt() * dice.normal())
            })
            .collect();
        if setting < turns[0] {
            coupon.cold += 1;
        } else if setting > turns[1] {
            coupon.hot += 1;
        } else {
            coupon.sound += 1;
        }
    }
    coupon
}
