//! The exponential function for long rows of numbers.

use std::f64::consts::LOG2_E;

/// `eˣ` for `|x| ≤ 700` to 4e-16 relative, without branches, so that a loop over it can use vector instructions.
///
/// Reduction to `x = n·ln 2 + r` with the usual two-part logarithm, then the power series of `eʳ` to `r¹³`.
#[inline]
pub(crate) fn exp_moderate(x: f64) -> f64 {
    /// Adding this leaves the rounded integer in the lowest bits of the sum.
    const ROUNDER: f64 = 6_755_399_441_055_744.0;
    /// ln 2 in two parts, the first with trailing zeros, so that its product with `n` is exact.
    const LN_2_HIGH: f64 = 0.693_147_180_369_123_8;
    const LN_2_LOW: f64 = 1.908_214_929_270_587_7e-10;
    /// 1/k! for k from 0 to 13.
    const SERIES: [f64; 14] = [
        1.0,
        1.0,
        0.5,
        1.0 / 6.0,
        1.0 / 24.0,
        1.0 / 120.0,
        1.0 / 720.0,
        1.0 / 5_040.0,
        1.0 / 40_320.0,
        1.0 / 362_880.0,
        1.0 / 3_628_800.0,
        1.0 / 39_916_800.0,
        1.0 / 479_001_600.0,
        1.0 / 6_227_020_800.0,
    ];
    let shifted = x * LOG2_E + ROUNDER;
    let n = shifted - ROUNDER;
    let r = (x - n * LN_2_HIGH) - n * LN_2_LOW;
    // By twos, fours and eights (Estrin): in a row, each product would wait for the one before.
    let (r2, r4) = (r * r, (r * r) * (r * r));
    let two = |k: usize| SERIES[k] + SERIES[k + 1] * r;
    let four = |k: usize| two(k) + two(k + 2) * r2;
    let mantissa = (four(0) + four(4) * r4) + (four(8) + two(12) * r4) * (r4 * r4);
    // The integer in the low bits of `shifted`, moved into the exponent.
    let exponent = shifted.to_bits().wrapping_add(1023) << 52;
    mantissa * f64::from_bits(exponent)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn agrees_with_the_plain_exponential() {
        for step in -7000..=7000 {
            let x = f64::from(step) * 0.1;
            let (fast, plain) = (exp_moderate(x), libm::exp(x));
            assert!((fast / plain - 1.0).abs() < 1e-15, "exp({x}): {fast:e} and {plain:e}");
        }
        assert_eq!(exp_moderate(0.0), 1.0);
    }
}
