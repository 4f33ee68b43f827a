//! Shared shifts in plain sentences.

use super::{SharedKind, SharedShift, Shift};
use crate::edges::Edge;
use crate::quantity::{Quantity, TemperatureDifference, TemperatureUnit};

impl SharedShift {
    /// How far each edge is moved, as how many units tell, and for one that is notable what to do.
    ///
    /// Advice does not replace the rules of the site, the sheet's maker or the law.
    #[must_use]
    pub fn sentences(&self, unit: TemperatureUnit) -> Vec<String> {
        let edge = |edge: Edge| {
            let informing = self.informing[edge as usize];
            self.shifts.of(edge).map(|shift| self.edge(edge, shift, informing, unit))
        };
        let mut all: Vec<String> = Edge::ALL.iter().filter_map(|which| edge(*which)).collect();
        if self.is_notable() {
            all.push(self.by.kind().advice().to_owned());
        }
        all
    }

    fn edge(&self, edge: Edge, shift: &Shift, informing: usize, unit: TemperatureUnit) -> String {
        let show = |value: TemperatureDifference| format!("{:.0}", value.value_in(unit.difference_unit()));
        let way = if shift.mean.kelvin() < 0.0 { "down" } else { "up" };
        let which = match edge {
            Edge::Lower => "lower",
            Edge::Upper => "upper",
        };
        format!(
            "{} moves the {which} edge {way} by {} {} (95 %: {} to {}), as {informing} units tell.",
            self.by.kind().subject(),
            show(TemperatureDifference::from_kelvin(shift.mean.kelvin().abs())),
            unit.symbol(),
            show(shift.low),
            show(shift.high),
        )
    }
}

impl SharedKind {
    const fn subject(self) -> &'static str {
        match self {
            Self::Membrane => "This sheet product",
            Self::Lot => "This production run",
            Self::Day => "Something on this site and day",
        }
    }

    const fn advice(self) -> &'static str {
        match self {
            Self::Membrane => {
                "The welders are not flagged for it. Start every change to this product with a sweep on it, and go by that."
            }
            Self::Lot => {
                "The welders are not flagged for it. Make a sweep on this run before it is laid, with each welder, and tell \
                 its supplier. Probe seams that were welded on it with settings from another run."
            }
            Self::Day => {
                "The welders are not flagged for it. Ask what it was: wet or dirty sheets, wind, the supply. Probe seams of \
                 that day."
            }
        }
    }
}
