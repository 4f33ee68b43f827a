//! Whether a series trends, and how steeply.

use crate::numerics::normal;

/// Up to so many values without ties, Kendall's distribution is counted out; beyond, or with ties, the normal law stands
/// in.
const COUNTED_OUT: usize = 10;

/// Kendall's S of a series, and how rarely chance alone takes it as far from zero.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Kendall {
    /// Pairs that rise less pairs that fall.
    pub s: i64,
    /// S less one towards zero, over its standard deviation, ties allowed for.
    pub z: f64,
    /// Chance of an S as far from zero, either way, in a series without a trend.
    pub p: f64,
}

/// The Mann–Kendall test of `values` in their order; `None` with fewer than two, or when all are alike.
///
/// Mann, *Nonparametric tests against trend*, Econometrica 13, 1945; Kendall, *Rank Correlation Methods*.
///
/// ```
/// use lapwatch_domain::numerics::series::kendall;
/// // All of the 6 pairs rise: one order in 24 does, and one has all falling.
/// let risen = kendall(&[1.0, 2.0, 4.0, 8.0]).unwrap();
/// assert_eq!(risen.s, 6);
/// assert!((risen.p - 2.0 / 24.0).abs() < 1e-12);
/// ```
#[must_use]
pub fn kendall(values: &[f64]) -> Option<Kendall> {
    let n = values.len();
    let mut s = 0_i64;
    for (index, earlier) in values.iter().enumerate() {
        for later in &values[index + 1..] {
            s += i64::from(later > earlier) - i64::from(later < earlier);
        }
    }
    let variance = variance_of_s(values);
    if n < 2 || variance <= 0.0 {
        return None;
    }
    let z = (s - s.signum()) as f64 / variance.sqrt();
    let p = if n <= COUNTED_OUT && !has_ties(values) {
        let pairs = n * (n - 1) / 2;
        // S = pairs − 2·inversions: as far from zero means at most so many inversions of the rarer kind.
        let inversions = (pairs - s.unsigned_abs() as usize) / 2;
        (2.0 * share_with_inversions_up_to(inversions, n)).min(1.0)
    } else {
        2.0 * normal::cdf(-z.abs())
    };
    Some(Kendall { s, z, p })
}

/// (n(n − 1)(2n + 5) − Σ t(t − 1)(2t + 5))/18, the sum over groups of t equal values.
fn variance_of_s(values: &[f64]) -> f64 {
    let term = |count: usize| (count * count.saturating_sub(1) * (2 * count + 5)) as f64;
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let tied: f64 = sorted.chunk_by(|a, b| a == b).map(|group| term(group.len())).sum();
    (term(values.len()) - tied) / 18.0
}

fn has_ties(values: &[f64]) -> bool {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    sorted.windows(2).any(|pair| pair[0] == pair[1])
}

/// The share of the orders of `n` values that have at most so many inversions.
fn share_with_inversions_up_to(inversions: usize, n: usize) -> f64 {
    // How many orders of m values have each number of inversions: the m-th value adds 0 to m − 1 of them.
    let mut orders = vec![1.0];
    for m in 2..=n {
        let mut next = vec![0.0; orders.len() + m - 1];
        for (have, count) in orders.iter().enumerate() {
            for place in &mut next[have..have + m] {
                *place += count;
            }
        }
        orders = next;
    }
    let total: f64 = orders.iter().sum();
    orders.iter().take(inversions + 1).sum::<f64>() / total
}

/// A slope with its confidence interval.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Slope {
    /// Units of value per unit of time.
    pub slope: f64,
    /// Lower end of the interval.
    pub low: f64,
    /// Upper end of the interval.
    pub high: f64,
}

/// The median of the slopes of all pairs of (time, value), with its confidence interval at `level` (0 to 1).
///
/// `None` with fewer than two different times. The interval is counted out for up to ten values without ties; it may
/// then be wider than asked for, and with very few values is the whole range. Sen, *Estimates of the regression
/// coefficient based on Kendall's tau*, Journal of the American Statistical Association 63, 1968; Hollander and Wolfe,
/// *Nonparametric Statistical Methods*, ch. 9.
#[must_use]
pub fn theil_sen(points: &[(f64, f64)], level: f64) -> Option<Slope> {
    let mut slopes = Vec::with_capacity(points.len() * points.len().saturating_sub(1) / 2);
    for (index, (earlier, from)) in points.iter().enumerate() {
        let later = points[index + 1..].iter().filter(|(time, _)| time != earlier);
        slopes.extend(later.map(|(time, to)| (to - from) / (time - earlier)));
    }
    slopes.sort_by(f64::total_cmp);
    let count = slopes.len();
    let last = count.checked_sub(1)?;
    let below = excluded_slopes(points, count, level).min(last / 2);
    let slope = 0.5 * (slopes[last / 2] + slopes[count / 2]);
    Some(Slope { slope, low: slopes[below], high: slopes[last - below] })
}

/// How many of the slopes at either end lie outside the interval.
fn excluded_slopes(points: &[(f64, f64)], count: usize, level: f64) -> usize {
    let values: Vec<f64> = points.iter().map(|(_, value)| *value).collect();
    let n = values.len();
    if n <= COUNTED_OUT && count == n * (n - 1) / 2 && !has_ties(&values) {
        // With so many left out at either end the interval misses when at most so many pairs about the true line are
        // inverted, or all but so many. The most that still leaves the level inside; at least none.
        let inside = |below: usize| 1.0 - 2.0 * share_with_inversions_up_to(below, n);
        return (1..count).take_while(|&below| inside(below) >= level).count();
    }
    let reach = normal::quantile(0.5 + 0.5 * level) * variance_of_s(&values).max(0.0).sqrt();
    let place = (0.5 * (count as f64 - reach)).round();
    (place.max(1.0) - 1.0) as usize
}

/// A weighted straight line, described at a time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Line {
    /// Its value at that time.
    pub value: f64,
    /// Variance of the value.
    pub value_variance: f64,
    /// Its slope.
    pub slope: f64,
    /// Variance of the slope.
    pub slope_variance: f64,
    /// Covariance of value and slope.
    pub covariance: f64,
}

/// The line of least squares through (time, value, variance), each weighted by the inverse of its known variance,
/// described at time `at`; `None` with fewer than two different times.
///
/// ```
/// use lapwatch_domain::numerics::series::line;
/// let fit = line(&[(0.0, 1.0, 1.0), (2.0, 5.0, 1.0)], 2.0).unwrap();
/// assert_eq!((fit.value, fit.slope), (5.0, 2.0));
/// assert_eq!((fit.value_variance, fit.slope_variance, fit.covariance), (1.0, 0.5, 0.5));
/// ```
#[must_use]
pub fn line(points: &[(f64, f64, f64)], at: f64) -> Option<Line> {
    let total: f64 = points.iter().map(|(_, _, variance)| variance.recip()).sum();
    let mean = |of: fn(&(f64, f64, f64)) -> f64| -> f64 {
        points.iter().map(|point| of(point) / point.2).sum::<f64>() / total
    };
    let (time, value) = (mean(|point| point.0), mean(|point| point.1));
    let sum = |of: &dyn Fn(f64, f64) -> f64| -> f64 {
        points.iter().map(|point| of(point.0 - time, point.1 - value) / point.2).sum()
    };
    let spread = sum(&|t, _| t * t);
    let alike = points.iter().all(|point| Some(point.0) == points.first().map(|first| first.0));
    if alike {
        return None;
    }
    let slope = sum(&|t, y| t * y) / spread;
    let away = at - time;
    Some(Line {
        value: value + slope * away,
        value_variance: total.recip() + away * away / spread,
        slope,
        slope_variance: spread.recip(),
        covariance: away / spread,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Fourteen yearly values: S 54, Z 2.9058 as printed with the series.
    #[test]
    fn a_printed_kendall_test() {
        let values = [12.9, 14.8, 13.2, 15.7, 13.8, 15.6, 12.9, 11.0, 17.3, 15.9, 19.0, 18.3, 20.1, 21.7];
        let found = kendall(&values).unwrap();
        assert_eq!(found.s, 54);
        assert!((found.z - 2.9058).abs() < 5e-5, "{}", found.z);
        assert_eq!(kendall(&[3.0, 3.0, 3.0]), None);
        assert_eq!(kendall(&[3.0]), None);
    }

    /// Hollander and Wolfe, *Nonparametric Statistical Methods*, example 9.1: slope −0.05625.
    #[test]
    fn a_printed_slope() {
        let points = [(0.0, 1.26), (1.0, 1.27), (2.0, 1.12), (3.0, 1.16), (4.0, 1.03)];
        let found = theil_sen(&points, 0.95).unwrap();
        assert!((found.slope + 0.05625).abs() < 1e-12, "{}", found.slope);
        // All slopes together hold 1 − 2/120; without the outermost two it is 1 − 10/120, no longer 95 %.
        assert!((found.low + 0.15).abs() < 1e-12 && (found.high - 0.04).abs() < 1e-12, "{found:?}");
    }

    /// Sen (1968), his example: slope 4, with 26/7 and 35/8, the fourth slopes from either end. He gives 93 % for them;
    /// counted out, P(at most 3 inversions of 7 values) = 76/5040 at either side, they hold 97 %, and the fifth 93.1 %.
    #[test]
    fn sens_own_example() {
        let times = [1.0, 2.0, 3.0, 4.0, 10.0, 12.0, 18.0];
        let values = [9.0, 15.0, 19.0, 20.0, 45.0, 55.0, 78.0];
        let points: Vec<(f64, f64)> = times.into_iter().zip(values).collect();
        let found = theil_sen(&points, 0.95).unwrap();
        assert!((found.slope - 4.0).abs() < 1e-12, "{found:?}");
        assert_eq!(theil_sen(&points, 0.93).unwrap().low, 3.75);
        assert!(
            (found.low - 26.0 / 7.0).abs() < 1e-12 && (found.high - 35.0 / 8.0).abs() < 1e-12,
            "{found:?}"
        );
    }

    /// NIST Statistical Reference Datasets, *Norris*: the certified slope and intercept, and their standard deviations,
    /// which follow from the certified residual standard deviation .884796396144373.
    #[test]
    fn a_certified_line() {
        let x = [
            0.2, 337.4, 118.2, 884.6, 10.1, 226.5, 666.3, 996.3, 448.6, 777.0, 558.2, 0.4, 0.6, 775.5, 666.9,
            338.0, 447.5, 11.6, 556.0, 228.1, 995.8, 887.6, 120.2, 0.3, 0.3, 556.8, 339.1, 887.2, 999.0,
            779.0, 11.1, 118.3, 229.2, 669.1, 448.9, 0.5,
        ];
        let y = [
            0.1, 338.8, 118.1, 888.0, 9.2, 228.1, 668.5, 998.5, 449.1, 778.9, 559.2, 0.3, 0.1, 778.1, 668.8,
            339.3, 448.9, 10.8, 557.7, 228.3, 998.0, 888.8, 119.6, 0.3, 0.6, 557.6, 339.3, 888.0, 998.5,
            778.9, 10.2, 117.6, 228.9, 668.4, 449.2, 0.2,
        ];
        let residual_sd = 0.884_796_396_144_373_f64;
        let points: Vec<(f64, f64, f64)> =
            x.into_iter().zip(y).map(|(x, y)| (x, y, residual_sd.powi(2))).collect();
        let fit = line(&points, 0.0).unwrap();
        for (found, certified) in [
            (fit.value, -0.262_323_073_774_029),
            (fit.value_variance.sqrt(), 0.232_818_234_301_152),
            (fit.slope, 1.002_116_818_020_45),
            (fit.slope_variance.sqrt(), 0.429_796_848_199_937e-3),
        ] {
            assert!((found / certified - 1.0).abs() < 1e-10, "{found}, certified {certified}");
        }
    }

    #[test]
    fn nothing_to_say_without_two_times() {
        assert_eq!(theil_sen(&[(1.0, 2.0)], 0.95), None);
        assert_eq!(theil_sen(&[(1.0, 2.0), (1.0, 3.0)], 0.95), None);
        assert_eq!(line(&[(1.0, 2.0, 1.0), (1.0, 3.0, 1.0)], 0.0), None);
        assert_eq!(line(&[], 0.0), None);
    }

    /// With ten values and with eleven the two ways to a chance agree to what the normal law is worth there.
    #[test]
    fn counting_out_and_the_normal_law_agree() {
        let values = [1.0, 4.0, 2.0, 6.0, 3.0, 5.0, 9.0, 7.0, 8.0, 10.0];
        let found = kendall(&values).unwrap();
        let normal = 2.0 * normal::cdf(-found.z.abs());
        assert!((found.p - normal).abs() < 0.005, "{found:?} against {normal}");
    }
}
