//! The standard normal distribution, accurate in both tails and without a floor.
//!
//! Contradictory strips (a cold one far above many sound ones) put a likelihood tens of standard deviations into a
//! tail. A probability clipped at 1e-300 would then move an edge by hundreds of degrees; [`ln_cdf`] does not clip.

use std::f64::consts::{FRAC_1_SQRT_2, LN_2, PI};

use super::erfcx;

/// Density of the standard normal law at `x`.
#[must_use]
pub fn pdf(x: f64) -> f64 {
    libm::exp(-0.5 * x * x) / (2.0 * PI).sqrt()
}

/// Φ(x): the probability that a standard normal variable is at most `x`.
///
/// Full relative precision down to where the value itself underflows (x ≈ −38); use [`ln_cdf`] further out.
///
/// ```
/// use lapwatch_domain::numerics::normal;
/// assert!((normal::cdf(1.95996398454005) - 0.975).abs() < 1e-15);
/// assert_eq!(normal::cdf(0.0), 0.5);
/// ```
#[must_use]
pub fn cdf(x: f64) -> f64 {
    0.5 * libm::erfc(-x * FRAC_1_SQRT_2)
}

/// ln Φ(x), to about 1e-13 relative everywhere, without a floor.
///
/// Left of −1 it is `−x²/2 + ln(erfcx(−x/√2)/2)`, which stays finite as far as `x²` does; right of it
/// `ln(1 − Φ(−x))`, which keeps the tiny distance to zero.
///
/// ```
/// use lapwatch_domain::numerics::normal;
/// assert!((normal::ln_cdf(-100.0) + 5005.524208694205).abs() < 1e-9);
/// assert!((normal::ln_cdf(0.0) - 0.5f64.ln()).abs() < 1e-15);
/// ```
#[must_use]
pub fn ln_cdf(x: f64) -> f64 {
    if x < -1.0 { -0.5 * x * x + libm::log(erfcx(-x * FRAC_1_SQRT_2)) - LN_2 } else { libm::log1p(-cdf(-x)) }
}

/// The `x` for which Φ(x) = `p`, for `p` between 0 and 1; infinite at the ends and NaN outside.
///
/// A rational start (Abramowitz and Stegun 26.2.23, error below 4.5e-4) is polished by Newton steps on the logarithm
/// of the probability, which converge equally fast in the middle and 30 standard deviations out.
///
/// ```
/// use lapwatch_domain::numerics::normal;
/// assert!((normal::quantile(0.975) - 1.95996398454005).abs() < 1e-14);
/// assert!((normal::quantile(1e-300) + 37.0471).abs() < 1e-4);
/// ```
#[must_use]
pub fn quantile(p: f64) -> f64 {
    if !(0.0..=1.0).contains(&p) {
        return f64::NAN;
    }
    if p > 0.5 {
        return -quantile(1.0 - p);
    }
    if p == 0.0 {
        return f64::NEG_INFINITY;
    }
    let target = libm::log(p);
    let mut x = rough_lower_quantile(target);
    for _ in 0..3 {
        let at = ln_cdf(x);
        // Φ/φ, the Newton factor, as one exponential so that neither part underflows.
        let ratio = libm::exp(at + 0.5 * x * x) * (2.0 * PI).sqrt();
        x -= (at - target) * ratio;
    }
    x
}

/// Abramowitz and Stegun 26.2.23 for the lower tail, given the logarithm of the probability.
fn rough_lower_quantile(ln_p: f64) -> f64 {
    let t = (-2.0 * ln_p).sqrt();
    let above = 2.515_517 + t * (0.802_853 + t * 0.010_328);
    let below = 1.0 + t * (1.432_788 + t * (0.189_269 + t * 0.001_308));
    above / below - t
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Computed with mpmath at 60 digits.
    #[test]
    fn both_tails_of_ln_cdf() {
        let table = [
            (-1000.0, -5.00007826694812e+5),
            (-100.0, -5.00552420869421e+3),
            (-40.0, -8.04608442013754e+2),
            (-20.0, -2.03917155371097e+2),
            (-8.25, -3.70745899319015e+1),
            (-3.0, -6.60772622151035),
            (-1.01, -1.85631306234318),
            (-1.0, -1.84102164500926),
            (-0.99, -1.82581031784281),
            (0.5, -3.68946415288656e-1),
            (1.0, -1.7275377902345e-1),
            (3.0, -1.35080996474819e-3),
            (6.0, -9.86587645524376e-10),
            (8.0, -6.22096057427179e-16),
            (12.0, -1.77648211207768e-33),
            (30.0, -4.90671392714819e-198),
        ];
        for (x, value) in table {
            let computed = ln_cdf(x);
            assert!(((computed - value) / value).abs() < 1e-13, "lnΦ({x}) = {computed:e}, table {value:e}");
        }
    }

    #[test]
    fn quantile_inverts_cdf() {
        for exponent in 0..300 {
            let p = 0.5 * 10f64.powi(-exponent);
            let back = cdf(quantile(p));
            // One unit in the last place of x moves p by x² units.
            assert!((back / p - 1.0).abs() < 1e-12, "p = {p:e}, back {back:e}");
        }
        assert_eq!(quantile(0.0), f64::NEG_INFINITY);
        assert_eq!(quantile(1.0), f64::INFINITY);
        assert!(quantile(-0.1).is_nan() && quantile(f64::NAN).is_nan());
    }

    #[test]
    fn density_is_the_slope() {
        for x in [-3.0, -0.5, 0.0, 1.0, 2.5] {
            let slope = (cdf(x + 1e-5) - cdf(x - 1e-5)) / 2e-5;
            assert!((slope - pdf(x)).abs() < 1e-9);
        }
    }
}
