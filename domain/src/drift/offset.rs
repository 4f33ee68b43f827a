//! What is known beforehand to move the edges of one trial.

use crate::edges::Edge;
use crate::quantity::TemperatureDifference;

/// How far an edge is moved, at reference conditions.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Offset {
    /// Mean, positive upwards.
    pub mean: TemperatureDifference,
    /// Standard deviation.
    pub sd: TemperatureDifference,
}

impl Default for Offset {
    fn default() -> Self {
        Self { mean: TemperatureDifference::ZERO, sd: TemperatureDifference::ZERO }
    }
}

/// How far both edges of a trial are moved by what it shares with the trials of other units: sheet product, production run,
/// day. The charts take it off. Nothing is known of it by default.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Offsets {
    /// Of the lower edge.
    pub lower: Offset,
    /// Of the upper edge.
    pub upper: Offset,
}

impl Offsets {
    /// That of one edge.
    #[must_use]
    pub const fn of(&self, edge: Edge) -> Offset {
        match edge {
            Edge::Lower => self.lower,
            Edge::Upper => self.upper,
        }
    }

    /// Two of them together; what is unknown of them is independent.
    #[must_use]
    pub fn plus(self, other: Self) -> Self {
        let both = |one: Offset, other: Offset| Offset {
            mean: one.mean + other.mean,
            sd: TemperatureDifference::from_kelvin(libm::hypot(one.sd.kelvin(), other.sd.kelvin())),
        };
        Self { lower: both(self.lower, other.lower), upper: both(self.upper, other.upper) }
    }
}
