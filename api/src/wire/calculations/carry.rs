//! Temperatures of one unit, carried to another sheet temperature and speed.

use lapwatch_domain::heat;
use lapwatch_domain::quantity::{TemperatureDifference, unit_from_code};
use serde::Deserialize;
use utoipa::ToSchema;

use crate::model::Finding;
use crate::model::calculations::Carry;
use crate::wire::{Measurement, Reader};

/// Most temperatures in one question.
const MOST: usize = 20;

/// Set temperatures that were found under one set of conditions, and the conditions they are wanted for.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({
    "from": { "sheet_temperature": { "unit": "Cel", "value": 28 }, "speed": { "unit": "m/min", "value": 3 } },
    "heated_length": { "unit": "mm", "value": 25 },
    "temperatures": [
        { "temperature": { "unit": "Cel", "value": 448 } },
        { "standard_deviation": { "unit": "K", "value": 6 }, "temperature": { "unit": "Cel", "value": 475 } },
    ],
    "thickness": { "unit": "mm", "value": 1.2 },
    "to": { "sheet_temperature": { "unit": "Cel", "value": 12 }, "speed": { "unit": "m/min", "value": 3 } },
}))]
pub struct CarryQuestion {
    /// The temperatures, 1 to 20; each is answered on its own scale.
    #[schema(min_items = 1, max_items = 20)]
    pub temperatures: Vec<Known>,
    /// Under what they were found.
    pub from: Conditions,
    /// For what they are wanted.
    pub to: Conditions,
    /// Length over which the nozzle heats the sheet.
    pub heated_length: Measurement,
    /// Thickness of the sheet that the air meets.
    pub thickness: Measurement,
    /// Share of the air's excess over the sheet that the sheet's surface takes on at 3.05 m/min (10 ft/min), 0.02 to 0.9,
    /// where it is known of this unit. Without it the usual range of units is taken, and the answer is less sure.
    #[schema(minimum = 0.02, maximum = 0.9)]
    pub heat_share: Option<f64>,
    /// Standard deviation of `heat_share`; default 0.02.
    #[schema(minimum = 0, maximum = 0.2)]
    pub heat_share_standard_deviation: Option<f64>,
}

/// How well a unit's heat share is known when nobody says: twice as well as that of a unit of which
/// nothing is known. (Ours.)
const USUAL_SHARE_SD: f64 = 0.02;

/// A temperature, and how well it is known.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(as = KnownTemperature)]
pub struct Known {
    /// The temperature.
    pub temperature: Measurement,
    /// Its standard deviation; default 0: somebody chose it.
    pub standard_deviation: Option<Measurement>,
}

/// What moves the temperatures.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(as = HeatConditions)]
pub struct Conditions {
    /// Temperature of the sheet itself, not of the air.
    pub sheet_temperature: Measurement,
    /// The held speed.
    pub speed: Measurement,
}

impl CarryQuestion {
    /// The question in domain values.
    ///
    /// # Errors
    /// Every broken rule with its pointer.
    pub fn read(&self) -> Result<Carry, Vec<Finding>> {
        let mut reader = Reader::default();
        let r = &mut reader;
        let detail = "Send 1 to 20 temperatures.";
        r.require((1..=MOST).contains(&self.temperatures.len()), "/temperatures", "wrong_count", detail);
        let temperatures: Vec<_> = self
            .temperatures
            .iter()
            .take(MOST)
            .enumerate()
            .map(|(index, known)| known.read(r, &format!("/temperatures/{index}")))
            .collect();
        let from = self.from.read(r, "/from");
        let to = self.to.read(r, "/to");
        let heated = r.positive("/heated_length", &self.heated_length);
        let thickness = r.positive("/thickness", &self.thickness);
        let share = r.present(self.heat_share.as_ref(), |r, share| {
            r.domain(heat::HeatShare::new(*share), |error| ("/heat_share", error.code()))
        });
        let share_sd = self.heat_share_standard_deviation.unwrap_or(USUAL_SHARE_SD);
        let plausible = (0.0..=0.2).contains(&share_sd);
        let detail = "It lies between 0 and 0.2.";
        r.require(plausible, "/heat_share_standard_deviation", "out_of_range", detail);
        let question = || {
            let temperatures = temperatures.into_iter().collect::<Option<_>>()?;
            let dwell = heat::Dwell { heated: heated?, thickness: thickness? };
            Some(Carry {
                temperatures,
                from: from?,
                to: to?,
                dwell,
                share: share?.map(|share| (share, share_sd)),
            })
        };
        let question = question();
        reader.findings.into_result(question)
    }
}

impl Known {
    fn read(
        &self,
        reader: &mut Reader,
        pointer: &str,
    ) -> Option<(heat::Known, lapwatch_domain::quantity::TemperatureUnit)> {
        let at = format!("{pointer}/temperature");
        let mean = reader.set_temperature(&at, &self.temperature);
        let unit = unit_from_code(&self.temperature.unit)?;
        let sd = reader
            .optional(&format!("{pointer}/standard_deviation"), self.standard_deviation.as_ref())?
            .unwrap_or(TemperatureDifference::ZERO);
        let plausible = sd >= TemperatureDifference::ZERO;
        let detail = "A standard deviation cannot be negative.";
        reader.require(plausible, &format!("{pointer}/standard_deviation/value"), "negative", detail);
        Some((heat::Known { mean: mean?, sd }, unit)).filter(|_| plausible)
    }
}

impl Conditions {
    fn read(&self, reader: &mut Reader, pointer: &str) -> Option<heat::Conditions> {
        let sheet = reader.climate(&format!("{pointer}/sheet_temperature"), Some(&self.sheet_temperature));
        let speed = reader.positive(&format!("{pointer}/speed"), &self.speed);
        Some(heat::Conditions { sheet: sheet??, speed: speed? })
    }
}
