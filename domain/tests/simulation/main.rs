//! Simulated roofs with known edges: do intervals hold what they promise, and is a trial that asks what to weld next worth
//! its coupons?
//!
//! A short version of `cargo bench -p lapwatch-domain --bench simulation`, whose tables are `benches/simulation.md`. Every
//! number is seeded.

mod crew;
mod measure;
mod roof;
mod speeds;

use crew::{FIFTY_F, HUNDRED_F, Habit};
use lapwatch_domain::edges::DISAGREEMENT_SD;
use lapwatch_domain::heat::HeatShare;
use measure::{
    PRIOR_SIGMA_K, PROMISED_FACTOR, coverage, cross_check_distances, default_step_up_k, promised_sigma,
    yields,
};

/// With the correlation that the model assumes: 93 to 98 % over scatters within a factor of 1.5 of the prior's median, and at
/// least 91 % at either end. With other correlations see the table; at 0.9 the promise does not hold.
#[test]
fn intervals_cover_what_they_promise() {
    for (seed, step_k) in [20.0, FIFTY_F, 40.0, HUNDRED_F].into_iter().enumerate() {
        let seed = 100 * seed as u64;
        let average = coverage(1500, (step_k, 0.5), promised_sigma, seed).percent();
        let tight = coverage(1000, (step_k, 0.5), |_| PRIOR_SIGMA_K / PROMISED_FACTOR, seed + 1).percent();
        let wide = coverage(1000, (step_k, 0.5), |_| PRIOR_SIGMA_K * PROMISED_FACTOR, seed + 2).percent();
        println!("steps of {step_k:.1} K: {average:.1} %, {tight:.1} and {wide:.1} % at the ends");
        assert!((93.0..=98.0).contains(&average), "steps of {step_k:.1} K: {average:.1} %");
        assert!(tight.min(wide) >= 91.0, "steps of {step_k:.1} K: {tight:.1} and {wide:.1} %");
    }
}

/// The heat share is not known when speeds are brought to one, and that is not in the intervals. Over units as they occur
/// they hold what they promise all the same; for the one that takes up most heat of all they do not.
#[test]
fn stepping_the_speed_keeps_what_intervals_promise() {
    let usual = speeds::coverage(700, |_| HeatShare::USUAL, 11).percent();
    let units = speeds::coverage(700, speeds::any_share, 12).percent();
    let least = speeds::coverage(500, |_| HeatShare::LOWEST, 13).percent();
    let most = speeds::coverage(500, |_| HeatShare::HIGHEST, 14).percent();
    println!("usual share {usual:.1} %, units as they occur {units:.1} %, ends {least:.1} and {most:.1} %");
    assert!((93.0..=98.0).contains(&usual) && (93.0..=98.0).contains(&units), "{usual:.1} and {units:.1} %");
    assert!(least >= 93.0 && most >= 84.0, "{least:.1} and {most:.1} %");
}

/// The plan with its safety limits saves coupons against a 50 °F sweep; its pooled error is at most a fifth larger. How it
/// compares at equal error is in the table.
#[test]
fn asking_saves_coupons() {
    let at = (25.0 / 1.8, 0.5);
    let sweep = yields(300, Habit::Sweep { step_k: FIFTY_F }, at, 7);
    let asking = yields(80, Habit::Asks { largest_step_up_k: default_step_up_k() }, at, 7);
    println!("{sweep:.2?}\n{asking:.2?}");
    assert!(asking.coupons <= 0.92 * sweep.coupons, "{} for {}", asking.coupons, sweep.coupons);
    assert!(asking.pooled_rmse_k() <= 1.2 * sweep.pooled_rmse_k());
    let known = yields(80, Habit::AsksFromSetPoint { largest_step_up_k: default_step_up_k() }, at, 7);
    println!("{known:.2?}");
    for found in [asking, known] {
        assert!(found.with_set_point >= 0.97, "{}", found.with_set_point);
        assert!(found.failing_percent <= 2.0, "{} % of strips fail", found.failing_percent);
    }
}

/// On roofs that behave as the model assumes, the cross-check contradicts at most one edge in a hundred.
#[test]
fn the_cross_check_seldom_contradicts() {
    for step_k in [20.0, FIFTY_F, HUNDRED_F] {
        let distances = cross_check_distances(600, (step_k, 0.5), promised_sigma, 5);
        let contradicted = distances.iter().filter(|distance| **distance > DISAGREEMENT_SD).count();
        println!("steps of {step_k:.1} K: {contradicted} of {} edges", distances.len());
        assert!(100 * contradicted <= distances.len(), "{contradicted} of {}", distances.len());
    }
}
