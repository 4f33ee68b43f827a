//! Temperatures carried to other conditions.

use lapwatch_domain::caution::Caution as Known;
use lapwatch_domain::heat::Together;
use lapwatch_domain::quantity::Quantity;
use serde::Serialize;
use utoipa::ToSchema;

use crate::model::calculations::Carry;
use crate::view::evaluation::Caution;
use crate::view::{apart, on, whole};
use crate::wire::Measurement;

/// The temperatures at the other conditions, and how well they are known there.
#[derive(Debug, Serialize, ToSchema)]
pub struct CarryAnswer {
    /// The temperatures, in the order they were sent.
    pub temperatures: Vec<CarriedTemperature>,
    /// For each two neighbours of the list how far they lie apart, which is known better than where they lie.
    pub apart: Vec<Distance>,
    /// Short cautions.
    pub cautions: Vec<Caution>,
    /// The same in plain sentences.
    pub explanation: Vec<String>,
}

/// One temperature at the other conditions.
#[derive(Debug, Serialize, ToSchema)]
pub struct CarriedTemperature {
    /// Its mean.
    pub temperature: Measurement,
    /// Its standard deviation: its own, carried, and what is not known of the unit's heat.
    pub standard_deviation: Measurement,
}

/// How far two temperatures lie apart.
#[derive(Debug, Serialize, ToSchema)]
pub struct Distance {
    /// The second less the first.
    pub distance: Measurement,
    /// Its standard deviation.
    pub standard_deviation: Measurement,
}

impl CarryAnswer {
    /// The answer, each temperature on its own scale.
    pub fn of(asked: &Carry, found: &Together) -> Self {
        let units: Vec<_> = asked.temperatures.iter().map(|(_, unit)| *unit).collect();
        let temperatures = found.values().iter().zip(&units);
        let mut explanation: Vec<String> = temperatures
            .clone()
            .zip(&asked.temperatures)
            .map(|((known, unit), (before, _))| {
                format!(
                    "{} {symbol} becomes about {} {symbol}, give or take {} {symbol}.",
                    whole(before.mean.value_in(*unit)),
                    whole(known.mean.value_in(*unit)),
                    whole(2.0 * known.sd.value_in(unit.difference_unit())),
                    symbol = unit.symbol(),
                )
            })
            .collect();
        explanation.push(
            "It is where to begin, not what to set: weld coupons around it and peel them before welding. Above the unit's \
             highest setting or the membrane maker's ceiling, weld slower instead."
                .to_owned(),
        );
        Self {
            temperatures: temperatures
                .map(|(known, unit)| CarriedTemperature {
                    temperature: on(*unit, known.mean),
                    standard_deviation: apart(*unit, known.sd),
                })
                .collect(),
            apart: (1..units.len())
                .map(|second| {
                    let (distance, sd) = found.apart(second - 1, second);
                    let unit = units[second];
                    Distance { distance: apart(unit, distance), standard_deviation: apart(unit, sd) }
                })
                .collect(),
            cautions: [Known::HotAir, Known::AdviceOnly].map(Caution::from).to_vec(),
            explanation,
        }
    }
}
