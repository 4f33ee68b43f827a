//! Signals: where they begin, how far the edges have moved since, and how they go on.

use chrono::{DateTime, Utc};

use super::Run;
use crate::drift::belief::{Evidence, Levels};
use crate::drift::chart::Way;
use crate::drift::course::{Course, Since, Told};
use crate::drift::onset::{ShiftEstimator, onset_range};
use crate::drift::{ChartSettings, Direction, Onset, Signal, SignalEnd};
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
        let (shift, shift_sd) = self.shift_since(position, standing.onset, settings);
        // The other edge's baseline has gone on learning if no signal of its own stands: a little of its move is in it.
        let other_shift = self.shift_since(1 - position, standing.onset, settings);
        let course = self.course(position, standing, way, settings);
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
        let levels = Levels { shift: GREATEST_SHIFT_STEPS, ..self.edges[position].plan.levels };
        let (from, to) = self.edges[position].chart.baseline.rows.window();
        let columns = (from, to + 2 * levels.shift);
        let mut estimator = ShiftEstimator::new(self.weights.len(), &levels);
        let mut evidence = Evidence::default();
        let since = (self.trials.len() - onset).min(self.latest.len());
        let latest = std::mem::take(&mut self.latest);
        for trial in latest.iter().skip(latest.len() - since) {
            let noise = self.conditions(trial.sheet, trial.speed, settings);
            self.smoother.evidence(
                &trial.profiles[position],
                noise,
                (&self.maps, &self.weights),
                &levels,
                columns,
                &mut evidence,
            );
            estimator.add(&evidence, columns);
        }
        self.latest = latest;
        let baseline = &self.edges[position].chart.baseline.rows;
        let (mean, sd) = estimator.estimate(baseline, &self.weights, &levels);
        (TemperatureDifference::from_kelvin(mean), TemperatureDifference::from_kelvin(sd))
    }

    /// How an edge goes on moving, and the first and last trial with which it may have begun.
    fn course(
        &mut self,
        position: usize,
        standing: Standing,
        way: Way,
        settings: &ChartSettings,
    ) -> Option<(Course, (Onset, Onset))> {
        let levels = Levels { shift: GREATEST_SHIFT_STEPS, ..self.edges[position].plan.levels };
        let (from, to) = self.edges[position].chart.baseline.rows.window();
        let columns = from..to + 2 * levels.shift;
        let earliest = standing.range.0.saturating_sub(EARLIER_ONSETS).max(self.segment_start);
        let latest = std::mem::take(&mut self.latest);
        let first_kept = self.trials.len() - latest.len();
        let origin = self.trials[earliest].at;
        let day = |at: DateTime<Utc>| (at - origin).as_seconds_f64() / 86_400.0;
        // The move may have begun at any time after the trial before the onset.
        let onsets: Vec<f64> = (earliest..=standing.range.1)
            .map(|at| day(self.trials[at.saturating_sub(1).max(earliest)].at))
            .collect();
        let days: Vec<f64> = self.trials[first_kept..].iter().map(|trial| day(trial.at)).collect();
        let mut evidence = Evidence::default();
        let mut likelihoods: Vec<Vec<f64>> = Vec::with_capacity(latest.len());
        for trial in &latest {
            let noise = self.conditions(trial.sheet, trial.speed, settings);
            let profile = &trial.profiles[position];
            let maps = (&self.maps, &self.weights[..]);
            self.smoother.evidence(
                profile,
                noise,
                maps,
                &levels,
                (columns.start, columns.end),
                &mut evidence,
            );
            let ln = |column| evidence.at(column, &self.weights).max(f64::MIN_POSITIVE).ln();
            likelihoods.push(columns.clone().map(ln).collect());
        }
        self.latest = latest;
        let trials: Vec<Told<'_>> = days
            .into_iter()
            .zip(&likelihoods)
            .enumerate()
            .filter(|(kept, _)| first_kept + kept >= earliest)
            .map(|(_, (day, ln_likelihood))| Told { day, ln_likelihood })
            .collect();
        let (course, (first, last)) = Course::since(&Since {
            trials: &trials,
            grid: (levels.start + levels.step * (from as f64 - levels.shift as f64), levels.step),
            before: self.edges[position].chart.baseline.rows.moments(&levels, &self.weights),
            onsets: &onsets,
            direction: way.direction(),
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
