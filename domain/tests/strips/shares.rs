//! Laws of exact limits.

use lapwatch_domain::numerics::binomial::{at_least, at_most, clopper_pearson};
use proptest::prelude::*;

/// The probability of `k` or more successes, term by term; with the rarer outcome counted, so that no term underflows.
fn or_more(k: usize, n: usize, share: f64) -> f64 {
    if share > 0.5 {
        return if k == 0 { 1.0 } else { 1.0 - or_more(n + 1 - k, n, 1.0 - share) };
    }
    let mut term = (1.0 - share).powi(n as i32);
    let mut sum = if k == 0 { term } else { 0.0 };
    for j in 1..=n {
        term *= (n - j + 1) as f64 / j as f64 * share / (1.0 - share);
        if j >= k {
            sum += term;
        }
    }
    sum
}

/// Trials, and successes among them.
fn count() -> impl Strategy<Value = (usize, usize)> {
    (1..100usize).prop_flat_map(|n| (Just(n), 0..=n))
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 500, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn limits_are_where_the_count_becomes_rare((n, k) in count(), level in 0.5..0.999f64) {
        let (low, high) = (at_least(k, n, level).unwrap(), at_most(k, n, level).unwrap());
        prop_assert!(0.0 <= low && low <= k as f64 / n as f64 && k as f64 / n as f64 <= high && high <= 1.0);
        if k > 0 {
            prop_assert!((or_more(k, n, low) - (1.0 - level)).abs() < 1e-10);
        }
        if k < n {
            prop_assert!((1.0 - or_more(k + 1, n, high) - (1.0 - level)).abs() < 1e-10);
        }
        // Failures are successes seen from the other side.
        prop_assert!((high - (1.0 - at_least(n - k, n, level).unwrap())).abs() < 1e-12);
        let two_sided = clopper_pearson(k, n, level).unwrap();
        prop_assert!(two_sided.0 <= low && two_sided.1 >= high);
    }

    #[test]
    fn more_successes_raise_both_limits((n, k) in count(), level in 0.5..0.999f64) {
        let k = k.min(n - 1);
        prop_assert!(at_least(k, n, level).unwrap() < at_least(k + 1, n, level).unwrap());
        prop_assert!(at_most(k, n, level).unwrap() < at_most(k + 1, n, level).unwrap());
    }

    /// The interval holds the true share at least as often as promised: the whole reason to use it.
    #[test]
    fn coverage_is_kept(n in 1..40usize, share in 0.01..0.99f64, level in 0.5..0.99f64) {
        let coverage: f64 = (0..=n)
            .filter(|k| {
                let (low, high) = clopper_pearson(*k, n, level).unwrap();
                low <= share && share <= high
            })
            .map(|k| or_more(k, n, share) - or_more(k + 1, n, share))
            .sum();
        prop_assert!(coverage >= level - 1e-9, "{coverage} at {level}");
    }
}
