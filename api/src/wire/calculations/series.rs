//! A series of measured edges.

use chrono::{DateTime, Utc};
use lapwatch_domain::quantity::{TemperatureUnit, unit_from_code};
use lapwatch_domain::series::{Measured, SeriesSettings};
use serde::Deserialize;
use utoipa::ToSchema;

use crate::model::Finding;
use crate::model::calculations::Series;
use crate::wire::{Measurement, Reader};

/// Most readings in one question.
const MOST_READINGS: usize = 1000;

/// Edges measured at different times, and how to look at them.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({
    "baseline_readings": 3,
    "readings": [
        { "at": "2026-05-04T07:00:00Z", "edge": { "unit": "Cel", "value": 428 }, "standard_error": { "unit": "K", "value": 9 } },
        { "at": "2026-05-08T07:00:00Z", "edge": { "unit": "Cel", "value": 421 }, "standard_error": { "unit": "K", "value": 8 } },
        { "at": "2026-05-11T07:00:00Z", "edge": { "unit": "Cel", "value": 433 }, "standard_error": { "unit": "K", "value": 10 } },
        { "at": "2026-05-17T07:00:00Z", "edge": { "unit": "Cel", "value": 446 }, "standard_error": { "unit": "K", "value": 8 } },
        { "at": "2026-05-25T07:00:00Z", "edge": { "unit": "Cel", "value": 452 }, "standard_error": { "unit": "K", "value": 8 } },
    ],
}))]
pub struct SeriesQuestion {
    /// The readings in the order of time, at most 1000. The answer comes on the scale of the first.
    #[schema(min_items = 4, max_items = 1000)]
    pub readings: Vec<MeasuredEdge>,
    /// Standard deviation of an edge from trial to trial beyond the standard errors; default 8 K.
    pub trial_noise: Option<Measurement>,
    /// How many of the first readings make up the baseline, at least 2; default 6. At least 2 more have to follow.
    #[schema(minimum = 2)]
    pub baseline_readings: Option<usize>,
    /// How far the level may wander: standard deviation after one day; default 0.5 K. It grows with the root of the time.
    pub wander_in_a_day: Option<Measurement>,
    /// How many readings pass on average before the chart raises a false alarm, 20 to 100000; default 500.
    #[schema(minimum = 20, maximum = 100_000)]
    pub promise_arl_readings: Option<f64>,
}

/// An edge as one trial measured it.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct MeasuredEdge {
    /// When.
    pub at: DateTime<Utc>,
    /// The edge, a temperature.
    pub edge: Measurement,
    /// Its standard error, a temperature difference above zero.
    pub standard_error: Measurement,
}

impl SeriesQuestion {
    /// The question in domain values.
    ///
    /// # Errors
    /// Every broken rule with its pointer.
    pub fn read(&self) -> Result<Series, Vec<Finding>> {
        let mut reader = Reader::default();
        let r = &mut reader;
        let fits = self.readings.len() <= MOST_READINGS;
        r.require(fits, "/readings", "wrong_count", "Send at most 1000 readings.");
        let readings: Vec<Option<Measured>> = self
            .readings
            .iter()
            .take(MOST_READINGS)
            .enumerate()
            .map(|(index, reading)| reading.read(r, &format!("/readings/{index}")))
            .collect();
        let usual = SeriesSettings::default();
        let trial_noise = r.optional("/trial_noise", self.trial_noise.as_ref());
        let wander_in_a_day = r.optional("/wander_in_a_day", self.wander_in_a_day.as_ref());
        let question = || {
            Some(Series {
                unit: self.scale(),
                readings: readings.into_iter().collect::<Option<_>>()?,
                settings: SeriesSettings {
                    trial_noise: trial_noise?.unwrap_or(usual.trial_noise),
                    baseline_readings: self.baseline_readings.unwrap_or(usual.baseline_readings),
                    wander_in_a_day: wander_in_a_day?.unwrap_or(usual.wander_in_a_day),
                    promise_arl: self.promise_arl_readings.unwrap_or(usual.promise_arl),
                },
            })
        };
        let question = question();
        reader.findings.into_result(question)
    }

    /// The scale of the first reading; what is wrong with it is found where that is read.
    fn scale(&self) -> TemperatureUnit {
        let first = self.readings.first().and_then(|reading| unit_from_code(&reading.edge.unit));
        first.unwrap_or(TemperatureUnit::Celsius)
    }
}

impl MeasuredEdge {
    fn read(&self, r: &mut Reader, pointer: &str) -> Option<Measured> {
        r.time(&format!("{pointer}/at"), self.at);
        let edge = r.set_temperature(&format!("{pointer}/edge"), &self.edge);
        let sd = r.positive(&format!("{pointer}/standard_error"), &self.standard_error);
        Some(Measured { at: self.at, edge: edge?, sd: sd? })
    }
}
