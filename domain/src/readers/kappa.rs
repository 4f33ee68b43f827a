//! Cohen's kappa of a square table of counts.

use thiserror::Error;

use crate::acceptance::Reading;
use crate::numerics::normal;

/// Why there is no kappa.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Error)]
#[non_exhaustive]
pub enum KappaError {
    /// No strip was read by both.
    #[error("no strip was read by both")]
    NoStrips,
    /// Both gave every strip one and the same reading.
    #[error(
        "both read every strip as {0}: agreement by chance is then certain, and kappa is zero over zero; \
         let them read strips of more kinds"
    )]
    OneReading(Reading),
}

impl KappaError {
    /// Stable code.
    #[must_use]
    pub const fn code(&self) -> &'static str {
        match self {
            Self::NoStrips => "no_strips",
            Self::OneReading(_) => "one_reading",
        }
    }
}

/// Agreement of two readers beyond chance. Every number is a share or a ratio of shares.
///
/// Standard errors are those for many strips (Fleiss, Cohen and Everitt, *Large sample standard errors of kappa and
/// weighted kappa*, Psychological Bulletin 72, 1969); with a few dozen strips they are rough. They take strips as
/// independent; strips of one coupon are alike, so that the true uncertainty is larger.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Kappa {
    /// How many strips were read by both.
    pub strips: usize,
    /// Share of strips that both read alike, Σ pᵢᵢ.
    pub observed: f64,
    /// The share expected by chance from how often each gave each reading, Σ pᵢ.·p.ᵢ.
    pub chance: f64,
    /// κ = (observed − chance)/(1 − chance), −1 to 1 (Cohen, *A coefficient of agreement for nominal scales*,
    /// Educational and Psychological Measurement 20, 1960).
    pub value: f64,
    /// The largest κ with these shares of readings, reached if they agreed wherever their shares allow: (Σ min(pᵢ.,
    /// p.ᵢ) − chance)/(1 − chance) (Cohen 1960). Below 1 when one gives a reading more often than the other.
    pub maximum: f64,
    /// Standard error of κ as it is, for intervals.
    pub standard_error: f64,
    /// Standard error of κ if there were no agreement beyond chance, for the test of that.
    pub null_standard_error: f64,
}

/// A radicand up to this is zero but for rounding.
const ROUNDING: f64 = 1e-13;

impl Kappa {
    /// Kappa of a table, rows the first reader's; `None` when both used one and the same category only, or there is
    /// nothing in it.
    pub(super) fn of<const K: usize>(table: &[[usize; K]; K]) -> Option<Self> {
        let counts = |index: usize| table[index].iter().sum::<usize>();
        let rows: [usize; K] = std::array::from_fn(counts);
        let columns: [usize; K] = std::array::from_fn(|index| table.iter().map(|row| row[index]).sum());
        let strips: usize = rows.iter().sum();
        if strips == 0 || rows.iter().zip(&columns).any(|(row, column)| *row == strips && *column == strips) {
            return None;
        }
        let n = strips as f64;
        // Whole numbers are added up as such, so that perfect agreement is exactly 1.
        let over = |term: &dyn Fn(usize) -> f64| (0..K).map(term).sum::<f64>();
        let observed = over(&|i| table[i][i] as f64) / n;
        let chance = over(&|i| rows[i] as f64 * columns[i] as f64) / (n * n);
        let best = over(&|i| rows[i].min(columns[i]) as f64) / n;
        let corrected = |agreement: f64| (agreement - chance) / (1.0 - chance);
        let value = corrected(observed);
        let [rows, columns] = [rows, columns].map(|counts| counts.map(|count| count as f64 / n));
        let share = |first: usize, second: usize| table[first][second] as f64 / n;
        let off = 1.0 - value;
        // The sum over all cells of the paper's variance, strips read alike and read differently apart.
        let alike = over(&|i| share(i, i) * (1.0 - (rows[i] + columns[i]) * off).powi(2));
        let different =
            over(&|i| over(&|j| if i == j { 0.0 } else { share(i, j) * (columns[i] + rows[j]).powi(2) }));
        let variance = alike + off * off * different - (value - chance * off).powi(2);
        let null = chance + chance * chance - over(&|i| rows[i] * columns[i] * (rows[i] + columns[i]));
        let error = |radicand: f64| {
            if radicand <= ROUNDING { 0.0 } else { radicand.sqrt() / ((1.0 - chance) * n.sqrt()) }
        };
        Some(Self {
            strips,
            observed,
            chance,
            value,
            maximum: corrected(best),
            standard_error: error(variance),
            null_standard_error: error(null),
        })
    }

    /// The interval of κ at the confidence `level`, held within −1 to 1: κ ± z·standard error.
    ///
    /// `None` when `level` is not between 0 and 1, and when the standard error is zero: with perfect agreement, or a
    /// reader who gave one reading only, the formula knows of no uncertainty, which is not the same as none.
    #[must_use]
    pub fn interval(&self, level: f64) -> Option<(f64, f64)> {
        if !(level > 0.0 && level < 1.0) || self.standard_error == 0.0 {
            return None;
        }
        let reach = normal::quantile(0.5 + 0.5 * level) * self.standard_error;
        Some(((self.value - reach).max(-1.0), (self.value + reach).min(1.0)))
    }

    /// κ over its standard error without agreement beyond chance: about a standard normal variable in that case.
    /// `None` when that error is zero, as with a reader who gave one reading only.
    #[must_use]
    pub fn z(&self) -> Option<f64> {
        (self.null_standard_error > 0.0).then(|| self.value / self.null_standard_error)
    }
}
