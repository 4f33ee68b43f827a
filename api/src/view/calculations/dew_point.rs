//! How far a sheet lies above the dew point.

use lapwatch_domain::quantity::Quantity;
use lapwatch_domain::weather::Dryness;
use serde::Serialize;
use utoipa::ToSchema;

use crate::model::calculations::DewPoint;
use crate::service::calculations::DewPointFound;
use crate::view::{apart, on, ratio};
use crate::wire::Measurement;

/// The dew point of the air, and how the sheet stands to it.
#[derive(Debug, Serialize, ToSchema)]
pub struct DewPointAnswer {
    /// The dew point.
    pub dew_point: Measurement,
    /// Its standard deviation, by those of humidity and air temperature.
    pub standard_deviation: Measurement,
    /// The sheet; null when none was asked about.
    pub sheet: Option<SheetDryness>,
    /// The same in plain sentences.
    pub explanation: Vec<String>,
}

/// How a sheet stands to the dew point.
#[derive(Debug, Serialize, ToSchema)]
pub struct SheetDryness {
    /// `dry`, `near` or `wet`, by the values as measured.
    #[schema(example = "near")]
    pub verdict: &'static str,
    /// How far it lies above the dew point; below zero when it lies below.
    pub margin: Measurement,
    /// Standard deviation of that margin.
    pub standard_deviation: Measurement,
    /// How far it should lie above.
    pub least_above: Measurement,
    /// Chance that it is at the dew point or below, 0 to 1.
    pub chance_wet: f64,
    /// Chance that it is closer to the dew point than it should be, 0 to 1.
    pub chance_too_close: f64,
}

impl DewPointAnswer {
    /// The answer on the scale of the question.
    pub fn of(asked: &DewPoint, found: &DewPointFound) -> Self {
        let unit = asked.unit;
        let degrees = found.dew_point.value_in(unit);
        let mut explanation = vec![format!("The dew point of this air is {degrees:.1} {}.", unit.symbol())];
        let sheet = found.sheet.map(|sheet| {
            explanation.push(said(sheet.verdict).to_owned());
            SheetDryness {
                verdict: sheet.verdict.code(),
                margin: apart(unit, sheet.margin),
                standard_deviation: apart(unit, sheet.sd),
                least_above: apart(unit, asked.least),
                chance_wet: ratio(sheet.chance_wet),
                chance_too_close: ratio(sheet.chance_too_close),
            }
        });
        Self {
            dew_point: on(unit, found.dew_point),
            standard_deviation: apart(unit, found.sd),
            sheet,
            explanation,
        }
    }
}

const fn said(verdict: Dryness) -> &'static str {
    match verdict {
        Dryness::Dry => {
            "The sheet lies far enough above it, as measured. Rain, dew from before and water in the laps are not in \
             the calculation: look, and wipe."
        }
        Dryness::Near => {
            "The sheet lies close to it: it may turn wet at any moment. Wait or dry it, and weld a test coupon before \
             going on."
        }
        Dryness::Wet => {
            "The sheet lies at it or below: water settles on it, and a wet seam does not weld. Do not weld."
        }
    }
}
