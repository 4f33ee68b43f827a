//! Regression on counts against published examples.
//!
//! Where a number was printed to fewer digits than are checked, or comes from memory, it was computed again with statsmodels
//! or SciPy: `tests/tools/reference/published.py` prints all of them.

use lapwatch_domain::numerics::binomial::{
    Fit, FitError, Group, Link, Penalty, fieller, fit, half_point, half_point_profile_interval,
    profile_interval,
};

fn group(covariates: &[f64], successes: f64, trials: f64) -> Group {
    Group { covariates: covariates.to_vec(), successes, trials }
}

fn assert_close(found: &[f64], table: &[f64], tolerance: f64) {
    assert_eq!(found.len(), table.len());
    for (found, table) in found.iter().zip(table) {
        assert!((found - table).abs() <= tolerance, "{found}, table {table}");
    }
}

fn standard_errors(fit: &Fit) -> Vec<f64> {
    (0..fit.coefficients.len()).map(|index| fit.standard_error(index)).collect()
}

/// Beetles after five hours of carbon disulphide. Bliss, *The calculation of the dosage-mortality curve*, Annals of
/// Applied Biology 22, 1935.
fn beetles() -> Vec<Group> {
    let doses = [1.6907, 1.7242, 1.7552, 1.7842, 1.8113, 1.8369, 1.8610, 1.8839];
    let beetles = [59.0, 60.0, 62.0, 56.0, 63.0, 59.0, 62.0, 60.0];
    let killed = [6.0, 13.0, 18.0, 28.0, 52.0, 53.0, 61.0, 60.0];
    let all = doses.iter().zip(beetles).zip(killed);
    all.map(|((dose, beetles), killed)| group(&[1.0, *dose], killed, beetles)).collect()
}

/// Logit fit as in Dobson, *An Introduction to Generalized Linear Models*: −60.72 (5.18), 34.27 (2.91), deviance 11.23.
#[test]
fn beetles_by_logit() {
    let found = fit(&beetles(), Link::Logit, Penalty::None).unwrap();
    assert_close(&found.coefficients, &[-60.7175, 34.2703], 5e-5);
    assert_close(&standard_errors(&found), &[5.1807, 2.9121], 5e-5);
    assert_close(&[found.deviance], &[11.2322], 5e-5);
    assert_close(&[half_point(&found)], &[1.771721], 5e-7);
    let (low, high) = fieller(&found, 0.95).unwrap();
    assert_close(&[low, high], &[1.763858, 1.779200], 5e-7);
}

#[test]
fn beetles_by_probit() {
    let found = fit(&beetles(), Link::Probit, Penalty::None).unwrap();
    assert_close(&found.coefficients, &[-34.9353, 19.7279], 5e-5);
    assert_close(&standard_errors(&found), &[2.6479, 1.4872], 5e-5);
    assert_close(&[half_point(&found), found.deviance], &[1.770852, 10.119758], 5e-7);
}

/// With this many beetles Fieller's interval and that by profile likelihood are nearly the same.
#[test]
fn profile_and_fieller_agree_on_beetles() {
    let found = fit(&beetles(), Link::Logit, Penalty::None).unwrap();
    let (fieller_low, fieller_high) = fieller(&found, 0.95).unwrap();
    let (low, high) = half_point_profile_interval(&beetles(), (Link::Logit, Penalty::None), 0.95).unwrap();
    assert_close(&[low, high], &[fieller_low, fieller_high], 2e-4);
}

/// Tobacco budworms, twenty at each dose of a pyrethroid. Collett, *Modelling Binary Data*, 1991; fitted in Venables and
/// Ripley, *Modern Applied Statistics with S*, 4th edition, 7.2: −3.473 (0.469), −2.372 (0.386), 1.064 (0.131), deviance
/// 6.757; half of the females die at 2^3.264 µg.
#[test]
fn budworms() {
    let of = |sex: [f64; 2], dead: [f64; 6]| {
        let doses = dead.into_iter().enumerate();
        doses.map(move |(dose, dead)| group(&[sex[0], sex[1], dose as f64], dead, 20.0))
    };
    let males = of([0.0, 1.0], [1.0, 4.0, 9.0, 13.0, 18.0, 20.0]);
    let females = of([1.0, 0.0], [0.0, 2.0, 6.0, 10.0, 12.0, 16.0]);
    let found = fit(&males.chain(females).collect::<Vec<_>>(), Link::Logit, Penalty::None).unwrap();
    assert_close(&found.coefficients, &[-3.473155, -2.372412, 1.064214], 5e-7);
    assert_close(&standard_errors(&found), &[0.468520, 0.385511, 0.131077], 5e-6);
    assert_close(&[found.deviance], &[6.757064], 5e-7);
    assert_close(&[-found.coefficients[0] / found.coefficients[2]], &[3.264], 5e-4);
}

fn rows(text: &str) -> Vec<Vec<f64>> {
    let numbers = |line: &str| line.split(',').map(|field| field.parse().expect("a number")).collect();
    text.lines().skip(1).map(numbers).collect()
}

/// Vasoconstriction after a breath. Finney, *The estimation from individual records of the relationship between dose and
/// quantal response*, Biometrika 34, 1947; fitted in Pregibon, *Logistic regression diagnostics*, Annals of Statistics 9,
/// 1981: −2.875, 5.179, 4.562, deviance 29.23 (data and numbers from memory, computed again).
#[test]
fn vasoconstriction() {
    let groups: Vec<Group> = rows(include_str!("vasoconstriction.csv"))
        .iter()
        .map(|row| group(&[1.0, row[0].ln(), row[1].ln()], row[2], 1.0))
        .collect();
    let found = fit(&groups, Link::Logit, Penalty::None).unwrap();
    assert_close(&found.coefficients, &[-2.875422, 5.179324, 4.561675], 5e-6);
    assert_close(&[found.deviance], &[29.227375], 5e-6);
    // By SciPy's optimizer and root finder, not published.
    let (low, high) = profile_interval(&groups, (Link::Logit, Penalty::None), 1, 0.95).unwrap();
    assert_close(&[low, high], &[2.29271, 9.85274], 5e-4);
}

/// Endometrial cancer: every patient with neovasculization had a high grade, so that its coefficient has no estimate without
/// a penalty. Heinze and Schemper, *A solution to the problem of separation in logistic regression*, Statistics in
/// Medicine 21, 2002; data as in Agresti, *Foundations of Linear and Generalized Linear Models*, 2015. Firth's estimates
/// 3.775, 2.929, −0.035, −2.604 and the interval 0.61 to 7.85 by penalized profile likelihood.
#[test]
fn endometrial_cancer() {
    let groups: Vec<Group> = rows(include_str!("endometrial.csv"))
        .iter()
        .map(|row| group(&[1.0, row[0], row[1], row[2]], row[3], 1.0))
        .collect();
    assert_eq!(fit(&groups, Link::Logit, Penalty::None), Err(FitError::Unsettled));
    let found = fit(&groups, Link::Logit, Penalty::Jeffreys).unwrap();
    assert_close(&found.coefficients, &[3.774560, 2.929273, -0.034752, -2.604164], 5e-6);
    let (low, high) = profile_interval(&groups, (Link::Logit, Penalty::Jeffreys), 1, 0.95).unwrap();
    assert_close(&[low, high], &[0.60972, 7.85463], 5e-5);
}

/// Firth, *Bias reduction of maximum likelihood estimates*, Biometrika 80, 1993: for one binomial count the penalty adds half a
/// success and half a failure.
#[test]
fn one_count_gains_two_halves() {
    for (successes, trials) in [(0.0, 3.0), (3.0, 3.0), (2.0, 7.0)] {
        let found = fit(&[group(&[1.0], successes, trials)], Link::Logit, Penalty::Jeffreys).unwrap();
        let share: f64 = (successes + 0.5) / (trials + 1.0);
        assert_close(&found.coefficients, &[(share / (1.0 - share)).ln()], 1e-9);
    }
}
