//! Simulated fleets: do the fits find what is true, and do their intervals hold it?
//!
//! Every number is seeded. Larger tables are in `benches/fleet.md`.

mod heat;
mod laws;
mod measure;
mod strips;

use heat::{INDOORS, SEASONS};
use lapwatch_domain::drift::ChartSettings;
use lapwatch_domain::edges::{EdgePrior, Observation};
use lapwatch_domain::fleet::{Basis, RatioEstimate, Spread, Surface, TrialSteps};
use lapwatch_domain::heat::HeatShare;
use lapwatch_domain::membrane::MaterialClass;
use lapwatch_domain::quantity::{Quantity, Temperature, TemperatureUnit};
use lapwatch_domain::trial::Purpose;
use measure::{FINE_SWEEPS, Found, HeatFleet, MIXED_SWEEPS, Truth, heat_of, kelvin, spread_of};
use strips::{Dice, Habit};
use uuid::Uuid;

/// Twelve units with eight sweeps each: 192 edges.
const UNITS: u128 = 12;
const SWEEPS: usize = 8;
const REPETITIONS: u64 = 4;

/// Expected are 19 of 20 in a 95 % interval; fewer than 16 come about three times in a thousand.
const LEAST_OF_20: usize = 16;

#[test]
fn correlation_and_scatter_are_found() {
    let truths = [(0.2, 17.0), (0.5, 17.0), (0.8, 17.0), (0.5, 10.0), (0.5, 28.0)];
    let mut all = Found::default();
    for (rho, sigma_k) in truths {
        let truth = Truth { rho, sigma_k, ln_spread: 0.0 };
        // Where strips scatter little, only small steps tell how alike those of a coupon are.
        let habits = if sigma_k < 17.0 { FINE_SWEEPS } else { MIXED_SWEEPS };
        let found = spread_of(truth, UNITS, SWEEPS, &habits, REPETITIONS);
        println!("{truth:?}: {found:?}");
        assert_eq!(found.fitted, found.fleets);
        // A fit allows for a population of scatters where here is only one, and what it gives to that it takes from σ
        // and ρ: up to a standard deviation (`benches/fleet.md`). The mean of four fleets has half of one of its own.
        assert!((found.mean_rho - rho).abs() < 1.75 * found.mean_rho_sd, "{truth:?}: {found:?}");
        let off = (found.mean_sigma_k / sigma_k).ln().abs();
        assert!(off < 1.75 * found.mean_ln_sigma_sd, "{truth:?}: {found:?}");
        all.rho_held += found.rho_held;
        all.sigma_held += found.sigma_held;
    }
    assert!(all.rho_held >= LEAST_OF_20 && all.sigma_held >= LEAST_OF_20, "{all:?}");
}

/// Stopping at the first scorched strip, or welding the same long row of steps whatever it shows, or making checks in
/// between: none of it is taken for scatter or for alikeness.
#[test]
fn how_a_crew_searches_does_not_matter() {
    let truth = Truth { rho: 0.5, sigma_k: 17.0, ln_spread: 0.0 };
    let check = Habit::Check(40.0);
    let mut held = (0, 0);
    for habits in
        [[Habit::Careful(20.0), check], [Habit::Fixed(350.0, 25.0, 11), check], [Habit::Sweep(20.0), check]]
    {
        let found = spread_of(truth, UNITS, 2 * SWEEPS, &habits, 3);
        println!("{habits:?}: {found:?}");
        assert!(found.mean_edges <= 2.0 * UNITS as f64 * SWEEPS as f64, "no edge of a check counts");
        assert_eq!(found.fitted, found.fleets);
        held = (held.0 + found.rho_held, held.1 + found.sigma_held);
    }
    // Expected are 8.5 of 9.
    assert!(held.0 >= 7 && held.1 >= 7, "{held:?}");
}

#[test]
fn a_population_of_scatters_is_told_from_a_single_one() {
    let of = |ln_spread| {
        let truth = Truth { rho: 0.5, sigma_k: 17.0, ln_spread };
        spread_of(truth, UNITS, SWEEPS, &MIXED_SWEEPS, 3)
    };
    let (single, many) = (of(0.0), of(0.6));
    assert!(many.mean_spread > 0.4 && single.mean_spread < many.mean_spread - 0.2, "{single:?} {many:?}");
    assert!(many.spread_held >= 2 && many.rho_held >= 2, "{many:?}");
}

/// Strips of coupons exactly at the edge tell ρ without any model of μ or σ: two 0/1 variables that are 1 where normal
/// ones of correlation ρ exceed their median are correlated by (2/π)·asin ρ (Sheppard 1899), and the analysis of
/// variance estimates that correlation (Ridout, Demétrio and Firth, *Estimating intraclass correlation for binary
/// data*, Biometrics 55, 1999).
#[test]
fn the_correlation_agrees_with_an_analysis_of_variance() {
    let (rho, edge, coupons) = (0.6_f64, 420.0, 300);
    let mut dice = Dice(7);
    let mut at_edge = Vec::new();
    let trials: Vec<Vec<Observation>> = (0..coupons)
        .map(|_| {
            let mut weld = |setting: f64| {
                let shared = dice.normal();
                let mut turn = || edge + 17.0 * (rho.sqrt() * shared + (1.0 - rho).sqrt() * dice.normal());
                let cold = [turn(), turn(), turn()].iter().filter(|turn| setting < **turn).count();
                let temperature = Temperature::new(setting, TemperatureUnit::Celsius).unwrap();
                Observation { temperature, cold, sound: 3 - cold, hot: 0 }
            };
            let steps: Vec<Observation> =
                (-3..=3).map(|place| weld(edge + 20.0 * f64::from(place))).collect();
            at_edge.push(3.0 - steps[3].cold as f64);
            steps
        })
        .collect();
    let steps = trials.iter().enumerate().map(|(index, steps)| TrialSteps {
        unit: Uuid::from_u128(index as u128 % 5),
        purpose: Purpose::Sweep,
        steps,
    });
    let found = Spread::fit(steps).correlation.estimate;
    let (groups, size) = (coupons as f64, 3.0);
    let mean = at_edge.iter().sum::<f64>() / (groups * size);
    let between: f64 = at_edge.iter().map(|k| size * (k / size - mean).powi(2)).sum::<f64>() / (groups - 1.0);
    let within: f64 = at_edge.iter().map(|k| k - k * k / size).sum::<f64>() / (groups * (size - 1.0));
    let agreement = (between - within) / (between + (size - 1.0) * within);
    let by_variance = (std::f64::consts::FRAC_PI_2 * agreement).sin();
    // One coupon in seven of a trial against all: the standard error of the analysis of variance is about .06.
    assert!((by_variance - rho).abs() < 0.15, "{by_variance}");
    assert!((found.mean - by_variance).abs() < 0.15 && (found.mean - rho).abs() < 0.08, "{found:?}");
}

#[test]
fn heat_shares_are_found() {
    let (mut units, mut units_held, mut classes_held) = (0, 0, 0);
    for mean in [0.20, 0.27, 0.35] {
        let fleet = HeatFleet { mean, between: 0.01, units: 5, trials: 80, weather: SEASONS };
        let found = heat_of(fleet, 4);
        println!("{mean}: {found:?}");
        assert_eq!((found.fitted, found.identified), (found.fleets, found.units));
        assert!((found.mean_share - mean).abs() < 0.02, "{mean}: {found:?}");
        units += found.units;
        units_held += found.units_held;
        classes_held += found.classes_held;
    }
    // Expected are 57 of 60 units and 11.4 of 12 classes.
    assert!(units == 60 && units_held >= 51, "{units_held} of {units}");
    assert!(classes_held >= 9, "{classes_held} of 12");
}

/// Where the sheet is always as warm, nothing tells φ, however many trials there are.
#[test]
fn the_same_sheet_every_day_tells_nothing() {
    let trials: Vec<_> =
        (0..4).map(|unit| heat::unit(unit * 5 + 1, 0.35, MaterialClass::Tpo, 60, INDOORS)).collect();
    let fit = Surface::fit(&measure::histories(&measure::entries(&trials)), &ChartSettings::default());
    assert_eq!((fit.classes[0].basis, fit.classes[0].identified), (Basis::Vague, 0));
    for unit in &fit.units {
        assert!(unit.narrowing > 0.85 && !unit.identified, "{unit:?}");
        assert_eq!((unit.estimate.mean, unit.estimate.sd), (HeatShare::USUAL, 0.04));
    }
    assert_eq!(fit.heat_shares(MaterialClass::Tpo), ChartSettings::default().heat_shares);
}

#[test]
fn small_fleets_keep_the_usual_values_exactly() {
    let truth = Truth { rho: 0.8, sigma_k: 28.0, ln_spread: 0.0 };
    let usual = EdgePrior::default();
    // Many trials of two units, then few of many.
    for (units, trials, basis) in [(2, 60, Basis::FewUnits), (7, 2, Basis::FewTrials)] {
        let fleet = strips::fleet(3, truth, units, trials, &MIXED_SWEEPS);
        let found = Spread::fit(strips::steps_of(&fleet));
        assert_eq!((found.correlation.basis, found.scatter.basis), (basis, basis), "{:?}", found.evidence);
        assert_eq!(found.edge_prior(), usual);
        let RatioEstimate { mean, low, high, .. } = found.correlation.estimate;
        assert!(mean == usual.correlation && low < 0.2 && high > 0.8);
        assert_eq!(found.scatter.median, usual.sigma_median);
        assert!(kelvin(found.scatter.median_low) < 10.0 && kelvin(found.scatter.median_high) > 30.0);
    }
    let two: Vec<_> = (0..2).map(|unit| heat::unit(unit, 0.22, MaterialClass::Pvc, 80, SEASONS)).collect();
    let fit = Surface::fit(&measure::histories(&measure::entries(&two)), &ChartSettings::default());
    assert_eq!((fit.classes[0].basis, fit.classes[0].identified), (Basis::FewUnits, 2));
    assert_eq!(fit.classes[0].mean.mean, HeatShare::USUAL);
    assert_eq!(fit.heat_shares(MaterialClass::Pvc), ChartSettings::default().heat_shares);
    // Each of the two tells by itself all the same.
    assert!(fit.units.iter().all(|unit| unit.identified && unit.estimate.mean < 0.25), "{:?}", fit.units);
}

/// Strips cut one to a coupon tell how much they scatter, but never how alike those of one coupon are.
#[test]
fn single_strips_leave_the_correlation_alone() {
    let mut fleet =
        strips::fleet(11, Truth { rho: 0.5, sigma_k: 17.0, ln_spread: 0.0 }, 6, 16, &[Habit::Sweep(20.0)]);
    for step in fleet.iter_mut().flat_map(|trial| &mut trial.steps) {
        // The first strip that can be: cold before sound before hot.
        let cold = usize::from(step.cold > 0);
        let sound = usize::from(cold == 0 && step.sound > 0);
        (step.cold, step.sound, step.hot) = (cold, sound, 1 - cold - sound);
    }
    let found = Spread::fit(strips::steps_of(&fleet));
    assert_eq!((found.evidence.coupons, found.evidence.mixed), (0, 0));
    assert_eq!((found.correlation.basis, found.scatter.basis), (Basis::FewTrials, Basis::Fitted));
    assert_eq!(found.edge_prior().correlation, EdgePrior::default().correlation);
}
