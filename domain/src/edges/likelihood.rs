//! The probability that `k` of `n` strips of a coupon lie beyond an edge.
//!
//! It depends on temperature, edge and scatter only through `x = (T − μ)/σ`, so that one table for each `(k, n, ρ)`
//! serves every trial. The tables hold logarithms: contradictory strips give probabilities far below the smallest
//! `f64`, and clipping them would move edges.

use std::collections::HashMap;
use std::sync::{Arc, OnceLock, RwLock};

use crate::numerics::{HermiteTable, normal};

/// Half width of the tables in units of σ. Beyond it the sum is evaluated directly.
const TABLE_HALF_WIDTH: u32 = 24;
/// Points of the tables to the unit: keeps the interpolation error near 1e-8.
const TABLE_POINTS_PER_UNIT: u32 = 32;
/// The same for the tables of `L` itself, which is 0 or 1 beyond to 1e-13.
const PLAIN_HALF_WIDTH: u32 = 9;
const PLAIN_POINTS_PER_UNIT: u32 = 16;
/// The last place inside the tables of `L` itself.
const PLAIN_END: f64 = 8.99;
/// How many tables are kept before the store is emptied. One takes about 60 kB.
const MOST_TABLES: usize = 512;
/// The largest correlation that is calculated with: at 1 all strips of a coupon would be one strip.
const LARGEST_CORRELATION: f64 = 0.95;
/// Where the probability of the certain outcome differs from 1 by less than `f64` resolves.
const CERTAIN_BEYOND: f64 = 9.0;

/// `ln L(k | n, x)` for one coupon, as a function of `x = (T − μ)/σ`.
#[derive(Debug, Clone)]
pub(crate) struct CouponLikelihood {
    table: Arc<Table>,
    /// `L(k|n,x) = L(n−k|n,−x)`: only the tables with `2k ≤ n` exist.
    mirrored: bool,
}

impl CouponLikelihood {
    /// The likelihood of `beyond` of `strips` strips beyond the edge, for strips of one coupon correlated by
    /// `correlation` (held between 0 and 0.95).
    pub(crate) fn new(beyond: usize, strips: usize, correlation: f64) -> Self {
        let correlation =
            if correlation.is_finite() { correlation.clamp(0.0, LARGEST_CORRELATION) } else { 0.0 };
        let mirrored = 2 * beyond > strips;
        let fewer = if mirrored { strips - beyond } else { beyond };
        Self { table: table(fewer, strips, correlation), mirrored }
    }

    /// `ln L` at `x = (T − μ)/σ`.
    pub(crate) fn ln_at(&self, x: f64) -> f64 {
        self.table.ln_at(if self.mirrored { -x } else { x })
    }

    /// `L` itself and its slope, to about 1e-5: for averages in which small probabilities do not matter.
    #[inline]
    pub(crate) fn plain_at(&self, x: f64) -> (f64, f64) {
        let sign = if self.mirrored { -1.0 } else { 1.0 };
        let (value, slope) = self.table.plain.at_with_slope((sign * x).clamp(-PLAIN_END, PLAIN_END));
        (value, sign * slope)
    }

    /// Adds `ln L` at `x = start + index·step` to each element of `sums`. The same numbers as [`Self::ln_at`], faster.
    pub(crate) fn add_to(&self, sums: &mut [f64], start: f64, step: f64) {
        let sign = if self.mirrored { -1.0 } else { 1.0 };
        self.table.add_to(sums, sign * start, sign * step);
    }
}

/// One tabulated `ln L(k | n, ·)` with `2k ≤ n`.
#[derive(Debug)]
struct Table {
    sum: StripSum,
    values: HermiteTable,
    /// `L` itself.
    plain: HermiteTable,
}

impl Table {
    fn new(beyond: usize, strips: usize, correlation: f64) -> Self {
        let sum = StripSum::new(beyond, strips, correlation);
        let values = HermiteTable::new(TABLE_HALF_WIDTH, TABLE_POINTS_PER_UNIT, |x| sum.ln_and_slope(x));
        let plain = HermiteTable::new(PLAIN_HALF_WIDTH, PLAIN_POINTS_PER_UNIT, |x| {
            let (ln, slope) = sum.ln_and_slope(x);
            (libm::exp(ln), libm::exp(ln) * slope)
        });
        Self { sum, values, plain }
    }

    fn ln_at(&self, x: f64) -> f64 {
        if self.is_certain(x) {
            0.0
        } else if self.values.covers(x) {
            self.values.at(x)
        } else {
            self.sum.ln_and_slope(x).0
        }
    }

    /// Whether the outcome is certain at `x`: no strip beyond an edge that lies far above.
    fn is_certain(&self, x: f64) -> bool {
        self.sum.beyond == 0.0 && x < -CERTAIN_BEYOND
    }

    fn add_to(&self, sums: &mut [f64], start: f64, step: f64) {
        let last = start + step * sums.len().saturating_sub(1) as f64;
        if self.is_certain(start) && self.is_certain(last) {
            return;
        }
        if self.values.covers(start) && self.values.covers(last) {
            for (index, sum) in sums.iter_mut().enumerate() {
                *sum += self.values.at(start + step * index as f64);
            }
        } else {
            for (index, sum) in sums.iter_mut().enumerate() {
                *sum += self.ln_at(start + step * index as f64);
            }
        }
    }
}

/// The tables made so far. Contents depend on the key only, so that sharing them keeps every result reproducible.
static TABLES: OnceLock<RwLock<Tables>> = OnceLock::new();

/// Tables by strips beyond, strips in all, and the bits of the correlation.
type Tables = HashMap<(usize, usize, u64), Arc<Table>>;

fn table(beyond: usize, strips: usize, correlation: f64) -> Arc<Table> {
    let store = TABLES.get_or_init(RwLock::default);
    let key = (beyond, strips, correlation.to_bits());
    // A panic elsewhere cannot leave a half-made table behind, so that a poisoned lock is still good.
    if let Some(found) = store.read().unwrap_or_else(std::sync::PoisonError::into_inner).get(&key) {
        return Arc::clone(found);
    }
    let made = Arc::new(Table::new(beyond, strips, correlation));
    let mut writable = store.write().unwrap_or_else(std::sync::PoisonError::into_inner);
    if writable.len() >= MOST_TABLES {
        writable.clear();
    }
    Arc::clone(writable.entry(key).or_insert(made))
}

/// The integral over the scatter `z` that strips of a coupon share, which is `L`:
///
/// > C(n, k) ∫ φ(z) p(z)ᵏ (1 − p(z))ⁿ⁻ᵏ dz, p(z) = Φ((x − √ρ·z)/√(1−ρ))
///
/// by equally spaced points about the top of the integrand, wherever that lies. The integrand is log-concave and analytic, so
/// that the sum converges geometrically (Trefethen and Weideman, *The exponentially convergent trapezoidal rule*, SIAM
/// Review 56, 2014). Points that stay where the normal law has its mass, such as Gauss–Hermite nodes, miss the top where strips
/// contradict the edge: with 21 of them an edge can move the wrong way when a strip turns cold.
#[derive(Debug)]
struct StripSum {
    beyond: f64,
    short: f64,
    ln_choices: f64,
    /// √ρ.
    root: f64,
    /// 1/√(1−ρ).
    per_own: f64,
    /// Distance between the points.
    spacing: f64,
}

/// How far from its top an integrand reaches: it falls there at least as fast as the normal law, which holds less than 1e-15
/// beyond.
const REACH: f64 = 8.0;
/// Points to the width of an integrand's sharpest bend: exact to about 1e-8.
const POINTS_PER_WIDTH: f64 = 1.0;
/// The widest spacing, for integrands as wide as the normal law.
const WIDEST_SPACING: f64 = 0.5;
/// Newton steps towards the top of an integrand. They need not end there: the points reach far to both sides.
const STEPS_TO_THE_TOP: usize = 6;

impl StripSum {
    fn new(beyond: usize, strips: usize, correlation: f64) -> Self {
        let (beyond, short) = (beyond as f64, (strips - beyond) as f64);
        let ln_choices =
            libm::lgamma(beyond + short + 1.0) - libm::lgamma(beyond + 1.0) - libm::lgamma(short + 1.0);
        // The logarithm of the integrand bends by at most 1 + n·ρ/(1−ρ).
        let width = (1.0 + strips as f64 * correlation / (1.0 - correlation)).sqrt().recip();
        Self {
            beyond,
            short,
            ln_choices,
            root: correlation.sqrt(),
            per_own: (1.0 - correlation).sqrt().recip(),
            spacing: (width / POINTS_PER_WIDTH).min(WIDEST_SPACING),
        }
    }

    /// `ln L` at `x` and its derivative, by log-sum-exp.
    fn ln_and_slope(&self, x: f64) -> (f64, f64) {
        let most = (REACH / self.spacing).ceil() as i32;
        let top = self.top(x);
        let terms: Vec<(f64, f64)> =
            (-most..=most).map(|index| self.term(x, top + f64::from(index) * self.spacing)).collect();
        let largest = terms.iter().map(|term| term.0).fold(f64::NEG_INFINITY, f64::max);
        let (mut sum, mut weighted) = (0.0, 0.0);
        for (ln, slope) in terms {
            let share = libm::exp(ln - largest);
            sum += share;
            weighted += share * slope;
        }
        (self.ln_choices + largest + libm::log(sum * self.spacing) - LN_SQRT_TAU, weighted / sum)
    }

    /// The logarithm of the integrand at `z`, without its constants, and the derivative in `x`.
    fn term(&self, x: f64, z: f64) -> (f64, f64) {
        let a = (x - self.root * z) * self.per_own;
        let (above, below) = (normal::ln_cdf(a), normal::ln_cdf(-a));
        // 0·(−∞) does not occur: a logarithm of Φ is finite for every finite argument.
        let ln = -0.5 * z * z + self.beyond * above + self.short * below;
        (ln, self.per_own * (self.beyond * hazard(a, above) - self.short * hazard(a, below)))
    }

    /// About where the integrand is largest.
    fn top(&self, x: f64) -> f64 {
        let per_z = self.root * self.per_own;
        (0..STEPS_TO_THE_TOP).fold(0.0, |z, _| {
            let a = (x - self.root * z) * self.per_own;
            let (above, below) = (hazard(a, normal::ln_cdf(a)), hazard(a, normal::ln_cdf(-a)));
            let slope = per_z * (self.short * below - self.beyond * above) - z;
            let bend = self.short * below * (below - a) + self.beyond * above * (above + a);
            z + slope / (1.0 + per_z * per_z * bend)
        })
    }
}

/// ln √(2π).
const LN_SQRT_TAU: f64 = 0.918_938_533_204_672_7;

/// φ(a)/Φ(±a), given ln Φ(±a).
fn hazard(a: f64, ln_cdf: f64) -> f64 {
    libm::exp(-0.5 * a * a - LN_SQRT_TAU - ln_cdf)
}
