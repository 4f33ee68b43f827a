//! Where a unit should begin today.

use chrono::{DateTime, Utc};
use lapwatch_domain::carried;
use lapwatch_domain::quantity::{SpeedUnit, TemperatureUnit};
use serde::Serialize;
use utoipa::ToSchema;

use super::carried::CarriedFrom;
use super::evaluation::{Band, SetPoint};
use super::on;
use crate::service::starting::Start;
use crate::wire::Measurement;

/// The settings to begin with today, from the unit's history; or, where that does not tell, the advice to make a full sweep.
/// Temperatures come on the scale of the unit's crew. It advises; the membrane maker, the specification, local codes and
/// the qualified person on site decide.
#[derive(Debug, Serialize, ToSchema)]
pub struct StartingSteps {
    /// `carried` when the steps come from the history; `full_sweep` when they do not.
    #[schema(example = "carried")]
    pub code: &'static str,
    /// Why the history does not tell; null when it does.
    pub reason: Option<&'static str>,
    /// The settings to weld coupons at, from cool to hot; with `full_sweep` the first alone.
    pub steps: Vec<Measurement>,
    /// From what it is carried, with the edges expected today; null with `full_sweep`.
    pub from: Option<CarriedFrom>,
    /// The band that is expected; null when none is.
    pub band: Option<Band>,
    /// The set point that is expected; the trial has to confirm it.
    pub set_point: Option<SetPoint>,
    /// A lower speed, where the set point would lie at the limit of unit or sheet at the speed asked about.
    pub slower: Option<Slower>,
    /// When this was worked out.
    pub as_of: DateTime<Utc>,
    /// All of it in plain sentences.
    pub explanation: Vec<String>,
}

/// Advice to weld slower.
#[derive(Debug, Serialize, ToSchema)]
pub struct Slower {
    /// The speed.
    pub speed: Measurement,
    /// The set point that is expected at it.
    pub set_point: Measurement,
}

impl From<&Start> for StartingSteps {
    fn from(start: &Start) -> Self {
        let unit = start.temperature_unit;
        match &start.steps {
            Ok(steps) => Self::carried(steps, (unit, start.speed_unit), start.as_of),
            Err(why) => Self {
                code: "full_sweep",
                reason: Some(why.code()),
                steps: vec![on(unit, start.full_sweep.0)],
                from: None,
                band: None,
                set_point: None,
                slower: None,
                as_of: start.as_of,
                explanation: vec![why.sentence().to_owned(), start.full_sweep.1.clone()],
            },
        }
    }
}

impl StartingSteps {
    fn carried(
        steps: &carried::StartingSteps,
        (unit, speed_unit): (TemperatureUnit, SpeedUnit),
        as_of: DateTime<Utc>,
    ) -> Self {
        Self {
            code: "carried",
            reason: None,
            steps: steps.steps.iter().map(|step| on(unit, *step)).collect(),
            from: Some(CarriedFrom::of(steps.trials, steps.latest, steps.expected, unit)),
            band: steps.band.as_ref().map(|band| Band::of(band, unit)),
            set_point: Some(SetPoint::of(&steps.set_point, unit)),
            slower: steps.slower.map(|slower| Slower {
                speed: Measurement::of(slower.speed, speed_unit),
                set_point: on(unit, slower.set_point),
            }),
            as_of,
            explanation: steps.explanation.clone(),
        }
    }
}
