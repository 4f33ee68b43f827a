//! One pass over the trials of one material class: the order of events.

mod moved;

use std::collections::VecDeque;

use chrono::{DateTime, Utc};
use moved::Standing;
use uuid::Uuid;

use super::belief::{Evidence, Levels};
use super::chart::{Baseline, Chart, Outlook, Plan, Way};
use super::evidence::{Maps, Smoother};
use super::interval::{interval, likelihoods, open_ends};
use super::knowledge::{Knowledge, KnowledgePart, LevelPart};
use super::{
    ChartSettings, EdgeSeries, HistoryEntry, Interval, Level, Offsets, Onset, Point, Signal, SignalEnd,
    UnitSeries,
};
use crate::edges::{Edge, PROFILE_SPACING_KELVIN, PROFILE_START_CELSIUS, Profile};
use crate::heat::{self, HeatShare};
use crate::membrane::MaterialClass;
use crate::quantity::{Quantity, Speed, SpeedUnit, Temperature, TemperatureDifference};

/// The shift δ in steps of the grid of levels.
const SHIFT_STEPS: usize = 10;
/// How far levels at reference conditions may lie outside the grid of the profiles, in K.
const BEYOND_PROFILE_K: f64 = 40.0;
/// A shift is estimated from at most this many of the latest trials.
const SHIFT_TRIALS: usize = 40;
/// A restart keeps what was learnt of the heat share to this power: service may have changed it, but rarely by much.
const KEPT_AT_RESTART: f64 = 0.5;
/// A heat share less probable than this is given up until the next restart.
const NEGLIGIBLE: f64 = 1e-8;
/// A signal ends when its chart falls below this share of the limit.
const SUBSIDED: f64 = 0.5;

/// One pass over the trials of one class, between two of them.
#[derive(Debug, Clone)]
pub(super) struct Run {
    class: MaterialClass,
    shares: Vec<HeatShare>,
    /// Present probability of each heat share.
    weights: Vec<f64>,
    edges: [EdgeRun; 2],
    maps: Maps,
    smoother: Smoother,
    scratch: Vec<f64>,
    /// Every trial, the present one included.
    trials: Vec<Onset>,
    /// The latest trials, from which shifts are estimated.
    latest: VecDeque<Kept>,
    segment: u32,
    segment_start: usize,
}

/// What is kept of one of the latest trials: what a shift is estimated from, and what was known before it.
#[derive(Debug, Clone)]
struct Kept {
    before: Knowledge,
    sheet: Option<Temperature>,
    speed: Speed,
    offsets: Offsets,
    profiles: [Profile; 2],
}

/// The state of one edge during the pass.
#[derive(Debug, Clone)]
struct EdgeRun {
    edge: Edge,
    plan: Plan,
    chart: Chart,
    evidence: Evidence,
    outlook: Outlook,
    /// The limit that applies to the present trial.
    limit: f64,
    /// What the present trial alone says.
    interval: Interval,
    /// ln likelihood ratios against the baseline, per direction, in this segment.
    fresh: [Vec<f64>; 2],
    /// Index in `signals` of the signal that stands, per direction.
    standing: [Option<Standing>; 2],
    /// What a signal has set aside of the baseline, per direction.
    set_aside: [Option<Baseline>; 2],
    points: Vec<Point>,
    signals: Vec<Signal>,
}

impl EdgeRun {
    fn new(edge: Edge, (profile_points, shares): (usize, usize), settings: &ChartSettings) -> Self {
        let shift = settings.shift.kelvin();
        let step = shift / SHIFT_STEPS as f64;
        let width = PROFILE_SPACING_KELVIN * profile_points.saturating_sub(1) as f64 + 2.0 * BEYOND_PROFILE_K;
        let levels = Levels {
            start: PROFILE_START_CELSIUS - BEYOND_PROFILE_K,
            step,
            count: (width / step).ceil() as usize + 1,
            shift: SHIFT_STEPS,
        };
        let share = match edge {
            Edge::Lower => settings.lower_share,
            Edge::Upper => 1.0 - settings.lower_share,
        };
        let (sd, noise) = (settings.edge_finding_sd.kelvin(), settings.trial_noise.kelvin());
        let plan = Plan {
            levels,
            // Rates add: the unit's is divided among the edges by share, an edge's evenly between its directions.
            arl: 2.0 * settings.promise_arl / share,
            edge_finding_variance: sd * sd + noise * noise,
            shift,
            baseline_trials: settings.baseline_trials,
        };
        let chart = Chart::new(shares, &plan);
        let zero = Temperature::from_celsius(0.0);
        Self {
            edge,
            plan,
            evidence: Evidence::default(),
            outlook: Outlook::default(),
            limit: chart.limit(&plan),
            chart,
            interval: Interval { low: zero, middle: zero, high: zero },
            fresh: [Vec::new(), Vec::new()],
            standing: [None, None],
            set_aside: [None, None],
            points: Vec::new(),
            signals: Vec::new(),
        }
    }

    fn signalled(&self) -> bool {
        self.standing.iter().any(Option::is_some)
    }
}

impl Run {
    /// A pass that has met no trial yet; profiles may have so many points.
    pub(super) fn new(class: MaterialClass, profile_points: usize, settings: &ChartSettings) -> Self {
        let (shares, weights): (Vec<_>, Vec<_>) = settings.shares_of(class).iter().copied().unzip();
        let size = (profile_points, shares.len());
        Self {
            class,
            shares,
            weights,
            edges: [Edge::Lower, Edge::Upper].map(|edge| EdgeRun::new(edge, size, settings)),
            maps: Maps::default(),
            smoother: Smoother::new(settings.stray_share),
            scratch: Vec::new(),
            trials: Vec::new(),
            latest: VecDeque::new(),
            segment: 0,
            segment_start: 0,
        }
    }

    /// The class whose trials it goes over.
    pub(super) const fn class(&self) -> MaterialClass {
        self.class
    }

    /// A service event: both edges begin anew. (Before the first trial there is nothing to begin anew.)
    pub(super) fn restart(&mut self, at: DateTime<Utc>, settings: &ChartSettings) {
        if self.trials.len() == self.segment_start {
            return;
        }
        for position in 0..self.edges.len() {
            for way in Way::BOTH {
                self.end_signal(position, way, SignalEnd::Service { at }, settings);
            }
            let edge = &mut self.edges[position];
            edge.chart = Chart::new(self.weights.len(), &edge.plan);
            edge.limit = edge.chart.limit(&edge.plan);
            edge.fresh = [Vec::new(), Vec::new()];
            edge.set_aside = [None, None];
        }
        for (weight, (_, prior)) in self.weights.iter_mut().zip(settings.shares_of(self.class)) {
            *weight =
                libm::pow(weight.max(NEGLIGIBLE), KEPT_AT_RESTART) * libm::pow(*prior, 1.0 - KEPT_AT_RESTART);
        }
        normalize(&mut self.weights);
        self.segment += 1;
        self.segment_start = self.trials.len();
    }

    /// Fills the maps of a trial's conditions and returns the standard deviation of the edge about its level.
    fn conditions(&mut self, sheet: Option<Temperature>, speed: Speed, settings: &ChartSettings) -> f64 {
        let sheet_celsius = sheet.map_or(heat::REFERENCE_SHEET_C, Temperature::celsius);
        let speed_ratio = speed.value_in(SpeedUnit::MetrePerMinute) / heat::REFERENCE_SPEED_M_PER_MIN;
        self.maps.set(&self.shares, sheet_celsius, speed_ratio);
        let noise = settings.trial_noise.kelvin();
        if sheet.is_some() {
            return noise;
        }
        let per_sheet: f64 = self
            .weights
            .iter()
            .zip(&self.shares)
            .map(|(weight, share)| weight * (share.ratio().recip() - 1.0))
            .sum();
        libm::hypot(noise, per_sheet * settings.unknown_sheet_sd.kelvin())
    }

    /// Takes the next trial.
    pub(super) fn take(&mut self, entry: &HistoryEntry<'_>, settings: &ChartSettings) {
        let before = self.knowledge(settings);
        self.trials.push(Onset { trial: entry.trial, at: entry.at });
        if self.latest.len() == SHIFT_TRIALS {
            self.latest.pop_front();
        }
        self.latest.push_back(Kept {
            before,
            sheet: entry.sheet,
            speed: entry.speed,
            offsets: entry.offsets,
            profiles: [entry.lower.clone(), entry.upper.clone()],
        });
        let noise = self.conditions(entry.sheet, entry.speed, settings);
        for edge in &mut self.edges {
            let columns = edge.chart.columns(&edge.plan.levels);
            let profile = profile_of(entry, edge.edge);
            let offset = entry.offsets.of(edge.edge);
            let here = (&self.maps, &self.weights[..], offset.mean.kelvin());
            self.smoother.evidence(
                profile,
                libm::hypot(noise, offset.sd.kelvin()),
                here,
                &edge.plan.levels,
                columns,
                &mut edge.evidence,
            );
            edge.chart.look(&edge.evidence, &self.weights, &edge.plan, &mut edge.outlook);
            edge.chart.step(&edge.outlook, edge.limit);
            edge.interval = match self.smoother.likelihood() {
                Some(likely) => interval(likely.iter().copied(), here, &mut self.scratch),
                None => interval(likelihoods(profile), here, &mut self.scratch),
            };
            for way in Way::BOTH {
                edge.fresh[way as usize].push(edge.outlook.fresh[way as usize]);
            }
        }
        self.judge(entry, settings);
        self.learn();
        self.record(entry, settings);
    }

    /// What is known of the levels now.
    pub(super) fn knowledge(&self, settings: &ChartSettings) -> Knowledge {
        let level = |edge: &EdgeRun, node| {
            let (mean, sd) = edge.chart.baseline.rows.row_moments(&edge.plan.levels, node);
            LevelPart { mean, sd }
        };
        let part = |(node, (&share, &weight)): (usize, (&HeatShare, &f64))| KnowledgePart {
            share,
            weight,
            levels: [level(&self.edges[0], node), level(&self.edges[1], node)],
        };
        let nodes = self.shares.iter().zip(&self.weights).enumerate();
        Knowledge {
            parts: nodes.filter(|(_, (_, weight))| **weight > 0.0).map(part).collect(),
            trial_noise: settings.trial_noise,
            trials: self.trials.len() - self.segment_start,
            latest: self.trials[self.segment_start..].last().copied(),
            moved: self.edges.iter().any(EdgeRun::signalled),
        }
    }

    /// What was known before one of the latest trials.
    pub(super) fn before(&self, trial: Uuid) -> Option<&Knowledge> {
        let latest = self.trials.iter().rev().zip(self.latest.iter().rev());
        latest.into_iter().find(|(onset, _)| onset.trial == trial).map(|(_, kept)| &kept.before)
    }

    /// Signals that begin and signals that end with this trial.
    fn judge(&mut self, entry: &HistoryEntry<'_>, settings: &ChartSettings) {
        for position in 0..self.edges.len() {
            for way in Way::BOTH {
                let edge = &self.edges[position];
                let limit = edge.limit;
                let value = edge.chart.value(way);
                let speaks = edge.chart.count >= settings.first_speaking_trial as usize;
                match edge.standing[way as usize] {
                    None if speaks && value > limit => self.begin_signal(position, way),
                    Some(_) if value < SUBSIDED * limit => {
                        let end = SignalEnd::Subsided { trial: entry.trial, at: entry.at };
                        self.end_signal(position, way, end, settings);
                        let edge = &mut self.edges[position];
                        if let Some(baseline) = edge.set_aside[way as usize].take() {
                            edge.chart.remember(way, baseline);
                        }
                    }
                    _ => {}
                }
            }
        }
    }

    /// Takes the trial into the baselines and the heat share; while a signal stands, what moved is not learnt.
    fn learn(&mut self) {
        let paused = self.edges.iter().any(EdgeRun::signalled);
        for edge in &mut self.edges {
            let pause = edge.signalled();
            edge.chart.learn(&edge.evidence, &edge.outlook, &self.weights, &edge.plan, pause);
            edge.limit = edge.chart.limit(&edge.plan);
        }
        if !paused {
            for edge in &self.edges {
                for (weight, predicted) in self.weights.iter_mut().zip(&edge.outlook.by_share) {
                    *weight *= predicted;
                }
                normalize(&mut self.weights);
            }
            for weight in self.weights.iter_mut().filter(|weight| **weight < NEGLIGIBLE) {
                *weight = 0.0;
            }
        }
    }

    fn record(&mut self, entry: &HistoryEntry<'_>, settings: &ChartSettings) {
        for edge in &mut self.edges {
            let profile = profile_of(entry, edge.edge);
            let (open_below, open_above) = open_ends(profile);
            edge.points.push(Point {
                trial: entry.trial,
                at: entry.at,
                segment: self.segment,
                interval: edge.interval,
                open_below,
                open_above,
                up: edge.chart.value(Way::Up),
                down: edge.chart.value(Way::Down),
                limit: edge.limit,
                speaks: edge.chart.count >= settings.first_speaking_trial as usize,
                effective_trials: edge.chart.baseline.effective_trials,
            });
        }
    }

    /// The series as it stands.
    pub(super) fn finish(mut self, settings: &ChartSettings) -> UnitSeries {
        for position in 0..self.edges.len() {
            for way in Way::BOTH {
                if let Some(standing) = self.edges[position].standing[way as usize] {
                    self.look_back(position, standing, way, settings);
                }
            }
        }
        let ratio = |f: &dyn Fn(f64) -> f64| -> f64 {
            self.weights.iter().zip(&self.shares).map(|(weight, share)| weight * f(share.ratio())).sum()
        };
        let mean = ratio(&|share| share);
        let sd = ratio(&|share| (share - mean) * (share - mean)).sqrt();
        let [lower, upper] = self.edges.map(|edge| edge.finish(&self.weights, settings));
        UnitSeries { class: self.class, lower, upper, heat_share: (mean, sd) }
    }
}

impl EdgeRun {
    fn finish(self, weights: &[f64], settings: &ChartSettings) -> EdgeSeries {
        let level = (self.chart.count > 0).then(|| {
            let (mean, sd) = self.chart.baseline.rows.moments(&self.plan.levels, weights);
            Level { mean: Temperature::from_celsius(mean), sd: TemperatureDifference::from_kelvin(sd) }
        });
        let effective_trials = self.chart.baseline.effective_trials;
        EdgeSeries {
            edge: self.edge,
            level,
            limit: self.limit,
            effective_trials,
            learning: effective_trials < settings.learning_trials,
            signals: self.signals,
            points: self.points,
        }
    }
}

fn profile_of<'a>(entry: &HistoryEntry<'a>, edge: Edge) -> &'a Profile {
    match edge {
        Edge::Lower => entry.lower,
        Edge::Upper => entry.upper,
    }
}

/// Makes the weights add up to one; leaves them even if nothing is left of them.
fn normalize(weights: &mut [f64]) {
    let total: f64 = weights.iter().sum();
    let even = (weights.len() as f64).recip();
    for weight in weights {
        *weight = if total > 0.0 { *weight / total } else { even };
    }
}
