//! Signals: where they begin, how far the edges have moved since, and how they go on.

use chrono::{DateTime, Utc};

use super::Run;
use crate::drift::belief::{Evidence, Levels};
use crate::drift::chart::Way;
use crate::drift::course::{Course, Since, Told};
use crate::drift::onset::{ShiftEstimator, onset_range};
use crate::drift::{ChartSettings, Direction, FadeRate, Onset, Signal, SignalEnd};
use crate::quantity::{Temperature, TemperatureDifference};

/// Largest shift that is estimated, in steps of the grid.
const GREATEST_SHIFT_STEPS: usize = 80;
/// A slow move begins before the chart leaves zero: its course is looked for from so many trials earlier on.
const EARLIER_ONSETS: usize = 40;

/// A signal that stands: its index, the trial (in the class) with which the shift began most likely, and the first and
/// last with which it may have.
#[derive(Debug, Clone, Copy)]
pub(super) struct Standing {
    pub(super) signal: usize,
    onset: usize,
    range: (usize, usize),
}

/// Levels as far as the greatest shift beyond a baseline, and the columns of evidence that these are.
#[derive(Debug, Clone, Copy)]
struct Wide {
    levels: Levels,
    columns: (usize, usize),
}

impl SignalEnd {
    /// When the signal ended.
    #[must_use]
    pub const fn at(self) -> DateTime<Utc> {
        match self {
            Self::Service { at } | Self::Subsided { at, .. } => at,
        }
    }
}

impl Run {
    /// A chart has crossed its limit with the present trial.
    pub(super) fn begin_signal(&mut self, position: usize, way: Way) {
        let start = self.segment_start;
        let levels = self.levels();
        let present = self.trials[self.trials.len() - 1];
        let edge = &mut self.edges[position];
        let last_zero = edge.chart.began(way).saturating_sub(1);
        let (first, likeliest, last) = onset_range(&edge.fresh[way as usize], last_zero);
        edge.standing[way as usize] = Some(Standing {
            signal: edge.signals.len(),
            onset: start + likeliest,
            range: (start + first, start + last),
        });
        edge.signals.push(Signal {
            direction: way.direction(),
            trial: present.trial,
            at: present.at,
            onset_first: self.trials[start + first],
            onset_last: self.trials[start + last],
            shift: TemperatureDifference::ZERO,
            shift_sd: TemperatureDifference::ZERO,
            levels,
            other_shift: (TemperatureDifference::ZERO, TemperatureDifference::ZERO),
            chart: edge.chart.value(way),
            limit: edge.limit,
            course: None,
            closed_at: None,
            end: None,
        });
        edge.set_aside[way as usize] = Some(edge.chart.forget_since_zero(way));
    }

    /// Levels of both edges as the charts have them now.
    fn levels(&self) -> (Temperature, Temperature) {
        let [lower, upper] = self.edges.each_ref().map(|edge| {
            let (mean, _) = edge.chart.baseline.rows.moments(&edge.plan.levels, &self.weights);
            Temperature::from_celsius(mean)
        });
        (lower, upper)
    }

    /// Ends the signal that stands, if one does, and estimates its shift from the trials so far.
    pub(super) fn end_signal(&mut self, position: usize, way: Way, end: SignalEnd, settings: &ChartSettings) {
        if let Some(standing) = self.edges[position].standing[way as usize].take() {
            self.look_back(position, standing, way, settings);
            let signal = &mut self.edges[position].signals[standing.signal];
            signal.course = None;
            signal.end = Some(end);
        }
    }

    /// What all trials so far say of a signal: how far both edges have moved, since when, and how they go on.
    pub(super) fn look_back(
        &mut self,
        position: usize,
        standing: Standing,
        way: Way,
        settings: &ChartSettings,
    ) {
        let wide = self.wide(position);
        let earliest = standing.range.0.saturating_sub(EARLIER_ONSETS).max(self.segment_start);
        let mut estimator = ShiftEstimator::new(self.weights.len(), &wide.levels);
        let mut ln_likelihoods = Vec::new();
        self.tell_since(position, earliest, settings, |trial, evidence, weights| {
            if trial >= standing.onset {
                estimator.add(evidence, wide.columns);
            }
            let ln = |column| evidence.at(column, weights).max(f64::MIN_POSITIVE).ln();
            ln_likelihoods.push((wide.columns.0..wide.columns.1).map(ln).collect());
        });
        let (shift, shift_sd) = self.shift(position, &estimator);
        // The other edge's baseline has gone on learning if no signal of its own stands: a little of its move is in it.
        let other_shift = self.shift_since(1 - position, standing.onset, settings);
        let course = self.course(position, standing, (way, settings.fade_rate), (earliest, &ln_likelihoods));
        let signal = &mut self.edges[position].signals[standing.signal];
        signal.shift = shift;
        signal.shift_sd = shift_sd;
        signal.other_shift = other_shift;
        if let Some((course, (first, last))) = course {
            signal.course = Some(course);
            signal.onset_first = first;
            signal.onset_last = last;
        }
    }

    /// How far an edge has moved with the trials since `onset`, and the standard deviation of that.
    fn shift_since(
        &mut self,
        position: usize,
        onset: usize,
        settings: &ChartSettings,
    ) -> (TemperatureDifference, TemperatureDifference) {
        let wide = self.wide(position);
        let mut estimator = ShiftEstimator::new(self.weights.len(), &wide.levels);
        self.tell_since(position, onset, settings, |_, evidence, _| estimator.add(evidence, wide.columns));
        self.shift(position, &estimator)
    }

    fn shift(
        &self,
        position: usize,
        estimator: &ShiftEstimator,
    ) -> (TemperatureDifference, TemperatureDifference) {
        let baseline = &self.edges[position].chart.baseline.rows;
        let (mean, sd) = estimator.estimate(baseline, &self.weights, &self.wide(position).levels);
        (TemperatureDifference::from_kelvin(mean), TemperatureDifference::from_kelvin(sd))
    }

    /// The levels that an edge may have moved to.
    fn wide(&self, position: usize) -> Wide {
        let edge = &self.edges[position];
        let levels = Levels { shift: GREATEST_SHIFT_STEPS, ..edge.plan.levels };
        let (from, to) = edge.chart.baseline.rows.window();
        Wide { levels, columns: (from, to + 2 * levels.shift) }
    }

    /// Hands over what each of the latest trials from `first` on says of an edge: the trial's index, the evidence in the
    /// columns of [`Self::wide`], and the weights of the heat shares.
    fn tell_since(
        &mut self,
        position: usize,
        first: usize,
        settings: &ChartSettings,
        mut tell: impl FnMut(usize, &Evidence, &[f64]),
    ) {
        let wide = self.wide(position);
        let latest = std::mem::take(&mut self.latest);
        let first_kept = self.trials.len() - latest.len();
        let mut evidence = Evidence::default();
        for (kept, trial) in latest.iter().enumerate().skip(first.saturating_sub(first_kept)) {
            let offset = trial.offsets.of(self.edges[position].edge);
            let noise = libm::hypot(self.conditions(trial.sheet, trial.speed, settings), offset.sd.kelvin());
            let maps = (&self.maps, &self.weights[..], offset.mean.kelvin());
            let profile = &trial.profiles[position];
            self.smoother.evidence(profile, noise, maps, &wide.levels, wide.columns, &mut evidence);
            tell(first_kept + kept, &evidence, &self.weights);
        }
        self.latest = latest;
    }

    /// How an edge goes on moving, and the first and last trial with which it may have begun, by the ln-likelihoods of the
    /// latest trials since `earliest`.
    fn course(
        &self,
        position: usize,
        standing: Standing,
        (way, fade_rate): (Way, FadeRate),
        (earliest, ln_likelihoods): (usize, &[Vec<f64>]),
    ) -> Option<(Course, (Onset, Onset))> {
        let Wide { levels, columns } = self.wide(position);
        let origin = self.trials[earliest].at;
        let day = |at: DateTime<Utc>| (at - origin).as_seconds_f64() / 86_400.0;
        // The move may have begun at any time after the trial before the onset.
        let onsets: Vec<f64> = (earliest..=standing.range.1)
            .map(|at| day(self.trials[at.saturating_sub(1).max(earliest)].at))
            .collect();
        let told = &self.trials[self.trials.len() - ln_likelihoods.len()..];
        let trials: Vec<Told<'_>> = told
            .iter()
            .zip(ln_likelihoods)
            .map(|(trial, ln_likelihood)| Told { day: day(trial.at), ln_likelihood })
            .collect();
        let (course, (first, last)) = Course::since(&Since {
            trials: &trials,
            grid: (levels.start + levels.step * (columns.0 as f64 - levels.shift as f64), levels.step),
            before: self.edges[position].chart.baseline.rows.moments(&levels, &self.weights),
            onsets: &onsets,
            direction: way.direction(),
            fade_rate,
            at: self.trials.last()?.at,
        })?;
        // An onset after one trial shows first in the next.
        let after = |onset: f64| {
            let next = earliest + self.trials[earliest..].partition_point(|trial| day(trial.at) <= onset);
            self.trials[next.min(standing.range.1)]
        };
        Some((course, (after(first), after(last))))
    }
}

impl Way {
    const fn direction(self) -> Direction {
        match self {
            Self::Up => Direction::Up,
            Self::Down => Direction::Down,
        }
    }
}
