//! Small symmetric positive definite systems.

/// The lower triangle `L` of `A = L·Lᵀ`; `None` when `A` is not positive definite to rounding.
#[derive(Debug)]
pub(super) struct Cholesky(Vec<Vec<f64>>);

impl Cholesky {
    pub(super) fn new(matrix: &[Vec<f64>]) -> Option<Self> {
        let size = matrix.len();
        let mut lower = vec![vec![0.0; size]; size];
        for row in 0..size {
            for column in 0..=row {
                let known: f64 = (0..column).map(|k| lower[row][k] * lower[column][k]).sum();
                let rest = matrix[row][column] - known;
                lower[row][column] = if row == column {
                    // Relative to the diagonal: covariates may be on any scale.
                    (rest > 1e-13 * matrix[row][row]).then(|| rest.sqrt())?
                } else {
                    rest / lower[column][column]
                };
            }
        }
        Some(Self(lower))
    }

    /// Half the logarithm of the determinant.
    pub(super) fn half_ln_determinant(&self) -> f64 {
        (0..self.0.len()).map(|index| libm::log(self.0[index][index])).sum()
    }

    /// `A⁻¹·v`.
    pub(super) fn solve(&self, vector: &[f64]) -> Vec<f64> {
        let (lower, size) = (&self.0, vector.len());
        let mut solution = vector.to_vec();
        for row in 0..size {
            let known: f64 = (0..row).map(|k| lower[row][k] * solution[k]).sum();
            solution[row] = (solution[row] - known) / lower[row][row];
        }
        for row in (0..size).rev() {
            let known: f64 = (row + 1..size).map(|k| lower[k][row] * solution[k]).sum();
            solution[row] = (solution[row] - known) / lower[row][row];
        }
        solution
    }

    /// `A⁻¹`.
    pub(super) fn inverse(&self) -> Vec<Vec<f64>> {
        let size = self.0.len();
        let unit = |index| (0..size).map(|other| f64::from(u8::from(other == index))).collect::<Vec<_>>();
        (0..size).map(|index| self.solve(&unit(index))).collect()
    }
}
