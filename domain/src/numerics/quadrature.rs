//! Gauss quadrature: averages over a normal variable and integrals over an interval.
//!
//! Both rules come from the three-term recurrence of their orthonormal polynomials (Golub and Welsch, *Calculation of
//! Gauss quadrature rules*, Math. Comp. 23, 1969). The nodes are the eigenvalues of the symmetric tridiagonal
//! recurrence matrix, found by bisection on the count of sign changes. The weights are the Christoffel numbers
//! `1/Σ pₖ(x)²`: a sum of positive terms, so that even a weight of 1e-50 has full relative precision. That matters
//! here, because likelihoods are summed as logarithms and a far node can dominate.

/// A quadrature rule: `∫ f ≈ Σ weights[j] · f(points[j])`.
#[derive(Debug, Clone, PartialEq)]
pub struct Rule {
    /// The nodes, ascending and symmetric about the middle.
    pub points: Vec<f64>,
    /// The weight of each node; all positive.
    pub weights: Vec<f64>,
}

impl Rule {
    /// Applies the rule to `f`.
    pub fn sum(&self, mut f: impl FnMut(f64) -> f64) -> f64 {
        self.points.iter().zip(&self.weights).map(|(&x, &w)| w * f(x)).sum()
    }
}

/// Gauss–Hermite rule in the probabilists' form with `count` nodes: the average of `f(Z)` over a standard normal `Z`.
/// The weights sum to 1; polynomials up to degree `2·count − 1` are averaged exactly. Up to about 300 nodes.
///
/// ```
/// use lapwatch_domain::numerics::quadrature::gauss_hermite;
/// let rule = gauss_hermite(21);
/// assert!((rule.sum(|z| z.powi(4)) - 3.0).abs() < 1e-12);
/// ```
#[must_use]
pub fn gauss_hermite(count: usize) -> Rule {
    symmetric_rule(count, 1.0, |k| (k as f64).sqrt())
}

/// Gauss–Legendre rule with `count` nodes on the interval from `from` to `to`.
///
/// ```
/// use lapwatch_domain::numerics::quadrature::gauss_legendre;
/// let rule = gauss_legendre(12, 0.0, 2.0);
/// assert!((rule.sum(f64::exp) - (2f64.exp() - 1.0)).abs() < 1e-13);
/// ```
#[must_use]
pub fn gauss_legendre(count: usize, from: f64, to: f64) -> Rule {
    let mut rule = symmetric_rule(count, 2.0, |k| {
        let k = k as f64;
        k / (4.0 * k * k - 1.0).sqrt()
    });
    let (half, middle) = (0.5 * (to - from), 0.5 * (from + to));
    for x in &mut rule.points {
        *x = middle + half * *x;
    }
    for w in &mut rule.weights {
        *w *= half;
    }
    rule
}

/// The Gauss rule of a symmetric weight function with integral `mass`, whose orthonormal polynomials satisfy
/// `b(k+1)·p(k+1) = x·p(k) − b(k)·p(k−1)`.
fn symmetric_rule(count: usize, mass: f64, coefficient: impl Fn(usize) -> f64) -> Rule {
    let off_diagonal: Vec<f64> = (1..count.max(1)).map(coefficient).collect();
    let mut points = vec![0.0; count];
    for index in 0..count / 2 {
        let node = eigenvalue(&off_diagonal, index);
        // Mirrored, not computed twice: the rule is exactly symmetric.
        points[index] = node;
        points[count - 1 - index] = -node;
    }
    let weights = points.iter().map(|&x| christoffel(&off_diagonal, mass, x)).collect();
    Rule { points, weights }
}

/// The eigenvalue with `index` smaller ones of the symmetric tridiagonal matrix with zero diagonal.
fn eigenvalue(off_diagonal: &[f64], index: usize) -> f64 {
    // Gershgorin: no eigenvalue lies beyond the largest sum of two neighbouring coefficients.
    let largest = off_diagonal.iter().copied().fold(0.0, f64::max);
    let (mut low, mut high) = (-2.0 * largest, 0.0);
    loop {
        let middle = 0.5 * (low + high);
        if middle <= low || middle >= high {
            return middle;
        }
        if smaller_eigenvalues(off_diagonal, middle) > index {
            high = middle;
        } else {
            low = middle;
        }
    }
}

/// How many eigenvalues are below `x`: the negative pivots of the factorized matrix (Sylvester's law of inertia).
fn smaller_eigenvalues(off_diagonal: &[f64], x: f64) -> usize {
    let mut pivot = -x;
    let mut count = usize::from(pivot < 0.0);
    for b in off_diagonal {
        // A pivot of exactly zero is nudged; the count stays right for a matrix changed by less than rounding.
        let safe = if pivot == 0.0 { f64::EPSILON * b } else { pivot };
        pivot = -x - b * b / safe;
        count += usize::from(pivot < 0.0);
    }
    count
}

/// The Christoffel number of node `x`.
fn christoffel(off_diagonal: &[f64], mass: f64, x: f64) -> f64 {
    let mut previous = 0.0;
    let mut current = 1.0 / mass.sqrt();
    let mut before = 0.0;
    let mut sum = current * current;
    for &b in off_diagonal {
        let next = (x * current - before * previous) / b;
        (previous, current, before) = (current, next, b);
        sum += current * current;
    }
    1.0 / sum
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Moments of the standard normal law: 1, 1, 3, 15, 105, … = (2m−1)!!.
    #[test]
    fn hermite_rules_have_exact_moments() {
        for count in [1, 2, 5, 21, 61] {
            let rule = gauss_hermite(count);
            assert_eq!(rule.points.len(), count);
            let mut moment = 1.0;
            for half in 0..count.min(12) {
                let computed = rule.sum(|z| z.powi(2 * half as i32));
                assert!((computed / moment - 1.0).abs() < 1e-11, "{count} nodes, moment {}", 2 * half);
                moment *= 2.0 * half as f64 + 1.0;
            }
        }
    }

    /// Abramowitz and Stegun table 25.10 (n = 5, physicists' form): x = 0.958572464613819 and 2.02018287045609.
    #[test]
    fn five_hermite_nodes() {
        let points = gauss_hermite(5).points;
        assert!((points[3] - 2f64.sqrt() * 0.958_572_464_613_819).abs() < 1e-14);
        assert!((points[4] - 2f64.sqrt() * 2.020_182_870_456_086).abs() < 1e-14);
    }

    #[test]
    fn tiny_weights_keep_their_precision() {
        // The outermost weight of 61 nodes, computed with mpmath at 60 digits.
        let outermost = gauss_hermite(61).weights[60];
        assert!((outermost / 9.37122876788357e-47 - 1.0).abs() < 1e-11, "{outermost:e}");
    }

    #[test]
    fn legendre_integrates_polynomials_exactly() {
        for count in 1..40 {
            let rule = gauss_legendre(count, -1.0, 1.0);
            for half in 0..count {
                let exact = 2.0 / (2.0 * half as f64 + 1.0);
                let computed = rule.sum(|x| x.powi(2 * half as i32));
                assert!((computed / exact - 1.0).abs() < 1e-12, "{count} nodes, power {}", 2 * half);
            }
        }
    }
}
