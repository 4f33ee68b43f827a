//! What a unit's history knows of its edges at some moment, in a form small enough to be kept for every trial.

use super::{Level, Onset};
use crate::edges::Edge;
use crate::heat::HeatShare;
use crate::quantity::{Temperature, TemperatureDifference};

/// The level of one edge, given a heat share: mean (°C) and standard deviation (K).
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct LevelPart {
    pub(crate) mean: f64,
    pub(crate) sd: f64,
}

/// One heat share, its probability, and the levels it goes with.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct KnowledgePart {
    pub(crate) share: HeatShare,
    pub(crate) weight: f64,
    /// Lower edge, upper edge.
    pub(crate) levels: [LevelPart; 2],
}

/// What a unit's history says of both edges on one material class: levels at reference conditions (sheet 20 °C, 3.05 m/min)
/// for each heat share, and how probable each share is.
///
/// Given a share, a level is taken as normal. It is the product of many trials, each blurred by the trial noise, and is near
/// to normal long before it is narrow enough to advise from.
#[derive(Debug, Clone, PartialEq)]
pub struct Knowledge {
    pub(crate) parts: Vec<KnowledgePart>,
    pub(crate) trial_noise: TemperatureDifference,
    /// How many trials it is from, since the last service that affected the heat.
    pub trials: usize,
    /// The latest of them.
    pub latest: Option<Onset>,
    /// Whether a chart says that an edge has moved. Then the levels are those before the move.
    pub moved: bool,
}

impl Knowledge {
    /// The level of an edge at reference conditions.
    #[must_use]
    pub fn level(&self, edge: Edge) -> Level {
        let of = |part: &KnowledgePart| part.levels[edge as usize];
        let mean: f64 = self.parts.iter().map(|part| part.weight * of(part).mean).sum();
        let spread = |part: &KnowledgePart| (of(part).mean - mean).powi(2) + of(part).sd.powi(2);
        let variance: f64 = self.parts.iter().map(|part| part.weight * spread(part)).sum();
        Level {
            mean: Temperature::from_celsius(mean),
            sd: TemperatureDifference::from_kelvin(variance.sqrt()),
        }
    }

    /// The heat shares that are not ruled out, with their probabilities.
    #[must_use]
    pub fn heat_shares(&self) -> Vec<(HeatShare, f64)> {
        self.parts.iter().map(|part| (part.share, part.weight)).collect()
    }
}
