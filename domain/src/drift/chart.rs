//! The charts of one edge: baseline, two excursions, and what they amount to.

use std::mem;

use super::arl;
use super::belief::{Belief, Evidence, Levels};

/// Trials at full information that the running mean of information starts from: a young chart's limit is that of a chart
/// of edge-finding trials, which is on the safe side.
const PRIOR_TRIALS: f64 = 10.0;
/// A chart is held at this many limits, so that it can come back after a long shift has been mended.
const CEILING: f64 = 2.0;
/// What the formula of the limit leaves out, by simulation: it takes likelihood ratios as normal and the level as known.
///
/// Information per trial (in edge-finding trials), and the number of false alarms over the promised one that simulated healthy fleets
/// raise when the limit is computed for twice the promised run length. Bench `watch`, 240 units with 230 trials each at
/// every point; at half and at a quarter of the run length the ratios are the same.
const REALISED: [(f64, f64); 6] =
    [(0.01, 0.19), (0.22, 0.14), (0.33, 0.23), (0.55, 0.31), (0.75, 0.40), (1.06, 0.62)];
/// The run length for which [`REALISED`] was found, over the promised one.
const REALISED_AT: f64 = 2.0;
/// The number of false alarms that is aimed at, over the promised one.
const AIM: f64 = 0.65;
/// The information of one trial is held below this many edge-finding trials.
const GREATEST_INFORMATION: f64 = 2.0;

/// What a chart of one edge needs to know beforehand.
#[derive(Debug, Clone, Copy)]
pub(super) struct Plan {
    pub(super) levels: Levels,
    /// Required in-control average run length of one direction.
    pub(super) arl: f64,
    /// Variance of one edge-finding trial, noise included (K²).
    pub(super) edge_finding_variance: f64,
    pub(super) shift: f64,
    pub(super) baseline_trials: f64,
}

/// Rising or falling: the shifted story's offset in evidence columns is 2·shift or 0.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Way {
    Up,
    Down,
}

impl Way {
    pub(super) const BOTH: [Self; 2] = [Self::Up, Self::Down];

    fn offset(self, levels: &Levels) -> usize {
        match self {
            Self::Up => 2 * levels.shift,
            Self::Down => 0,
        }
    }
}

/// One CUSUM.
#[derive(Debug, Clone)]
struct Cusum {
    /// Sum of ln likelihood ratios since it last stood at zero.
    value: f64,
    /// The baseline as it was when the chart left zero, and with which trial (index in the segment) it did.
    before: Baseline,
    began: usize,
}

/// What is known of the level without any shift.
#[derive(Debug, Clone)]
pub(super) struct Baseline {
    /// Levels for each heat share, every row with a total of one.
    pub(super) rows: Belief,
    /// Evidence in it, in edge-finding trials.
    pub(super) effective_trials: f64,
}

/// How a trial sits with the baseline, before it is taken in.
#[derive(Debug, Clone, Default)]
pub(super) struct Outlook {
    /// Predictive probability for each heat share, level unmoved.
    pub(super) by_share: Vec<f64>,
    /// ln p₁/p₀ against the baseline for a rise and for a fall.
    pub(super) fresh: [f64; 2],
}

/// Information that trials have carried in this segment, in edge-finding trials: their number, sum, and sum of squares.
#[derive(Debug, Clone, Copy)]
struct Seen {
    trials: f64,
    sum: f64,
    squares: f64,
}

/// The charts of one edge.
#[derive(Debug, Clone)]
pub(super) struct Chart {
    pub(super) baseline: Baseline,
    cusums: [Cusum; 2],
    seen: Seen,
    /// Trials seen in this segment.
    pub(super) count: usize,
}

impl Chart {
    /// A chart that knows nothing.
    pub(super) fn new(nodes: usize, plan: &Plan) -> Self {
        let baseline = Baseline { rows: Belief::flat(nodes, &plan.levels), effective_trials: 0.0 };
        let cusum = Cusum { value: 0.0, before: baseline.clone(), began: 0 };
        let seen = Seen { trials: PRIOR_TRIALS, sum: PRIOR_TRIALS, squares: PRIOR_TRIALS };
        Self { cusums: [cusum.clone(), cusum], baseline, seen, count: 0 }
    }

    /// The columns of evidence that the next trial must fill.
    pub(super) fn columns(&self, levels: &Levels) -> (usize, usize) {
        let (from, to) = self.baseline.rows.window();
        (from, to + 2 * levels.shift)
    }

    /// The chart's value in one direction.
    pub(super) fn value(&self, way: Way) -> f64 {
        self.cusums[way as usize].value
    }

    /// The limit for the information that trials have carried so far.
    pub(super) fn limit(&self, plan: &Plan) -> f64 {
        let scale = plan.shift * plan.shift / plan.edge_finding_variance;
        let mean = scale * self.seen.sum / self.seen.trials;
        let by_jump = scale * self.seen.squares / self.seen.sum;
        let corrected = plan.arl * REALISED_AT * realised(self.seen.sum / self.seen.trials) / AIM;
        arl::likelihood_ratio_limit(mean, by_jump, corrected)
    }

    /// Index in the segment of the trial with which the chart left zero.
    pub(super) fn began(&self, way: Way) -> usize {
        self.cusums[way as usize].began
    }

    /// How the trial sits with the baseline; `weights` are those of the heat shares.
    pub(super) fn look(&self, evidence: &Evidence, weights: &[f64], plan: &Plan, outlook: &mut Outlook) {
        let shift = plan.levels.shift;
        outlook.by_share.clear();
        let mut shifted = [0.0; 2];
        let mut unmoved = 0.0;
        for (node, &weight) in weights.iter().enumerate() {
            if weight <= 0.0 {
                outlook.by_share.push(0.0);
                continue;
            }
            let predicted = self.baseline.rows.predict(node, evidence, shift);
            outlook.by_share.push(predicted);
            unmoved += weight * predicted;
            for way in Way::BOTH {
                shifted[way as usize] +=
                    weight * self.baseline.rows.predict(node, evidence, way.offset(&plan.levels));
            }
        }
        outlook.fresh = shifted.map(|moved| ln_ratio(moved, unmoved));
    }

    /// Moves both CUSUMs by one trial, under this limit.
    pub(super) fn step(&mut self, outlook: &Outlook, limit: f64) {
        let ceiling = CEILING * limit;
        for (cusum, fresh) in self.cusums.iter_mut().zip(outlook.fresh) {
            if cusum.value == 0.0 && fresh > 0.0 {
                cusum.before.rows.copy_from(&self.baseline.rows);
                cusum.before.effective_trials = self.baseline.effective_trials;
                cusum.began = self.count;
            }
            cusum.value = (cusum.value + fresh).clamp(0.0, ceiling);
        }
        self.count += 1;
    }

    /// Takes the trial into the baseline, unless that is complete or what moved is not to be learnt (`pause`), and counts
    /// its information.
    pub(super) fn learn(
        &mut self,
        evidence: &Evidence,
        outlook: &Outlook,
        weights: &[f64],
        plan: &Plan,
        pause: bool,
    ) {
        let learning = !pause && self.baseline.effective_trials < plan.baseline_trials;
        if learning {
            self.baseline.rows.absorb_by_row(evidence, plan.levels.shift, &outlook.by_share);
        }
        let information = self.information_of(evidence, weights, plan);
        self.seen.trials += 1.0;
        self.seen.sum += information;
        self.seen.squares += information * information;
        if learning {
            self.baseline.effective_trials += information;
        }
    }

    /// Goes back to what was known before the chart left zero, since what came after belongs to the shift, and returns what
    /// is so set aside.
    pub(super) fn forget_since_zero(&mut self, way: Way) -> Baseline {
        mem::replace(&mut self.baseline, self.cusums[way as usize].before.clone())
    }

    /// The shift was none: the chart is back at zero, and what was set aside counts again.
    pub(super) fn remember(&mut self, way: Way, set_aside: Baseline) {
        self.cusums[way as usize].value = 0.0;
        self.baseline = set_aside;
    }

    /// What a trial tells of the level, in edge-finding trials: the curvature of its ln-likelihood at the level, taken over
    /// ±δ, times the variance of an edge-finding trial. For a normal observation of variance s² that is just the ratio of the
    /// variances; for an open trial it is what the bend of its likelihood is worth.
    fn information_of(&self, evidence: &Evidence, weights: &[f64], plan: &Plan) -> f64 {
        let (mean, _) = self.baseline.rows.moments(&plan.levels, weights);
        let column = ((mean - plan.levels.start) / plan.levels.step).round() as usize;
        let shift = plan.levels.shift;
        let ln = |column: usize| evidence.at(column, weights).max(f64::MIN_POSITIVE).ln();
        let bend = 2.0 * ln(column + shift) - ln(column) - ln(column + 2 * shift);
        (bend * plan.edge_finding_variance / (plan.shift * plan.shift)).clamp(0.0, GREATEST_INFORMATION)
    }
}

/// [`REALISED`] at so much information per trial, straight between its points.
fn realised(information: f64) -> f64 {
    let above = REALISED.partition_point(|(at, _)| *at < information).clamp(1, REALISED.len() - 1);
    let ((from, low), (to, high)) = (REALISED[above - 1], REALISED[above]);
    let share = ((information - from) / (to - from)).clamp(0.0, 1.0);
    low + share * (high - low)
}

/// ln of a ratio of probabilities; zero when both are beyond the range of numbers.
fn ln_ratio(above: f64, below: f64) -> f64 {
    if above > 0.0 && below > 0.0 { (above / below).ln() } else { 0.0 }
}
