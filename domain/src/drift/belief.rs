//! A grid posterior of the reference level θ and the heat share φ.

/// Share of the mass below which the outermost levels of a belief are given up.
const TRIM: f64 = 1e-10;

/// The levels θ that a series considers: `count` of them from `start`, `step` apart, in °C at reference conditions.
///
/// The evidence of a trial is worked out on the same levels and, for the shifted hypotheses, `shift` steps beyond
/// either end.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Levels {
    pub(super) start: f64,
    pub(super) step: f64,
    pub(super) count: usize,
    /// Steps that make up the shift δ.
    pub(super) shift: usize,
}

impl Levels {
    /// Length of one row of evidence.
    pub(super) fn evidence_len(&self) -> usize {
        self.count + 2 * self.shift
    }
}

/// How likely a trial's strips are for each heat share (rows) and level (columns, from `shift` steps below the first
/// level to `shift` steps above the last).
#[derive(Debug, Clone, Default)]
pub(super) struct Evidence {
    pub(super) rows: Vec<f64>,
    pub(super) row_len: usize,
}

impl Evidence {
    /// The likelihoods of row `node` when the level is shifted by `offset − shift` steps.
    fn row(&self, node: usize, offset: usize) -> &[f64] {
        &self.rows[node * self.row_len + offset..(node + 1) * self.row_len]
    }

    /// The likelihood at one level, averaged over the heat shares with `weights`; `column` counts from the first
    /// column.
    pub(super) fn at(&self, column: usize, weights: &[f64]) -> f64 {
        weights
            .iter()
            .enumerate()
            .map(|(node, weight)| weight * self.rows[node * self.row_len + column])
            .sum()
    }
}

/// Probability of each (φ, θ), row by row; only columns `from..to` can differ from zero.
#[derive(Debug, Clone)]
pub(super) struct Belief {
    mass: Vec<f64>,
    count: usize,
    from: usize,
    to: usize,
}

impl Belief {
    /// The same probability for every level, in every row a total of one.
    pub(super) fn flat(nodes: usize, levels: &Levels) -> Self {
        let count = levels.count;
        Self { mass: vec![1.0 / count as f64; nodes * count], count, from: 0, to: count }
    }

    /// The first column that may hold mass, and the one after the last.
    pub(super) fn window(&self) -> (usize, usize) {
        (self.from, self.to)
    }

    fn row(&self, node: usize) -> &[f64] {
        &self.mass[node * self.count + self.from..node * self.count + self.to]
    }

    /// Σ over levels of mass times evidence shifted by `offset − shift` steps, for one heat share.
    pub(super) fn predict(&self, node: usize, evidence: &Evidence, offset: usize) -> f64 {
        dot(self.row(node), &evidence.row(node, offset + self.from)[..self.to - self.from])
    }

    /// Takes the evidence in row by row, each row keeping a total of one; `predicted` are the rows' own predictive
    /// probabilities; rows that predict nothing are left alone.
    pub(super) fn absorb_by_row(&mut self, evidence: &Evidence, offset: usize, predicted: &[f64]) {
        for (node, &share) in predicted.iter().enumerate() {
            if share > 0.0 {
                self.scale_row(node, evidence, offset, share);
            }
        }
        self.trim(predicted);
    }

    fn scale_row(&mut self, node: usize, evidence: &Evidence, offset: usize, predicted: f64) {
        let (from, to) = (self.from, self.to);
        let likelihood = &evidence.row(node, offset + from)[..to - from];
        let scale = predicted.recip();
        let row = &mut self.mass[node * self.count + from..node * self.count + to];
        for (mass, likely) in row.iter_mut().zip(likelihood) {
            *mass *= likely * scale;
        }
    }

    /// Becomes a copy of `other`, without touching what neither holds.
    pub(super) fn copy_from(&mut self, other: &Belief) {
        (self.from, self.to) = (other.from, other.to);
        for (mine, theirs) in self.mass.chunks_exact_mut(self.count).zip(other.mass.chunks_exact(self.count))
        {
            mine[other.from..other.to].copy_from_slice(&theirs[other.from..other.to]);
        }
    }

    /// Gives up the outermost columns that hold next to nothing in every row that predicts something.
    fn trim(&mut self, predicted: &[f64]) {
        let (mass, count) = (&self.mass, self.count);
        let empty = |column: usize| {
            predicted
                .iter()
                .enumerate()
                .all(|(node, &share)| share <= 0.0 || mass[node * count + column] < TRIM)
        };
        while self.to - self.from > 1 && empty(self.from) {
            self.from += 1;
        }
        while self.to - self.from > 1 && empty(self.to - 1) {
            self.to -= 1;
        }
    }

    /// Mean and standard deviation of the level (in °C and K) for one heat share.
    pub(super) fn row_moments(&self, levels: &Levels, node: usize) -> (f64, f64) {
        let (mut total, mut first, mut second) = (0.0, 0.0, 0.0);
        for (j, mass) in self.row(node).iter().enumerate() {
            let step = (self.from + j) as f64;
            total += mass;
            first += mass * step;
            second += mass * step * step;
        }
        let mean = first / total;
        let variance = (second / total - mean * mean).max(0.0);
        (levels.start + levels.step * mean, levels.step * variance.sqrt())
    }

    /// Mean and standard deviation of the level (in °C and K), the rows weighted by `weights`.
    pub(super) fn moments(&self, levels: &Levels, weights: &[f64]) -> (f64, f64) {
        let (mut total, mut first, mut second) = (0.0, 0.0, 0.0);
        for (node, weight) in weights.iter().enumerate().filter(|(_, weight)| **weight > 0.0) {
            for (j, mass) in self.row(node).iter().enumerate() {
                let step = (self.from + j) as f64;
                total += weight * mass;
                first += weight * mass * step;
                second += weight * mass * step * step;
            }
        }
        let mean = first / total;
        let variance = (second / total - mean * mean).max(0.0);
        (levels.start + levels.step * mean, levels.step * variance.sqrt())
    }
}

/// Scalar product in eight lanes, so that the compiler may use vector registers; the order of summation is fixed.
fn dot(a: &[f64], b: &[f64]) -> f64 {
    let mut lanes = [0.0; 8];
    let (a_chunks, b_chunks) = (a.chunks_exact(8), b.chunks_exact(8));
    let rest: f64 = a_chunks.remainder().iter().zip(b_chunks.remainder()).map(|(x, y)| x * y).sum();
    for (x, y) in a_chunks.zip(b_chunks) {
        for lane in 0..8 {
            lanes[lane] += x[lane] * y[lane];
        }
    }
    lanes.iter().sum::<f64>() + rest
}
