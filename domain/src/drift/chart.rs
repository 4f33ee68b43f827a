//! The charts of one edge: baseline, two excursions, and what they amount to.

use super::arl;
use super::belief::{Belief, Evidence, Levels};

/// Trials at full information that the running mean of information starts from: a young chart's limit is that of a chart
/// of edge-finding trials, which is on the safe side.
const PRIOR_TRIALS: f64 = 10.0;
/// A chart is held at this many limits, so that it can come back after a long shift has been mended.
const CEILING: f64 = 2.0;
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

/// The stay of one CUSUM above zero.
#[derive(Debug, Clone)]
struct Excursion {
    /// ln Bayes factor of the shifted story; zero between excursions.
    value: f64,
    /// Both stories since the excursion began. Meaningless at zero.
    unmoved: Belief,
    moved: Belief,
    /// The baseline as it was before the excursion, and with which trial (index in the segment) that began.
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

/// The charts of one edge.
#[derive(Debug, Clone)]
pub(super) struct Chart {
    pub(super) baseline: Baseline,
    excursions: [Excursion; 2],
    /// Trials and information (in edge-finding trials) seen in this segment, the prior included.
    trials: f64,
    information: f64,
    /// Trials seen in this segment.
    pub(super) count: usize,
}

impl Chart {
    /// A chart that knows nothing.
    pub(super) fn new(nodes: usize, plan: &Plan) -> Self {
        let baseline = Baseline { rows: Belief::flat(nodes, &plan.levels), effective_trials: 0.0 };
        let excursion = Excursion {
            value: 0.0,
            unmoved: baseline.rows.clone(),
            moved: baseline.rows.clone(),
            before: baseline.clone(),
            began: 0,
        };
        Self {
            excursions: [excursion.clone(), excursion],
            baseline,
            trials: PRIOR_TRIALS,
            information: PRIOR_TRIALS,
            count: 0,
        }
    }

    /// The columns of evidence that the next trial must fill.
    pub(super) fn columns(&self, levels: &Levels) -> (usize, usize) {
        let (mut from, mut to) = self.baseline.rows.window();
        for excursion in self.excursions.iter().filter(|excursion| excursion.value > 0.0) {
            for belief in [&excursion.unmoved, &excursion.moved] {
                from = from.min(belief.window().0);
                to = to.max(belief.window().1);
            }
        }
        (from, to + 2 * levels.shift)
    }

    /// The chart's value in one direction.
    pub(super) fn value(&self, way: Way) -> f64 {
        self.excursions[way as usize].value
    }

    /// The limit for the information that trials have carried so far.
    pub(super) fn limit(&self, plan: &Plan) -> f64 {
        let per_trial = self.information / self.trials;
        arl::likelihood_ratio_limit(
            per_trial * plan.shift * plan.shift / plan.edge_finding_variance,
            plan.arl,
        )
    }

    /// Index in the segment of the trial that began the present excursion.
    pub(super) fn began(&self, way: Way) -> usize {
        self.excursions[way as usize].began
    }

    /// The baseline before the present excursion.
    pub(super) fn before(&self, way: Way) -> &Baseline {
        &self.excursions[way as usize].before
    }

    /// How the trial sits with the baseline; `weights` are those of the heat shares.
    pub(super) fn look(&self, evidence: &Evidence, weights: &[f64], plan: &Plan, outlook: &mut Outlook) {
        let shift = plan.levels.shift;
        outlook.by_share.clear();
        let mut shifted = [0.0; 2];
        let mut unmoved = 0.0;
        for (node, weight) in weights.iter().enumerate() {
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

    /// Moves both CUSUMs by one trial; `standing` is the direction of a signal that stands, if any: that chart follows the
    /// baseline trial by trial, so that it falls as soon as the trials do.
    pub(super) fn step(
        &mut self,
        evidence: &Evidence,
        outlook: &Outlook,
        weights: &[f64],
        plan: &Plan,
        standing: [bool; 2],
        ceiling: f64,
    ) {
        let index = self.count;
        for way in Way::BOTH {
            let baseline = &self.baseline;
            let excursion = &mut self.excursions[way as usize];
            let fresh = outlook.fresh[way as usize];
            if standing[way as usize] {
                excursion.value = (excursion.value + fresh).clamp(0.0, ceiling * CEILING);
            } else if excursion.value > 0.0 {
                let moved = excursion.moved.absorb(evidence, way.offset(&plan.levels));
                let unmoved = excursion.unmoved.absorb(evidence, plan.levels.shift);
                excursion.value = (excursion.value + ln_ratio(moved, unmoved)).max(0.0);
            } else if fresh > 0.0 {
                excursion.begin(baseline, weights, index);
                excursion.moved.absorb(evidence, way.offset(&plan.levels));
                excursion.unmoved.absorb(evidence, plan.levels.shift);
                excursion.value = fresh;
            }
        }
        self.count += 1;
    }

    /// Takes the trial into the baseline, if that is still learning, and counts its information.
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
        self.trials += 1.0;
        self.information += information;
        if learning {
            self.baseline.effective_trials += information;
        }
    }

    /// Goes back to what was known before the present excursion: what came after belongs to the shift.
    pub(super) fn forget_excursion(&mut self, way: Way) {
        self.baseline.clone_from(&self.excursions[way as usize].before);
    }

    /// The chart begins anew at zero, with the baseline it has.
    pub(super) fn zero(&mut self, way: Way) {
        self.excursions[way as usize].value = 0.0;
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

impl Excursion {
    fn begin(&mut self, baseline: &Baseline, weights: &[f64], index: usize) {
        self.unmoved.become_weighted(&baseline.rows, weights);
        self.moved.clone_from(&self.unmoved);
        self.before.clone_from(baseline);
        self.began = index;
    }
}

/// ln of a ratio of probabilities; zero when both are beyond the range of numbers.
fn ln_ratio(above: f64, below: f64) -> f64 {
    if above > 0.0 && below > 0.0 { (above / below).ln() } else { 0.0 }
}
