//! What a unit's history lets expect of its edges under given conditions.

use chrono::{DateTime, Utc};

use super::{COOLEST_CELSIUS, LARGEST_KNOWN_SD_KELVIN, NotCarried, Today};
use crate::drift::{Knowledge, KnowledgePart};
use crate::edges::{Edge, NormalPart, Prior};
use crate::heat::{self, Conditions, Known};
use crate::quantity::{Temperature, TemperatureDifference};

/// Drift that the charts have not seen, as a standard deviation in kelvin: half the shift of 20 K that they look for soonest.
const UNSEEN_DRIFT_KELVIN: f64 = 10.0;
/// How much the variance of an edge grows with each day since the last trial, in K² (no source; a year adds as much as
/// unseen drift).
const WANDERING_PER_DAY: f64 = 0.3;

/// Both edges as they are expected under given conditions, before any strip of the day.
#[derive(Debug, Clone, PartialEq)]
pub struct Forecast {
    /// The probability of each heat share, and the edges that go with it: means and standard deviations.
    pub(super) parts: Vec<(f64, [(f64, f64); 2])>,
    /// How many trials it is from.
    pub(super) trials: usize,
    /// The latest of them.
    pub(super) latest: DateTime<Utc>,
}

impl Forecast {
    /// Carries knowledge to conditions.
    ///
    /// For each heat share the level is carried along a straight line; what makes an edge differ from its level is added once.
    /// The heat share stays *one* unknown: the parts belong to both edges together.
    ///
    /// # Errors
    /// Every [`NotCarried`] that history and conditions can give.
    pub fn new(knowledge: &Knowledge, today: &Today) -> Result<Self, NotCarried> {
        today.dwell.check(today.speed).map_err(|_| NotCarried::DwellTooLong)?;
        let sheet = today.sheet.ok_or(NotCarried::SheetTemperatureMissing)?;
        let latest = knowledge.latest.ok_or(NotCarried::NoHistory)?;
        if knowledge.moved {
            return Err(NotCarried::Moved);
        }
        let to = Conditions { sheet, speed: today.speed };
        let days = (today.at - latest.at).as_seconds_f64().max(0.0) / 86_400.0;
        let noise = knowledge.trial_noise.kelvin();
        let added = noise * noise + UNSEEN_DRIFT_KELVIN * UNSEEN_DRIFT_KELVIN + WANDERING_PER_DAY * days;
        let carried = |part: &KnowledgePart| {
            let (start, slope) = heat::line(Conditions::reference(), to, part.share);
            let edges = [Edge::Lower, Edge::Upper].map(|edge| {
                let (level, offset) = (part.levels[edge as usize], today.offsets.of(edge));
                let sd = slope * libm::hypot(level.sd, offset.sd.kelvin());
                (start + slope * (level.mean + offset.mean.kelvin()), (sd * sd + added).sqrt())
            });
            (part.weight, edges)
        };
        let parts = knowledge.parts.iter().map(carried).collect();
        let forecast = Self { parts, trials: knowledge.trials, latest: latest.at };
        let known = |edge| forecast.edge(edge).sd.kelvin() <= LARGEST_KNOWN_SD_KELVIN;
        if !(known(Edge::Lower) && known(Edge::Upper)) {
            return Err(NotCarried::NotKnown);
        }
        let lower = forecast.edge(Edge::Lower);
        let in_range = lower.mean - lower.sd * 2.0 >= Temperature::from_celsius(COOLEST_CELSIUS);
        if in_range { Ok(forecast) } else { Err(NotCarried::BeyondRange) }
    }

    /// Where an edge is expected.
    #[must_use]
    pub fn edge(&self, edge: Edge) -> Known {
        let of = |edges: &[(f64, f64); 2]| edges[edge as usize];
        let mean: f64 = self.parts.iter().map(|(weight, edges)| weight * of(edges).0).sum();
        let spread = |(at, sd): (f64, f64)| (at - mean) * (at - mean) + sd * sd;
        let variance: f64 = self.parts.iter().map(|(weight, edges)| weight * spread(of(edges))).sum();
        Known {
            mean: Temperature::from_celsius(mean),
            sd: TemperatureDifference::from_kelvin(variance.sqrt()),
        }
    }

    /// Both edges.
    pub(super) fn edges(&self) -> [Known; 2] {
        [self.edge(Edge::Lower), self.edge(Edge::Upper)]
    }

    /// What is expected of one edge, the heat shares weighted by `weights`.
    pub(super) fn prior(&self, edge: Edge, weights: &[f64]) -> Prior {
        let parts = self.parts.iter().zip(weights);
        parts
            .map(|((_, edges), &weight)| {
                let (mean, sd) = edges[edge as usize];
                NormalPart { weight, mean, sd }
            })
            .collect()
    }

    /// What is expected of one edge before any strip.
    pub(super) fn before_strips(&self, edge: Edge) -> Prior {
        let weights: Vec<f64> = self.parts.iter().map(|(weight, _)| *weight).collect();
        self.prior(edge, &weights)
    }
}
