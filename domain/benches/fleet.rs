//! Prints the tables of `fleet.md`: what fits find in fleets whose truth is known, what their intervals hold, what they
//! cost.
//!
//! `cargo bench --profile dev -p lapwatch-domain --bench fleet`.

#[path = "../tests/fleet/heat.rs"]
mod heat;
#[path = "../tests/fleet/measure.rs"]
mod measure;
#[path = "../tests/fleet/strips.rs"]
mod strips;

use std::time::Instant;

use heat::{INDOORS, SEASONS};
use lapwatch_domain::drift::ChartSettings;
use lapwatch_domain::fleet::{Spread, Surface};
use lapwatch_domain::membrane::MaterialClass;
use measure::{FINE_SWEEPS, HeatFleet, MIXED_SWEEPS, Truth, entries, heat_of, histories, spread_of};
use strips::Habit;

const SPREAD_FLEETS: u64 = 30;
const HEAT_FLEETS: u64 = 40;

fn main() {
    spread_tables();
    heat_table();
    costs();
}

fn spread_tables() {
    let truths = [
        (0.2, 17.0, 0.0),
        (0.5, 17.0, 0.0),
        (0.8, 17.0, 0.0),
        (0.5, 10.0, 0.0),
        (0.5, 28.0, 0.0),
        (0.5, 17.0, 0.3),
        (0.8, 28.0, 0.5),
    ];
    let crews: [(&str, &[Habit]); 6] = [
        ("sweeps in steps of 10, 15, 25 K", &FINE_SWEEPS),
        ("sweeps in steps of 20, 30, 50 K", &MIXED_SWEEPS),
        ("to the first scorched strip, 30 K", &[Habit::Careful(30.0)]),
        ("sweeps of 40 K, checks at ±40 K in between", &[Habit::Sweep(40.0), Habit::Check(40.0)]),
        ("fixed 350 to 600 °C, 50 K", &[Habit::Fixed(350.0, 50.0, 6)]),
        ("fixed 400 to 520 °C, 40 K", &[Habit::Fixed(400.0, 40.0, 4)]),
    ];
    println!(
        "| crew | ρ | σ, K | spread | edges | ρ found | its sd | held, % | σ found, K | sd of ln | held, % | spread \
         found | held, % | fitted, % |"
    );
    println!("| --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- |");
    for (name, habits) in crews {
        for (rho, sigma_k, ln_spread) in truths {
            let found = spread_of(Truth { rho, sigma_k, ln_spread }, 12, 8, habits, SPREAD_FLEETS);
            let percent = |held: usize| 100.0 * held as f64 / found.fleets as f64;
            println!(
                "| {name} | {rho} | {sigma_k} | {ln_spread} | {:.0} | {:.3} | {:.3} | {:.0} | {:.1} | {:.3} | {:.0} | \
                 {:.2} | {} | {:.0} |",
                found.mean_edges,
                found.mean_rho,
                found.mean_rho_sd,
                percent(found.rho_held),
                found.mean_sigma_k,
                found.mean_ln_sigma_sd,
                percent(found.sigma_held),
                found.mean_spread,
                spread_held(ln_spread, percent(found.spread_held)),
                percent(found.fitted),
            );
        }
    }
}

/// A spread of less than .1 is not among those that a fit considers.
fn spread_held(ln_spread: f64, percent: f64) -> String {
    if ln_spread < 0.1 { "–".to_owned() } else { format!("{percent:.0}") }
}

fn heat_table() {
    println!(
        "\n| φ | between units | units | trials a year | found | its sd | held, % | told by themselves, % | sd of a \
         unit | units held, % | fitted, % |"
    );
    println!("| --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- |");
    for (mean, between, units, trials, weather) in [
        (0.20, 0.01, 5, 80, SEASONS),
        (0.27, 0.01, 5, 80, SEASONS),
        (0.35, 0.01, 5, 80, SEASONS),
        (0.27, 0.03, 10, 80, SEASONS),
        (0.27, 0.02, 10, 20, SEASONS),
        (0.27, 0.02, 10, 230, SEASONS),
        (0.35, 0.02, 10, 80, INDOORS),
    ] {
        let found = heat_of(HeatFleet { mean, between, units, trials, weather }, HEAT_FLEETS);
        let percent = |part: usize, whole: usize| 100.0 * part as f64 / whole as f64;
        println!(
            "| {mean} | {between} | {units} | {trials} | {:.3} | {:.3} | {:.0} | {:.0} | {:.3} | {:.0} | {:.0} |",
            found.mean_share,
            found.mean_share_sd,
            percent(found.classes_held, found.fleets),
            percent(found.identified, found.units),
            found.mean_unit_sd,
            percent(found.units_held, found.units),
            percent(found.fitted, found.fleets),
        );
    }
}

fn costs() {
    println!("\n| fit | trials | seconds |\n| --- | --- | --- |");
    let truth = Truth { rho: 0.5, sigma_k: 17.0, ln_spread: 0.3 };
    for (name, habit) in [("sweeps of 40 K", Habit::Sweep(40.0)), ("sweeps of 20 K", Habit::Sweep(20.0))] {
        for units in [10, 100] {
            let fleet = strips::fleet(1, truth, units, 40, &[habit]);
            let start = Instant::now();
            let fit = Spread::fit(strips::steps_of(&fleet));
            println!("| spread, {name} | {} | {:.2} |", fit.evidence.trials, start.elapsed().as_secs_f64());
        }
    }
    let trials: Vec<_> =
        (0..20).map(|unit| heat::unit(unit, 0.27, MaterialClass::Pvc, 230, SEASONS)).collect();
    let entries = entries(&trials);
    let start = Instant::now();
    let fit = Surface::fit(&histories(&entries), &ChartSettings::default());
    let count: usize = fit.units.iter().map(|unit| unit.trials).sum();
    println!("| surface, 20 units | {count} | {:.2} |", start.elapsed().as_secs_f64());
}
