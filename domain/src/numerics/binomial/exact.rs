//! Exact limits of a share from a count of successes.

use thiserror::Error;

use super::beta;

/// Why there are no limits.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Error)]
#[non_exhaustive]
pub enum CountError {
    /// More successes than trials.
    #[error("there cannot be more successes than trials")]
    MoreSuccessesThanTrials,
    /// The level of confidence is not between 0 and 1.
    #[error("the level of confidence must lie between 0 and 1, both excluded")]
    LevelOutOfRange,
}

fn check(successes: usize, trials: usize, level: f64) -> Result<(), CountError> {
    if successes > trials {
        Err(CountError::MoreSuccessesThanTrials)
    } else if !(level > 0.0 && level < 1.0) {
        Err(CountError::LevelOutOfRange)
    } else {
        Ok(())
    }
}

/// The one-sided lower limit of a share, after Clopper and Pearson (*The use of confidence or fiducial limits
/// illustrated in the case of the binomial*, Biometrika 26, 1934): the share with which so many successes or more come
/// with the probability 1 − `level`. 0 without successes; (1 − level)^(1/n) when all n trials succeed. The trials are
/// taken to be independent; then the limit lies at or below the true share in at least the share `level` of all cases.
///
/// ```
/// use lapwatch_domain::numerics::binomial::{CountError, at_least};
/// assert!((at_least(3, 3, 0.95)? - 0.05f64.cbrt()).abs() < 1e-15);
/// assert_eq!(at_least(0, 0, 0.95)?, 0.0); // nothing tried, nothing known
/// assert_eq!(at_least(4, 3, 0.95), Err(CountError::MoreSuccessesThanTrials));
/// # Ok::<(), CountError>(())
/// ```
///
/// # Errors
/// [`CountError::MoreSuccessesThanTrials`]; [`CountError::LevelOutOfRange`] when `level` is not between 0 and 1.
pub fn at_least(successes: usize, trials: usize, level: f64) -> Result<f64, CountError> {
    check(successes, trials, level)?;
    let (k, n) = (successes as f64, trials as f64);
    Ok(if successes == 0 {
        0.0
    } else if successes == trials {
        libm::exp(libm::log1p(-level) / n)
    } else {
        beta::quantile(k, n - k + 1.0, 1.0 - level)
    })
}

/// The one-sided upper limit of a share: the share with which so many successes or fewer come with the probability
/// 1 − `level`. 1 when every trial succeeds. It mirrors [`at_least`].
///
/// ```
/// use lapwatch_domain::numerics::binomial::at_most;
/// // No failure in 59 trials: at most 5 % fail (one-sided 95 %).
/// assert!(at_most(0, 59, 0.95)? < 0.05 && at_most(0, 58, 0.95)? > 0.05);
/// # Ok::<(), lapwatch_domain::numerics::binomial::CountError>(())
/// ```
///
/// # Errors
/// As [`at_least`].
pub fn at_most(successes: usize, trials: usize, level: f64) -> Result<f64, CountError> {
    check(successes, trials, level)?;
    let (k, n) = (successes as f64, trials as f64);
    Ok(if successes == trials {
        1.0
    } else if successes == 0 {
        -libm::expm1(libm::log1p(-level) / n)
    } else {
        beta::quantile(k + 1.0, n - k, level)
    })
}

/// The two-sided interval of a share after Clopper and Pearson: both one-sided limits at the level (1 + `level`)/2. It
/// holds the true share in at least the share `level` of all cases, and often in more.
///
/// ```
/// use lapwatch_domain::numerics::binomial::clopper_pearson;
/// let (low, high) = clopper_pearson(18, 20, 0.95)?;
/// assert!((low - 0.68302).abs() < 5e-6 && (high - 0.98765).abs() < 5e-6);
/// # Ok::<(), lapwatch_domain::numerics::binomial::CountError>(())
/// ```
///
/// # Errors
/// As [`at_least`].
pub fn clopper_pearson(successes: usize, trials: usize, level: f64) -> Result<(f64, f64), CountError> {
    check(successes, trials, level)?;
    let each = 0.5 + 0.5 * level;
    Ok((at_least(successes, trials, each)?, at_most(successes, trials, each)?))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// As printed by the function `binom.confint` of the R package binom, method "exact", and kept among the reference
    /// results of statsmodels; the first four to 15 digits, the rest to 7 or 8.
    #[test]
    fn printed_by_a_statistics_package() {
        let table = [
            (18, 20, 0.683_017_285_980_917_6, 0.987_651_472_829_705_2, 1e-12),
            (4, 20, 0.057_333_997_050_032_84, 0.436_614_002_996_668, 1e-12),
            (4, 200, 0.005_475_565_879_556_443, 0.050_413_609_089_896_34, 1e-12),
            (190, 200, 0.909_972_462_298_648_6, 0.975_765_834_527_891, 1e-12),
            (1, 30, 8.435_709e-4, 0.172_169_46, 5.1e-9),
            (29, 30, 0.827_830_5, 0.999_156_4, 5.1e-8),
            (0, 30, 0.0, 0.115_703_31, 5.1e-9),
            (30, 30, 0.884_296_7, 1.0, 5.1e-8),
        ];
        for (successes, trials, low, high, tolerance) in table {
            let found = clopper_pearson(successes, trials, 0.95).unwrap();
            assert!((found.0 - low).abs() < tolerance, "{successes} of {trials}: {found:?}");
            assert!((found.1 - high).abs() < tolerance, "{successes} of {trials}: {found:?}");
        }
    }

    /// As printed by R's `binom.test`: 2 successes in 12 trials in a published session; Mendel's 682 of 925 plants in
    /// the example of the function's own help page (its printout from memory).
    #[test]
    fn printed_by_r() {
        for (successes, trials, low, high) in
            [(2, 12, 0.020_862_53, 0.484_137_75), (682, 925, 0.707_668_3, 0.765_406_6)]
        {
            let found = clopper_pearson(successes, trials, 0.95).unwrap();
            assert!((found.0 - low).abs() < 5.1e-8 && (found.1 - high).abs() < 5.1e-8, "{found:?}");
        }
    }

    /// .05^(1/3) and .05^(1/6), and a lower 90 % limit of .926 from 30 tests without a failure, as training material
    /// for reliability engineers prints it.
    #[test]
    fn all_succeed() {
        assert!((at_least(3, 3, 0.95).unwrap() - 0.368_403).abs() < 5.1e-7);
        assert!((at_least(6, 6, 0.95).unwrap() - 0.606_962).abs() < 5.1e-7);
        assert!((at_least(30, 30, 0.90).unwrap() - 0.926).abs() < 5.1e-4);
        // The closed form and the general way meet.
        assert!((at_least(6, 6, 0.95).unwrap() - beta::quantile(6.0, 1.0, 0.05)).abs() < 1e-14);
    }

    #[test]
    fn nonsense_is_refused() {
        for level in [0.0, 1.0, -0.5, f64::NAN] {
            assert_eq!(clopper_pearson(1, 2, level), Err(CountError::LevelOutOfRange));
        }
        assert_eq!(at_most(3, 2, 0.9), Err(CountError::MoreSuccessesThanTrials));
        assert_eq!(clopper_pearson(0, 0, 0.9), Ok((0.0, 1.0)));
    }
}
