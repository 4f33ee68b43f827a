//! Fits of many simulated fleets against what is true of them.

use std::thread;

use lapwatch_domain::drift::{ChartSettings, HistoryEntry};
use lapwatch_domain::fleet::{Basis, Spread, Surface, UnitHistory};
use lapwatch_domain::membrane::MaterialClass;
use lapwatch_domain::quantity::{Quantity, TemperatureDifference, TemperatureDifferenceUnit};
use uuid::Uuid;

use crate::heat::{self, Weather};
use crate::strips::{Dice, Habit, fleet, steps_of};

pub(crate) use crate::strips::Strips as Truth;

/// Crews sweep in steps of their own.
pub(crate) const MIXED_SWEEPS: [Habit; 3] = [Habit::Sweep(20.0), Habit::Sweep(30.0), Habit::Sweep(50.0)];

/// Where strips scatter little.
pub(crate) const FINE_SWEEPS: [Habit; 3] = [Habit::Sweep(10.0), Habit::Sweep(15.0), Habit::Sweep(25.0)];

pub(crate) fn kelvin(difference: TemperatureDifference) -> f64 {
    difference.value_in(TemperatureDifferenceUnit::Kelvin)
}

/// What fits of fleets with the same truth found.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Found {
    pub(crate) fleets: usize,
    /// Fleets with both numbers fitted.
    pub(crate) fitted: usize,
    /// Fleets whose 95 % interval holds the truth.
    pub(crate) rho_held: usize,
    pub(crate) sigma_held: usize,
    pub(crate) spread_held: usize,
    /// Averages of posterior means and standard deviations.
    pub(crate) mean_rho: f64,
    pub(crate) mean_rho_sd: f64,
    pub(crate) mean_sigma_k: f64,
    pub(crate) mean_ln_sigma_sd: f64,
    pub(crate) mean_spread: f64,
    pub(crate) mean_edges: f64,
}

pub(crate) fn spread_of(
    truth: Truth,
    units: u128,
    trials: usize,
    habits: &[Habit],
    repetitions: u64,
) -> Found {
    let one =
        |repetition: u64| Spread::fit(steps_of(&fleet(repetition * 91 + 7, truth, units, trials, habits)));
    let fits = on_two_threads(repetitions, &one);
    let count = |holds: &dyn Fn(&Spread) -> bool| fits.iter().filter(|fit| holds(fit)).count();
    let mean = |of: &dyn Fn(&Spread) -> f64| fits.iter().map(of).sum::<f64>() / fits.len() as f64;
    let (rho, sigma, spread) = (truth.rho, truth.sigma_k, truth.ln_spread);
    Found {
        fleets: fits.len(),
        fitted: count(&|fit| (fit.correlation.basis, fit.scatter.basis) == (Basis::Fitted, Basis::Fitted)),
        rho_held: count(&|fit| (fit.correlation.estimate.low..=fit.correlation.estimate.high).contains(&rho)),
        sigma_held: count(&|fit| {
            (kelvin(fit.scatter.median_low)..=kelvin(fit.scatter.median_high)).contains(&sigma)
        }),
        spread_held: count(&|fit| (fit.scatter.ln_spread.low..=fit.scatter.ln_spread.high).contains(&spread)),
        mean_rho: mean(&|fit| fit.correlation.estimate.mean),
        mean_rho_sd: mean(&|fit| fit.correlation.estimate.sd),
        mean_sigma_k: mean(&|fit| kelvin(fit.scatter.median)),
        mean_ln_sigma_sd: mean(&|fit| fit.scatter.ln_median_sd),
        mean_spread: mean(&|fit| fit.scatter.ln_spread.mean),
        mean_edges: mean(&|fit| fit.evidence.edges as f64),
    }
}

/// What is true of a fleet's heat shares.
#[derive(Debug, Clone, Copy)]
pub(crate) struct HeatFleet {
    pub(crate) mean: f64,
    /// Standard deviation between units.
    pub(crate) between: f64,
    pub(crate) units: u64,
    /// Trials of each unit in a year.
    pub(crate) trials: usize,
    pub(crate) weather: Weather,
}

/// What fits of fleets with the same truth found.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct HeatFound {
    pub(crate) fleets: usize,
    pub(crate) fitted: usize,
    pub(crate) classes_held: usize,
    pub(crate) units: usize,
    pub(crate) identified: usize,
    pub(crate) units_held: usize,
    pub(crate) mean_share: f64,
    pub(crate) mean_share_sd: f64,
    pub(crate) mean_unit_sd: f64,
}

pub(crate) fn heat_of(truth: HeatFleet, repetitions: u64) -> HeatFound {
    let one = |repetition: u64| {
        let mut dice = Dice(repetition * 31 + 1);
        let shares: Vec<f64> = (0..truth.units)
            .map(|_| (truth.mean + truth.between * dice.normal()).clamp(0.185, 0.39))
            .collect();
        let trials: Vec<Vec<heat::Trial>> = shares
            .iter()
            .zip(0..)
            .map(|(share, unit)| {
                let seed = repetition * 1000 + unit * 77 + 3;
                heat::unit(seed, *share, MaterialClass::Pvc, truth.trials, truth.weather)
            })
            .collect();
        (Surface::fit(&histories(&entries(&trials)), &ChartSettings::default()), shares)
    };
    let mut found = HeatFound::default();
    for (fit, shares) in on_two_threads(repetitions, &one) {
        let class = fit.classes[0];
        found.fleets += 1;
        found.fitted += usize::from(class.basis == Basis::Fitted);
        found.classes_held += usize::from((class.mean.low..=class.mean.high).contains(&truth.mean));
        found.mean_share += class.mean.mean / repetitions as f64;
        found.mean_share_sd += class.mean.sd / repetitions as f64;
        for (unit, share) in fit.units.iter().zip(&shares) {
            found.units += 1;
            found.identified += usize::from(unit.identified);
            found.units_held += usize::from((unit.estimate.low..=unit.estimate.high).contains(share));
            found.mean_unit_sd += unit.estimate.sd / (repetitions * truth.units) as f64;
        }
    }
    found
}

pub(crate) fn entries(units: &[Vec<heat::Trial>]) -> Vec<Vec<HistoryEntry<'_>>> {
    units.iter().map(|trials| heat::entries(trials)).collect()
}

/// One history for each unit, without service.
pub(crate) fn histories<'a>(entries: &'a [Vec<HistoryEntry<'a>>]) -> Vec<UnitHistory<'a>> {
    let of = |(history, unit): (&'a Vec<HistoryEntry<'a>>, u128)| UnitHistory {
        unit: Uuid::from_u128(unit),
        history,
        resets: &[],
    };
    entries.iter().zip(1..).map(of).collect()
}

fn on_two_threads<T: Send>(count: u64, one: &(impl Fn(u64) -> T + Sync)) -> Vec<T> {
    thread::scope(|scope| {
        let other = scope.spawn(|| (count / 2..count).map(one).collect::<Vec<_>>());
        let mut all: Vec<T> = (0..count / 2).map(one).collect();
        all.extend(other.join().expect("no panic"));
        all
    })
}
