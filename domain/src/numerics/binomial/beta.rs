//! The incomplete beta function and its inverse.
//!
//! Elementary functions come from `libm`, as everywhere in this crate: those of the standard library may differ between
//! machines in the last digits, and a result must be the same on all of them. Crates with this function use the latter.

/// Most terms of the continued fraction; about √(a + b) of them are needed.
const MOST_TERMS: usize = 200_000;

/// The regularized incomplete beta function Iₓ(a, b), for a, b > 0 and x from 0 to 1: the continued fraction 8.17.22
/// of the NIST *Digital Library of Mathematical Functions*, evaluated by the modified method of Lentz, on the side
/// where it converges fast.
pub(super) fn regularized(a: f64, b: f64, x: f64) -> f64 {
    if x <= 0.0 {
        0.0
    } else if x >= 1.0 {
        1.0
    } else if x < (a + 1.0) / (a + b + 2.0) {
        fraction(a, b, x, 1.0 - x)
    } else {
        1.0 - fraction(b, a, 1.0 - x, x)
    }
}

/// Iₓ(a, b) for x left of the bulk; `y` is 1 − x.
fn fraction(a: f64, b: f64, x: f64, y: f64) -> f64 {
    let ln_beta = libm::lgamma(a) + libm::lgamma(b) - libm::lgamma(a + b);
    let front = libm::exp(a * libm::log(x) + b * libm::log(y) - ln_beta) / a;
    let away_from_zero = |value: f64| if value.abs() < 1e-300 { 1e-300 } else { value };
    let mut d = 1.0 / away_from_zero(1.0 - (a + b) * x / (a + 1.0));
    let (mut c, mut value) = (1.0, d);
    for term in 1..MOST_TERMS {
        let m = term as f64;
        let even = m * (b - m) * x / ((a + 2.0 * m - 1.0) * (a + 2.0 * m));
        let odd = -(a + m) * (a + b + m) * x / ((a + 2.0 * m) * (a + 2.0 * m + 1.0));
        let before = value;
        for numerator in [even, odd] {
            d = 1.0 / away_from_zero(1.0 + numerator * d);
            c = away_from_zero(1.0 + numerator / c);
            value *= c * d;
        }
        if (value - before).abs() <= 1e-16 * value.abs() {
            break;
        }
    }
    front * value
}

/// The x for which Iₓ(a, b) is `p`, 0 < p < 1, by bisection down to two neighbouring numbers.
pub(super) fn quantile(a: f64, b: f64, p: f64) -> f64 {
    let (mut low, mut high) = (0.0_f64, 1.0_f64);
    loop {
        let middle = 0.5 * (low + high);
        if middle <= low || middle >= high || high < 1e-300 {
            return middle;
        }
        if regularized(a, b, middle) < p {
            low = middle;
        } else {
            high = middle;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Σ C(n, j) xʲ (1 − x)ⁿ⁻ʲ from j = k to n, term by term: the relation 8.17.5 of the same library.
    fn binomial_tail(k: i32, n: i32, x: f64) -> f64 {
        let mut term = (1.0 - x).powi(n);
        let mut sum = if k == 0 { term } else { 0.0 };
        for j in 1..=n {
            term *= f64::from(n - j + 1) / f64::from(j) * x / (1.0 - x);
            if j >= k {
                sum += term;
            }
        }
        sum
    }

    #[test]
    fn agrees_with_sums_of_binomial_terms() {
        for n in [1, 2, 3, 7, 20, 60] {
            for k in 1..=n {
                for x in [0.001, 0.1, 0.368_403, 0.5, 0.75, 0.99] {
                    let sum = binomial_tail(k, n, x);
                    let found = regularized(f64::from(k), f64::from(n - k + 1), x);
                    assert!((found - sum).abs() < 1e-13 * sum.max(1e-3), "{k} of {n} at {x}: {found}, {sum}");
                }
            }
        }
    }

    #[test]
    fn the_inverse_inverts_far_out_too() {
        for (a, b) in [(1.0, 1e6), (3.0, 1.0), (0.5, 0.5), (400.0, 30.0), (5e5, 5e5)] {
            for p in [1e-6, 0.025, 0.5, 0.975, 1.0 - 1e-6] {
                let back = regularized(a, b, quantile(a, b, p));
                assert!((back / p - 1.0).abs() < 1e-8, "({a}, {b}) at {p}: {back}");
            }
        }
        // The arcsine law has a closed form: quantile sin²(πp/2).
        let exact = libm::sin(0.5 * std::f64::consts::PI * 0.2).powi(2);
        assert!((quantile(0.5, 0.5, 0.2) - exact).abs() < 1e-14);
    }
}
