//! φ(β), its slope and its inverse.

use std::f64::consts::FRAC_2_SQRT_PI;

use crate::numerics::erfcx;

/// φ(β) = 1 − erfcx(β): the share of the air's excess temperature that the sheet's surface takes on. β ≥ 0, a ratio.
#[must_use]
pub fn surface_share(beta: f64) -> f64 {
    // Below, 1 − erfcx loses digits to cancellation; the series of erfcx about zero has none to lose.
    if beta < 1e-3 {
        beta * (FRAC_2_SQRT_PI - beta * (1.0 - beta * FRAC_2_SQRT_PI * 2.0 / 3.0))
    } else {
        1.0 - erfcx(beta)
    }
}

/// φ′(β) = 2/√π − 2β·erfcx(β).
#[must_use]
pub fn surface_share_slope(beta: f64) -> f64 {
    FRAC_2_SQRT_PI - 2.0 * beta * erfcx(beta)
}

/// The β for which φ(β) = `share`, for `share` from 0 to below 1; NaN outside.
///
/// Newton's method from the left: φ is concave, so each step stays on that side and convergence is certain.
#[must_use]
pub fn surface_share_inverse(share: f64) -> f64 {
    if !(0.0..1.0).contains(&share) {
        return f64::NAN;
    }
    let mut beta = share / FRAC_2_SQRT_PI;
    for _ in 0..80 {
        let step = (share - surface_share(beta)) / surface_share_slope(beta);
        beta += step;
        if step.abs() <= 1e-14 * beta {
            break;
        }
    }
    beta
}
