//! The upper tail of the χ² distribution.

/// How often a χ² variable with so many degrees of freedom exceeds `x`: the closed forms for a whole number of degrees
/// (Abramowitz and Stegun, *Handbook of Mathematical Functions*, 26.4.4 and 26.4.5). 1 for `x` at or below zero; NaN
/// without degrees of freedom.
///
/// ```
/// use lapwatch_domain::numerics::chi_square_tail;
/// assert!((chi_square_tail(3.841, 1) - 0.05).abs() < 5e-5);
/// assert!(chi_square_tail(1.0, 0).is_nan());
/// ```
#[must_use]
pub fn chi_square_tail(x: f64, degrees_of_freedom: usize) -> f64 {
    if degrees_of_freedom == 0 || x.is_nan() {
        return f64::NAN;
    }
    if x <= 0.0 {
        return 1.0;
    }
    if x.is_infinite() {
        return 0.0;
    }
    let half = 0.5 * x;
    let odd = degrees_of_freedom % 2 == 1;
    let start = if odd { 0.5 } else { 0.0 };
    // The terms e^−h h^s/Γ(s + 1) for s = start, start + 1, …, below half of the degrees of freedom.
    let mut term =
        if odd { 2.0 * (half / std::f64::consts::PI).sqrt() * libm::exp(-half) } else { libm::exp(-half) };
    let mut sum = if odd { libm::erfc(half.sqrt()) } else { 0.0 };
    for step in 0..degrees_of_freedom / 2 {
        sum += term;
        term *= half / (start + step as f64 + 1.0);
    }
    sum.min(1.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Critical values as tables of the distribution print them, for instance the NIST/SEMATECH e-Handbook 1.3.6.7.4.
    #[test]
    fn critical_values() {
        let at_five_percent = [3.841, 5.991, 7.815, 9.488, 11.070, 12.592, 14.067, 15.507, 16.919, 18.307];
        for (index, value) in at_five_percent.into_iter().enumerate() {
            let tail = chi_square_tail(value, index + 1);
            assert!((tail - 0.05).abs() < 3e-5, "{} degrees: {tail}", index + 1);
        }
        assert!((chi_square_tail(6.635, 1) - 0.01).abs() < 1e-5);
        assert!((chi_square_tail(124.342, 100) - 0.05).abs() < 1e-5);
        assert_eq!(chi_square_tail(0.0, 3), 1.0);
        assert_eq!(chi_square_tail(-1.0, 2), 1.0);
        assert_eq!(chi_square_tail(f64::INFINITY, 3), 0.0);
    }
}
