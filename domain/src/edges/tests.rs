//! Checks of the model against values recomputed independently with SciPy, and against exact ones.

use super::likelihood::CouponLikelihood;
use super::*;
use crate::numerics::normal;
use crate::numerics::quadrature::{Rule, gauss_legendre};
use crate::quantity::Temperature;

fn celsius(value: f64) -> Temperature {
    Temperature::from_celsius(value)
}

fn observation(temperature: f64, cold: usize, sound: usize, hot: usize) -> Observation {
    Observation { temperature: celsius(temperature), cold, sound, hot }
}

/// The worked example: 6 steps of 3 strips, cold at the bottom, hot at the top.
fn sweep() -> Vec<Observation> {
    vec![
        observation(380.0, 3, 0, 0),
        observation(420.0, 1, 2, 0),
        observation(460.0, 0, 3, 0),
        observation(500.0, 0, 3, 0),
        observation(540.0, 0, 1, 2),
        observation(580.0, 0, 0, 3),
    ]
}

/// One likelihood: `beyond` of `strips` at `temperature`, edge `mu`, scatter `sigma`, correlation `rho`.
fn likelihood(beyond: usize, strips: usize, temperature: f64, mu: f64, sigma: f64, rho: f64) -> f64 {
    CouponLikelihood::new(beyond, strips, rho).ln_at((temperature - mu) / sigma).exp()
}

#[test]
fn likelihood_of_one_coupon() {
    // The integral by 24,000 equally spaced points from -12 to 12 in Python, with the error function of the C library.
    let table = [
        (0, 3, 430.0, 450.0, 15.0, 0.798_323_269_9),
        (1, 3, 440.0, 450.0, 15.0, 0.249_489_415_6),
        (3, 3, 450.0, 450.0, 15.0, 0.25),
        (2, 3, 470.0, 450.0, 15.0, 0.143_090_572_9),
    ];
    for (beyond, strips, temperature, mu, sigma, value) in table {
        let computed = likelihood(beyond, strips, temperature, mu, sigma, 0.5);
        assert!((computed - value).abs() < 1e-8, "L({beyond}|{strips}) = {computed}, table {value}");
    }
}

#[test]
fn exact_orthants() {
    // Three exchangeable normal variables with correlation 1/2 are all positive with probability exactly 1/4.
    assert!((likelihood(3, 3, 450.0, 450.0, 15.0, 0.5) - 0.25).abs() < 2e-8);
    // The trivariate orthant at 20/22 standard deviations and correlation 0.9, by an exact multivariate routine.
    let steep = likelihood(3, 3, 470.0, 450.0, 22.0, 0.9);
    assert!((steep - 0.744_217).abs() < 1e-6, "{steep}");
}

#[test]
fn worked_sweep() {
    let evidence = stand_alone(&sweep(), celsius(620.0), &EdgePrior::default());
    // Recomputed independently with SciPy on the same grid.
    let expected = [
        (&evidence.lower, 413.635, 18.878, 370.0, 446.0, 420.0, 460.0),
        (&evidence.upper, 536.955, 17.465, 503.0, 574.0, 540.0, 500.0),
    ];
    for (edge, mean, sd, q025, q975, failing, clear) in expected {
        let estimate = edge.estimate.expect("bracketed");
        assert_eq!(edge.class, EdgeClass::Bracketed);
        assert!((estimate.mean.celsius() - mean).abs() < 6e-4, "{:?}", estimate);
        assert!((estimate.sd.kelvin() - sd).abs() < 6e-4, "{:?}", estimate);
        assert_eq!((estimate.q025.celsius(), estimate.q975.celsius()), (q025, q975));
        assert_eq!(edge.bracket, Bracket { failing: Some(celsius(failing)), clear: Some(celsius(clear)) });
        assert_eq!(edge.bound, None);
    }
    assert!(evidence.is_edge_finding());
}

#[test]
fn separated_edge() {
    let observations = [
        observation(400.0, 3, 0, 0),
        observation(440.0, 3, 0, 0),
        observation(480.0, 0, 3, 0),
        observation(520.0, 0, 3, 0),
    ];
    let lower = stand_alone(&observations, celsius(620.0), &EdgePrior::default()).lower;
    let estimate = lower.estimate.expect("bracketed");
    // Recomputed independently with SciPy on the same grid.
    assert!((estimate.mean.celsius() - 459.995).abs() < 6e-4, "{estimate:?}");
    assert!((estimate.sd.kelvin() - 15.690).abs() < 6e-4, "{estimate:?}");
    assert_eq!((estimate.q025.celsius(), estimate.q975.celsius()), (430.0, 490.0));
}

#[test]
fn bound_of_an_open_edge() {
    let observations = [460.0, 500.0, 540.0, 580.0].map(|temperature| observation(temperature, 0, 3, 0));
    let evidence = stand_alone(&observations, celsius(620.0), &EdgePrior::default());
    assert_eq!((evidence.lower.class, evidence.upper.class), (EdgeClass::OpenBelow, EdgeClass::OpenAbove));
    assert_eq!((evidence.lower.estimate, evidence.upper.estimate), (None, None));
    // Recomputed independently with SciPy.
    let bound = evidence.upper.bound.expect("open above");
    assert!((bound.celsius() - 568.998).abs() < 6e-4, "{bound:?}");
    // Mirrored about 520 °C the strips are the same.
    let mirrored = evidence.lower.bound.expect("open below");
    assert!((mirrored.celsius() - (1040.0 - bound.celsius())).abs() < 1e-4);
    assert!(!evidence.is_edge_finding());
}

/// A rule for the integral over the shared scatter.
fn shared_scatter() -> Rule {
    gauss_legendre(40, -7.0, 7.0)
}

/// The likelihood of one coupon by a plain integral over the scatter that its strips share, with nothing in common with
/// the tables but the definition.
fn likelihood_by_integration(rule: &Rule, beyond: i32, short: i32, x: f64, rho: f64) -> f64 {
    let choices = (1..=beyond).fold(1.0, |product, k| product * f64::from(short + k) / f64::from(k));
    let shared = |z: f64| {
        let a = (x - rho.sqrt() * z) / (1.0 - rho).sqrt();
        normal::pdf(z) * normal::cdf(a).powi(beyond) * normal::cdf(-a).powi(short)
    };
    choices * rule.sum(shared)
}

/// Posterior mean and standard deviation by continuous quadrature over the same ranges of μ and ln σ.
fn moments_by_integration(coupons: &[(f64, i32, i32)], top: f64) -> (f64, f64) {
    let scores = gauss_legendre(24, -2.5, 2.5);
    let edges = gauss_legendre(120, 250.0, top);
    let shared = shared_scatter();
    let (mut total, mut first, mut second) = (0.0, 0.0, 0.0);
    for (z, weight) in scores.points.iter().zip(&scores.weights) {
        let sigma = 17.0 * (0.9 * z).exp();
        for (mu, span) in edges.points.iter().zip(&edges.weights) {
            let product: f64 = coupons
                .iter()
                .map(|(t, beyond, short)| {
                    likelihood_by_integration(&shared, *beyond, *short, (t - mu) / sigma, 0.5)
                })
                .product();
            let share = weight * normal::pdf(*z) * span * product;
            total += share;
            first += share * mu;
            second += share * mu * mu;
        }
    }
    let mean = first / total;
    (mean, (second / total - mean * mean).sqrt())
}

#[test]
fn the_grid_agrees_with_continuous_quadrature() {
    let evidence = stand_alone(&sweep(), celsius(620.0), &EdgePrior::default());
    let lower = [(380.0, 0, 3), (420.0, 2, 1), (460.0, 3, 0), (500.0, 3, 0), (540.0, 3, 0), (580.0, 3, 0)];
    let upper = [(420.0, 0, 2), (460.0, 0, 3), (500.0, 0, 3), (540.0, 2, 1), (580.0, 3, 0)];
    for (edge, coupons, top) in [(&evidence.lower, &lower[..], 620.0), (&evidence.upper, &upper[..], 670.0)] {
        let estimate = edge.estimate.expect("bracketed");
        let (mean, sd) = moments_by_integration(coupons, top);
        assert!((estimate.mean.celsius() - mean).abs() < 0.1, "{estimate:?}, integrated {mean}");
        assert!((estimate.sd.kelvin() - sd).abs() < 0.3, "{estimate:?}, integrated {sd}");
    }
}

#[test]
fn tables_agree_with_integration_into_the_tails() {
    let shared = gauss_legendre(200, -13.0, 13.0);
    for strips in [1, 3, 7] {
        for beyond in 0..=strips {
            for x in [-8.0, -5.0, -2.5, -0.3, 0.0, 1.1, 4.0, 8.0] {
                let table = CouponLikelihood::new(beyond, strips, 0.5).ln_at(x);
                let exact =
                    likelihood_by_integration(&shared, beyond as i32, (strips - beyond) as i32, x, 0.5).ln();
                let error = (table - exact).abs() / exact.abs().max(1.0);
                assert!(error < 1e-7, "{beyond}/{strips} at {x}: {table}, integrated {exact}");
            }
        }
    }
}

/// One strip alone knows nothing of others: whatever the correlation, it is beyond with probability Φ(x), into the far tails.
#[test]
fn one_strip_is_a_normal_law() {
    for rho in [0.0, 0.2, 0.5, 0.8, 0.95] {
        for x in [-35.0, -20.0, -8.0, -1.0, 0.0, 3.0, 12.0] {
            let (found, exact) = (CouponLikelihood::new(1, 1, rho).ln_at(x), normal::ln_cdf(x));
            assert!(
                (found - exact).abs() < 1e-7 * exact.abs().max(1.0),
                "{rho}, {x}: {found}, exactly {exact}"
            );
        }
    }
}

#[test]
fn rows_of_a_table_are_the_same_numbers_as_its_points() {
    for (beyond, strips) in [(0, 3), (1, 3), (3, 3)] {
        let likelihood = CouponLikelihood::new(beyond, strips, 0.5);
        // From far outside the table through it and out again.
        let mut sums = vec![0.0; 400];
        likelihood.add_to(&mut sums, 50.0, -0.25);
        for (index, sum) in sums.iter().enumerate() {
            assert_eq!(*sum, likelihood.ln_at(50.0 - 0.25 * index as f64));
        }
    }
}

#[test]
fn a_profile_follows_the_posterior_and_survives_storage() {
    let lower = stand_alone(&sweep(), celsius(620.0), &EdgePrior::default()).lower;
    let profile = &lower.profile;
    assert_eq!(profile.len(), 93);
    let (mut total, mut moment) = (0.0, 0.0);
    for degree in 250..=620 {
        let weight = profile.ln_at(celsius(f64::from(degree))).exp();
        total += weight;
        moment += weight * f64::from(degree);
    }
    let mean = lower.estimate.expect("bracketed").mean.celsius();
    assert!((moment / total - mean).abs() < 0.05, "{} for {mean}", moment / total);
    assert_eq!(Profile::from_bytes(&profile.to_bytes()).as_ref(), Ok(profile));
    assert_eq!(Profile::from_bytes(&[0; 6]), Err(ProfileError::Torn { bytes: 6 }));
    assert_eq!(Profile::from_bytes(&[]), Err(ProfileError::Empty));
    assert_eq!(Profile::from_bytes(&f32::NAN.to_le_bytes()), Err(ProfileError::Value { index: 0 }));
}

#[test]
fn no_strips_give_flat_profiles() {
    let evidence = stand_alone(&[], celsius(620.0), &EdgePrior::default());
    for edge in [&evidence.lower, &evidence.upper] {
        assert_eq!((edge.class, edge.estimate, edge.bound), (EdgeClass::None, None, None));
        let flat = Profile::flat(edge.edge, celsius(620.0));
        assert_eq!(edge.profile.len(), flat.len());
        assert!(edge.profile.values().iter().all(|value| value.abs() < 1e-5));
    }
}

/// A floor under the likelihood would make these two trials look alike.
#[test]
fn a_contradiction_far_away_is_not_clipped() {
    let known = EdgePrior { ln_sigma_sd: 0.0, ..EdgePrior::default() };
    let mut observations = vec![observation(300.0, 0, 3, 0); 20];
    observations.push(observation(600.0, 3, 0, 0));
    let once = stand_alone(&observations, celsius(620.0), &known).lower.estimate.expect("bracketed");
    observations.push(observation(600.0, 3, 0, 0));
    let twice = stand_alone(&observations, celsius(620.0), &known).lower.estimate.expect("bracketed");
    // One coupon against twenty, then two: the balance of squared distances moves the edge by degrees.
    assert!(twice.mean.celsius() > once.mean.celsius() + 5.0, "{once:?} {twice:?}");
}

/// Sixty coupons that opened at the unit's highest setting put the edge beyond the grid: 80 natural logarithms beyond its
/// last degree. What lies out there must not make the grid negligible.
#[test]
fn an_edge_far_beyond_the_grid_is_answered_with_numbers() {
    let mut observations = vec![observation(620.0, 3, 0, 0); 60];
    observations.push(observation(400.0, 0, 3, 0));
    for maximum in 620..640 {
        let evidence = stand_alone(&observations, celsius(f64::from(maximum)), &EdgePrior::default());
        let estimate = evidence.lower.estimate.expect("bracketed");
        assert!(
            estimate.mean.celsius() > 600.0 && estimate.mean.celsius() <= f64::from(maximum),
            "{estimate:?}"
        );
        assert!(estimate.sd.kelvin() > 0.0 && estimate.sd.kelvin() < 20.0, "{estimate:?}");
        assert!(evidence.lower.profile.values().iter().all(|value| value.is_finite()));
    }
}

/// A scatter known almost exactly, and strips that contradict each other: the tails of the profile are those of a single row
/// of the grid.
#[test]
fn a_profile_is_finite_where_interpolation_falls_short_of_zero() {
    let prior = EdgePrior {
        sigma_median: TemperatureDifference::from_kelvin(59.665),
        ln_sigma_sd: 0.088,
        correlation: 0.9,
    };
    let observations = [observation(290.0, 0, 3, 0), observation(610.0, 1, 0, 1)];
    let evidence = stand_alone(&observations, celsius(827.5), &prior);
    for edge in [&evidence.lower, &evidence.upper] {
        assert!(edge.profile.values().iter().all(|value| value.is_finite() && *value <= 0.0), "{edge:?}");
    }
}

/// A cross-check that shares nothing with the posterior agrees on ordinary strips and says so of contradictory ones.
#[test]
fn the_cross_check_contradicts_contradictory_strips_only() {
    let evidence = stand_alone(&sweep(), celsius(620.0), &EdgePrior::default());
    assert_eq!(evidence.lower.contradiction(&sweep()), None);
    assert_eq!(evidence.upper.contradiction(&sweep()), None);
    let upside_down = [observation(400.0, 0, 0, 3), observation(450.0, 0, 3, 0), observation(500.0, 3, 0, 0)];
    let evidence = stand_alone(&upside_down, celsius(620.0), &EdgePrior::default());
    assert_eq!(evidence.lower.contradiction(&upside_down), Some(CrossCheck::WrongWay));
    assert_eq!(evidence.upper.contradiction(&upside_down), Some(CrossCheck::WrongWay));
    // Fewer than two steps say nothing of a slope.
    assert_eq!(cross_check(&[observation(430.0, 1, 2, 0)], Edge::Lower), None);
}

/// A trial whose strips contradict each other everywhere. One more cold strip moves its lower edge up; with the likelihood
/// summed over 21 Gauss–Hermite nodes it moved down by 4 mK (found among some hundred thousand random trials).
#[test]
fn a_cold_strip_moves_the_edge_up_in_the_wildest_trial() {
    let rows = [(550.0, 3, 3, 2), (430.0, 1, 0, 1), (490.0, 3, 0, 1), (500.0, 3, 0, 2), (310.0, 2, 1, 3)];
    let known = EdgePrior { ln_sigma_sd: 0.0, ..EdgePrior::default() };
    let mean = |cold, sound| {
        let trial: Vec<Observation> = rows.iter().map(|(t, c, s, h)| observation(*t, *c, *s, *h)).collect();
        let trial = [trial, vec![observation(330.0, cold, sound, 3)]].concat();
        stand_alone(&trial, celsius(620.0), &known).lower.estimate.expect("bracketed").mean
    };
    assert!(mean(4, 2) > mean(3, 3));
}
