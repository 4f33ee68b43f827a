//! Prints the tables of `simulation.md`: coverage of intervals, and what trials cost and find.
//!
//! Not a measurement of time: `cargo bench --profile dev -p lapwatch-domain --bench simulation`.

#[path = "../tests/simulation/crew.rs"]
mod crew;
#[path = "../tests/simulation/measure.rs"]
mod measure;
#[path = "../tests/simulation/roof.rs"]
mod roof;

use crew::{FIFTY_F, HUNDRED_F, Habit};
use measure::{
    PRIOR_SIGMA_K, PROMISED_FACTOR, Yield, coverage, cross_check_distances, default_step_up_k,
    promised_sigma, yields,
};

const COVERAGE_TRIALS: usize = 4000;
const SWEEPS: usize = 2000;
const ASKING_TRIALS: usize = 200;

fn main() {
    coverage_table();
    bounds_table();
    cross_check_table();
    for sigma_k in
        [PRIOR_SIGMA_K / PROMISED_FACTOR, 25.0 / 1.8, PRIOR_SIGMA_K, PRIOR_SIGMA_K * PROMISED_FACTOR]
    {
        for rho in [0.2, 0.5, 0.9] {
            yields_table(sigma_k, rho);
        }
    }
}

/// Coverage of 95 % intervals of bracketed edges by step, correlation and scatter.
fn coverage_table() {
    println!("| step, K | ρ | σ within ×/÷1.5 of 17 K | 8 K | 11.3 K | 17 K | 25.5 K | 28 K |");
    println!("| --- | --- | --- | --- | --- | --- | --- | --- |");
    for step_k in [20.0, FIFTY_F, 40.0, HUNDRED_F] {
        for rho in [0.0, 0.2, 0.5, 0.7, 0.9] {
            let average = coverage(COVERAGE_TRIALS, (step_k, rho), promised_sigma, 1).percent();
            let at = |sigma: f64| {
                format!(
                    "{:.1}",
                    coverage(COVERAGE_TRIALS, (step_k, rho), |_| sigma, sigma.to_bits()).percent()
                )
            };
            let cells = [8.0, 17.0 / 1.5, 17.0, 17.0 * 1.5, 28.0].map(at).join(" | ");
            println!("| {step_k:.1} | {rho} | {average:.1} | {cells} |");
        }
    }
}

/// How often an open edge gets a bound that is false: promised for at most 5 % of all edges, whatever the edge.
fn bounds_table() {
    println!(
        "\n| step, K | ρ | open edges in {SWEEPS} sweeps of σ 28 K | edges with a false bound, % of all |"
    );
    println!("| --- | --- | --- | --- |");
    for step_k in [FIFTY_F, HUNDRED_F] {
        for rho in [0.2, 0.5, 0.9] {
            let found = coverage(SWEEPS, (step_k, rho), |_| 28.0, 5);
            let false_bounds = 100.0 * (found.bounds - found.bounds_holding) as f64 / (2 * SWEEPS) as f64;
            println!("| {step_k:.1} | {rho} | {} | {false_bounds:.1} |", found.bounds);
        }
    }
}

/// How far the cross-check lies from the posterior mean.
fn cross_check_table() {
    println!(
        "\n| step, K | ρ | cross-check from posterior mean, in its sd: half of the edges | 95 % | 99 % | 99.7 % |"
    );
    println!("| --- | --- | --- | --- | --- | --- |");
    for step_k in [20.0, FIFTY_F, HUNDRED_F] {
        for rho in [0.2, 0.5, 0.9] {
            let found = cross_check_distances(SWEEPS, (step_k, rho), promised_sigma, 5);
            let below = |share: f64| format!("{:.2}", found[((found.len() - 1) as f64 * share) as usize]);
            println!("| {step_k:.1} | {rho} | {} |", [0.5, 0.95, 0.99, 0.997].map(below).join(" | "));
        }
    }
}

/// What habits cost and find on roofs of one scatter and correlation.
fn yields_table(sigma_k: f64, rho: f64) {
    println!("\nσ {sigma_k:.1} K, ρ {rho}\n");
    println!(
        "| how | coupons | of them scorched | RMSE lower, K | upper, K | pooled, K | coupons ÷ those of a sweep with the same pooled RMSE | set point in % | strips failing at it, % |"
    );
    println!("| --- | --- | --- | --- | --- | --- | --- | --- | --- |");
    let sweeps: Vec<(f64, Yield)> = [14.0, 20.0, FIFTY_F, 40.0, HUNDRED_F, 75.0]
        .into_iter()
        .map(|step_k| (step_k, yields(SWEEPS, Habit::Sweep { step_k }, (sigma_k, rho), 11)))
        .collect();
    for (step_k, found) in &sweeps {
        row(&format!("sweep, steps of {step_k:.1} K"), found, None);
    }
    let limited = default_step_up_k();
    let habits = [
        ("asks, new unit", Habit::Asks { largest_step_up_k: limited }),
        ("asks, new unit, no limit on the step up", Habit::Asks { largest_step_up_k: 1000.0 }),
        ("asks, from the set point in use", Habit::AsksFromSetPoint { largest_step_up_k: limited }),
    ];
    for (name, habit) in habits {
        let found = yields(ASKING_TRIALS, habit, (sigma_k, rho), 12);
        row(name, &found, sweep_coupons_for(&sweeps, found.pooled_rmse_k()));
    }
}

fn row(name: &str, found: &Yield, sweep_coupons: Option<f64>) {
    let ratio =
        sweep_coupons.map_or_else(|| "–".to_owned(), |coupons| format!("{:.2}", found.coupons / coupons));
    println!(
        "| {name} | {:.1} | {:.1} | {:.1} | {:.1} | {:.1} | {ratio} | {:.0} | {:.2} |",
        found.coupons,
        found.scorched_coupons,
        found.lower_rmse_k,
        found.upper_rmse_k,
        found.pooled_rmse_k(),
        100.0 * found.with_set_point,
        found.failing_percent,
    );
}

/// How many coupons a sweep takes to this pooled error, between sweeps of different steps, on logarithmic scales.
fn sweep_coupons_for(sweeps: &[(f64, Yield)], rmse_k: f64) -> Option<f64> {
    sweeps.windows(2).find_map(|pair| {
        let [(fine, coarse)] = [(&pair[0].1, &pair[1].1)];
        let (from, to) = (fine.pooled_rmse_k().ln(), coarse.pooled_rmse_k().ln());
        let share = (rmse_k.ln() - from) / (to - from);
        let coupons = fine.coupons.ln() + share * (coarse.coupons.ln() - fine.coupons.ln());
        (0.0..=1.0).contains(&share).then(|| coupons.exp())
    })
}
