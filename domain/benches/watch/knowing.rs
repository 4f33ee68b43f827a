//! Charts that know everything: the level, its scatter and the shift they look for.

use lapwatch_domain::drift::arl;

use crate::fleet::{Dice, Fault};
use crate::measure::TRIALS;

/// Standard deviation of one edge-finding trial, trial noise included: 18 and 8 K.
pub(crate) const SIGMA_K: f64 = 19.7;
const UNITS: u64 = 4000;
/// One false alarm in 500 trials over both edges, evenly: an edge has one in 1000, both of its directions together.
const EDGE_ARL: f64 = 1000.0;

/// The median number of trials from the beginning of a fault until the first of both edges' charts signals.
pub(crate) fn median_delay(fault: Fault) -> usize {
    // A ramp has no one size; half a standard deviation is the usual choice for small, growing shifts.
    let reference = match fault {
        Fault::Step { by_k, .. } => 0.5 * by_k / SIGMA_K,
        _ => 0.5,
    };
    let limit = arl::cusum_limit(reference, EDGE_ARL);
    let mut delays: Vec<usize> =
        (0..UNITS).filter_map(|unit| delay(fault, reference, limit, &mut Dice(unit * 31 + 7))).collect();
    delays.sort_unstable();
    delays[delays.len() / 2]
}

/// `None` for a unit that had a false alarm before.
fn delay(fault: Fault, reference: f64, limit: f64, dice: &mut Dice) -> Option<usize> {
    let from = fault.from();
    let mut sums = [[0.0_f64; 2]; 2];
    for trial in 0..TRIALS {
        let shift = fault.shift_k(trial) / SIGMA_K;
        for [up, down] in &mut sums {
            let value = shift + dice.normal();
            *up = (*up + value - reference).max(0.0);
            *down = (*down - value - reference).max(0.0);
        }
        if sums.iter().flatten().any(|sum| *sum > limit) {
            return (trial >= from).then(|| trial - from + 1);
        }
    }
    Some(TRIALS)
}
