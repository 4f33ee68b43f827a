//! What a unit's history adds to the answer to a trial.

use chrono::{DateTime, Utc};
use lapwatch_domain::carried::{self, Advice, LEAST_AGREEMENT, NotCarried};
use lapwatch_domain::edges::CarriedEdge;
use lapwatch_domain::heat::Known;
use lapwatch_domain::quantity::{SpeedUnit, TemperatureUnit};
use serde::Serialize;
use utoipa::ToSchema;

use super::evaluation::{Band, Interval, NextCoupon, SetPoint};
use super::{apart, on, ratio};
use crate::wire::Measurement;

/// Advice from this trial *and* the unit's earlier ones, carried to the sheet temperature and speed of this trial. It stands
/// beside the answer, which is from this trial alone, and changes nothing in it; histories never see it. It is computed when
/// it is asked for, from the trials performed before this one: one of those that arrives late may change it.
#[derive(Debug, Serialize, ToSchema)]
pub struct Carried {
    /// `carried`; `contradicted` when this trial's strips contradict the history, which then gives no advice; otherwise why
    /// nothing is carried: `no_history`, `not_known`, `moved`, `sheet_temperature_missing`, `dwell_too_long`, `beyond_range`,
    /// `incompatible_sheets` or `not_recent`.
    #[schema(example = "carried")]
    pub code: &'static str,
    /// From what it is carried; null when nothing is.
    pub from: Option<CarriedFrom>,
    /// How well this trial's strips agree with what was expected, 0 to 1; below 0.1 they contradict it.
    #[schema(example = 0.83)]
    pub agreement: Option<f64>,
    /// Both edges, from history and trial together; null without advice.
    pub edges: Option<CarriedEdges>,
    /// The band; it may reach beyond the steps tried in this trial, and says so. Null when there is none.
    pub band: Option<CarriedBand>,
    /// What to set: always between this trial's all-sound steps. Null when there is none.
    pub set_point: Option<SetPoint>,
    /// What to weld next, or why to stop; null without advice.
    pub next_coupon: Option<NextCoupon>,
    /// All of it in plain sentences.
    pub explanation: Vec<String>,
}

/// From what advice is carried.
#[derive(Debug, Serialize, ToSchema)]
pub struct CarriedFrom {
    /// How many earlier trials, since the unit was last serviced.
    pub trials: usize,
    /// When the latest of them was performed.
    pub latest_at: DateTime<Utc>,
    /// Where they let expect the lower edge under the conditions of this trial.
    pub lower: Expected,
    /// Where they let expect the upper edge.
    pub upper: Expected,
}

/// Where an edge is expected.
#[derive(Debug, Serialize, ToSchema)]
pub struct Expected {
    /// Mean.
    pub mean: Measurement,
    /// Standard deviation.
    pub standard_deviation: Measurement,
}

/// Both edges, from history and trial together.
#[derive(Debug, Serialize, ToSchema)]
pub struct CarriedEdges {
    /// Below it strips open.
    pub lower: KnownEdge,
    /// Above it strips scorch.
    pub upper: KnownEdge,
}

/// One edge, from history and trial together.
#[derive(Debug, Serialize, ToSchema)]
pub struct KnownEdge {
    /// Mean.
    pub mean: Measurement,
    /// Standard deviation.
    pub standard_deviation: Measurement,
    /// 2.5 %, 50 % and 97.5 % points.
    pub interval: Interval,
}

/// A band from history and trial together.
#[derive(Debug, Serialize, ToSchema)]
pub struct CarriedBand {
    /// The band.
    #[serde(flatten)]
    pub band: Band,
    /// Whether it reaches below the coolest step tried in this trial.
    pub below_tried: bool,
    /// Whether it reaches above the hottest step tried in this trial.
    pub above_tried: bool,
}

impl Carried {
    /// As it is sent.
    pub(super) fn of(
        carried: &Result<carried::Carried, NotCarried>,
        (unit, speed_unit): (TemperatureUnit, SpeedUnit),
    ) -> Self {
        let carried = match carried {
            Ok(carried) => carried,
            Err(why) => return Self::nothing(why.code(), vec![why.sentence().to_owned()]),
        };
        let code = if carried.agreement < LEAST_AGREEMENT { "contradicted" } else { "carried" };
        let advice = carried.advice.as_ref();
        Self {
            from: Some(CarriedFrom::of(carried.trials, carried.latest, carried.expected, unit)),
            agreement: Some(ratio(carried.agreement)),
            edges: advice.map(|advice| CarriedEdges::of(advice, unit)),
            band: advice.and_then(|advice| advice.band.as_ref()).map(|band| CarriedBand {
                band: Band::of(&band.band, unit),
                below_tried: band.below_tried,
                above_tried: band.above_tried,
            }),
            set_point: advice
                .and_then(|advice| advice.set_point.as_ref().ok())
                .map(|point| SetPoint::of(point, unit)),
            next_coupon: advice.map(|advice| {
                let next = (advice.next_coupon, advice.next_speed);
                NextCoupon::of(next, &advice.next_sentence, (unit, speed_unit))
            }),
            ..Self::nothing(code, carried.explanation.clone())
        }
    }

    fn nothing(code: &'static str, explanation: Vec<String>) -> Self {
        Self {
            code,
            from: None,
            agreement: None,
            edges: None,
            band: None,
            set_point: None,
            next_coupon: None,
            explanation,
        }
    }
}

impl CarriedFrom {
    /// As it is sent.
    pub(super) fn of(
        trials: usize,
        latest_at: DateTime<Utc>,
        expected: [Known; 2],
        unit: TemperatureUnit,
    ) -> Self {
        let [lower, upper] = expected
            .map(|known| Expected { mean: on(unit, known.mean), standard_deviation: apart(unit, known.sd) });
        Self { trials, latest_at, lower, upper }
    }
}

impl CarriedEdges {
    fn of(advice: &Advice, unit: TemperatureUnit) -> Self {
        let edge = |edge: &CarriedEdge| KnownEdge {
            mean: on(unit, edge.estimate.mean),
            standard_deviation: apart(unit, edge.estimate.sd),
            interval: Interval::of(&edge.estimate, unit),
        };
        Self { lower: edge(&advice.edges.lower), upper: edge(&advice.edges.upper) }
    }
}
