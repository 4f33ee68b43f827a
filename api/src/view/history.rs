//! The history of a unit: its edges at reference conditions (sheet 20 °C, 3.05 m/min) with their charts. Temperatures
//! are in °C.

use chrono::{DateTime, Utc};
use lapwatch_domain::drift::{EdgeSeries, Point, Signal, UnitSeries};
use lapwatch_domain::quantity::TemperatureUnit::Celsius;
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;

use super::fleet::Onset;
use super::{apart, on, ratio};
use crate::service::units;
use crate::wire::Measurement;
use crate::wire::service::ServiceEvent;

/// The history of a unit.
#[derive(Debug, Serialize, ToSchema)]
pub struct History {
    /// The unit.
    pub unit_id: Uuid,
    /// What is painted on it.
    pub label: String,
    /// One series a sheet class that it has welded.
    pub series: Vec<ClassSeries>,
    /// What was done to it, in order of time.
    pub service_events: Vec<ServiceEvent>,
}

/// Both edges on one sheet class.
#[derive(Debug, Serialize, ToSchema)]
pub struct ClassSeries {
    /// Sheet class.
    #[schema(example = "pvc")]
    pub material_class: &'static str,
    /// The unit's heat share φ as its history has it, 0 to 1.
    pub heat_share: f64,
    /// Its standard deviation.
    pub heat_share_standard_deviation: f64,
    /// The lower edge.
    pub lower: Series,
    /// The upper edge.
    pub upper: Series,
}

/// The history of one edge.
#[derive(Debug, Serialize, ToSchema)]
pub struct Series {
    /// Level at reference conditions; null before the first trial.
    pub level: Option<Measurement>,
    /// Its standard deviation.
    pub level_standard_deviation: Option<Measurement>,
    /// What the trials since the last restart are worth, in edge-finding trials.
    pub effective_trials: f64,
    /// Whether too little is known yet to call the edge known.
    pub learning: bool,
    /// Height at which the chart signals, a ln likelihood ratio.
    pub chart_limit: f64,
    /// One point a trial, in order of time.
    pub points: Vec<HistoryPoint>,
    /// Every signal there has been.
    pub signals: Vec<DriftSignal>,
}

/// One trial in the history of one edge.
#[derive(Debug, Serialize, ToSchema)]
pub struct HistoryPoint {
    /// The trial.
    pub trial_id: Uuid,
    /// When it was performed, by the best clock known.
    pub at: DateTime<Utc>,
    /// How many restarts lie before it.
    pub segment: u32,
    /// 2.5 % point of what this trial alone says.
    pub low: Measurement,
    /// Median.
    pub middle: Measurement,
    /// 97.5 % point.
    pub high: Measurement,
    /// Whether this trial alone cannot say how low the edge might be.
    pub open_below: bool,
    /// Whether this trial alone cannot say how high the edge might be.
    pub open_above: bool,
    /// The chart of rising after this trial.
    pub chart_up: f64,
    /// The chart of falling after this trial.
    pub chart_down: f64,
}

/// A chart that crossed its limit.
#[derive(Debug, Serialize, ToSchema)]
pub struct DriftSignal {
    /// `up` or `down`.
    #[schema(example = "up")]
    pub direction: &'static str,
    /// The trial at which it crossed.
    pub trial_id: Uuid,
    /// When that was performed.
    pub at: DateTime<Utc>,
    /// The range in which the shift began.
    pub onset: Onset,
    /// How far the edge has moved.
    pub shift: Measurement,
    /// Its standard deviation.
    pub shift_standard_deviation: Measurement,
    /// Whether it still stands: neither ended by service or later evidence, nor closed by a person.
    pub stands: bool,
}

impl History {
    /// The history as it is sent.
    pub fn of(history: &units::History) -> Self {
        Self {
            unit_id: history.unit.id,
            label: history.unit.value.label.clone(),
            series: history.series.iter().map(ClassSeries::from).collect(),
            service_events: history.service_events.iter().map(ServiceEvent::show).collect(),
        }
    }
}

impl From<&UnitSeries> for ClassSeries {
    fn from(series: &UnitSeries) -> Self {
        let (mean, sd) = series.heat_share;
        Self {
            material_class: series.class.code(),
            heat_share: ratio(mean),
            heat_share_standard_deviation: ratio(sd),
            lower: Series::from(&series.lower),
            upper: Series::from(&series.upper),
        }
    }
}

impl From<&EdgeSeries> for Series {
    fn from(series: &EdgeSeries) -> Self {
        Self {
            level: series.level.map(|level| on(Celsius, level.mean)),
            level_standard_deviation: series.level.map(|level| apart(Celsius, level.sd)),
            effective_trials: ratio(series.effective_trials),
            learning: series.learning,
            chart_limit: ratio(series.limit),
            points: series.points.iter().map(HistoryPoint::from).collect(),
            signals: series.signals.iter().map(DriftSignal::from).collect(),
        }
    }
}

impl From<&Point> for HistoryPoint {
    fn from(point: &Point) -> Self {
        Self {
            trial_id: point.trial,
            at: point.at,
            segment: point.segment,
            low: on(Celsius, point.interval.low),
            middle: on(Celsius, point.interval.middle),
            high: on(Celsius, point.interval.high),
            open_below: point.open_below,
            open_above: point.open_above,
            chart_up: ratio(point.up),
            chart_down: ratio(point.down),
        }
    }
}

impl From<&Signal> for DriftSignal {
    fn from(signal: &Signal) -> Self {
        Self {
            direction: signal.direction.code(),
            trial_id: signal.trial,
            at: signal.at,
            onset: Onset { from: signal.onset_first.at, to: signal.onset_last.at },
            shift: apart(Celsius, signal.shift),
            shift_standard_deviation: apart(Celsius, signal.shift_sd),
            stands: signal.end.is_none() && signal.closed_at.is_none(),
        }
    }
}
