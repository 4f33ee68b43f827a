//! The scaled complementary error function.

use std::f64::consts::PI;

/// Where the product of `exp` and `erfc` hands over to the asymptotic series. At 10 the smallest term of the series is
/// far below the precision of `f64`, and `erfc` is still far from underflow.
const SERIES_FROM: f64 = 10.0;

/// `erfcx(x) = exp(x²) · erfc(x)`, the complementary error function without its Gaussian decay.
///
/// `erfc` itself underflows beyond 26.5; the scaled function falls only as `1/(x√π)` and keeps full relative precision
/// for every positive argument (better than 1e-13 over 0 to 50). For negative arguments it grows as `2·exp(x²)` and
/// becomes infinite below about −26.6, because the true value exceeds the largest `f64`.
///
/// Definition: Abramowitz and Stegun, *Handbook of Mathematical Functions* (1964), 7.1; asymptotic series 7.1.23.
///
/// ```
/// use lapwatch_domain::numerics::erfcx;
/// assert_eq!(erfcx(0.0), 1.0);
/// assert!((1.0 - erfcx(0.3) - 0.26540).abs() < 5e-6);
/// assert!(erfcx(50.0) > 0.0);
/// assert!(erfcx(-30.0).is_infinite());
/// ```
#[must_use]
pub fn erfcx(x: f64) -> f64 {
    if x >= SERIES_FROM { asymptotic(x) } else { exp_square(x) * libm::erfc(x) }
}

/// `exp(x²)` with the rounding error of the square put back: the plain product would lose up to `x²` units in the last
/// place.
fn exp_square(x: f64) -> f64 {
    let square = x * x;
    let lost = libm::fma(x, x, -square);
    libm::exp(square) * if lost.is_finite() { 1.0 + lost } else { 1.0 }
}

/// `1/(x√π) · Σ (−1)ⁿ (2n−1)!!/(2x²)ⁿ`, cut off where a term no longer changes the sum.
fn asymptotic(x: f64) -> f64 {
    // Dividing twice instead of by 2x² keeps huge arguments from overflowing into 0·∞.
    let step = 0.5 / x / x;
    let mut term = 1.0;
    let mut sum = 1.0;
    let mut odd = 1.0;
    loop {
        term *= -odd * step;
        let next = sum + term;
        if next == sum || odd > 60.0 {
            return sum / (x * PI.sqrt());
        }
        sum = next;
        odd += 2.0;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// φ(β) = 1 − erfcx(β), the share of the way from sheet to air temperature that a surface reaches (Carslaw and
    /// Jaeger, *Conduction of Heat in Solids*, 2.7). Recomputed independently with SciPy, to the digits printed.
    #[test]
    fn heat_share_table() {
        let table = [
            (0.05, 0.05401),
            (0.1, 0.10354),
            (0.2, 0.19098),
            (0.3, 0.26540),
            (0.4, 0.32921),
            (0.5, 0.38431),
            (0.75, 0.49306),
            (1.0, 0.57242),
            (2.0, 0.74460),
            (3.0, 0.82100),
        ];
        for (beta, share) in table {
            let computed = 1.0 - erfcx(beta);
            assert!((computed - share).abs() <= 5e-6, "φ({beta}) = {computed}, table {share}");
        }
    }

    /// Values to 15 digits, computed with mpmath at 60 digits.
    #[test]
    fn twelve_digits_from_zero_to_fifty() {
        let table = [
            (0.001, 9.98872620081151e-1),
            (0.05, 9.45990043554962e-1),
            (0.27, 7.55713101900029e-1),
            (0.5, 6.15690344192926e-1),
            (1.0, 4.27583576155807e-1),
            (1.7, 2.91663297075343e-1),
            (2.5, 2.10806364061144e-1),
            (4.0, 1.36999457625061e-1),
            (6.5, 8.58056701048946e-2),
            (9.9, 5.67024569388323e-2),
            (10.0, 5.61409927438226e-2),
            (10.1, 5.55904870092399e-2),
            (14.0, 4.01972286502185e-2),
            (20.0, 2.81743487410513e-2),
            (26.0, 2.16835848505629e-2),
            (27.0, 2.08816079904209e-2),
            (35.0, 1.6113130956816e-2),
            (50.0, 1.12815362653238e-2),
            (-0.5, 1.95236048918256),
            (-3.0, 1.62059888539996e+4),
        ];
        for (x, value) in table {
            let computed = erfcx(x);
            assert!(((computed - value) / value).abs() < 1e-13, "erfcx({x}) = {computed:e}, table {value:e}");
        }
    }

    /// The series and the product are different algorithms; they must meet.
    #[test]
    fn no_seam_where_the_two_methods_meet() {
        let product = exp_square(SERIES_FROM) * libm::erfc(SERIES_FROM);
        assert!((product / asymptotic(SERIES_FROM) - 1.0).abs() < 1e-13);
    }
}
