//! What a series of measured edges says.

use chrono::{DateTime, Utc};
use lapwatch_domain::drift::{Direction, Level};
use lapwatch_domain::numerics::series::Kendall;
use lapwatch_domain::quantity::{Quantity as _, TemperatureDifference, TemperatureUnit};
use lapwatch_domain::series::{DailyChange, SeriesLine, SeriesPoint, SeriesReport};
use serde::Serialize;
use utoipa::ToSchema;

use crate::model::calculations::Series;
use crate::view::{apart, on, ratio, whole};
use crate::wire::Measurement;

/// Chart, level and trend of a series of measured edges.
#[derive(Debug, Serialize, ToSchema)]
pub struct SeriesAnswer {
    /// The baseline: the mean of the first readings, weighted by their precision.
    pub baseline: SeriesLevel,
    /// Standard deviation by which the baseline's readings scatter beyond their standard errors, by themselves: what the
    /// series says of its trial noise. A handful of readings says little of it.
    pub baseline_scatter: Measurement,
    /// The chart.
    pub chart: SeriesChart,
    /// The readings after the baseline.
    pub points: Vec<ChartedReading>,
    /// The trend.
    pub trend: SeriesTrend,
    /// The same in plain sentences.
    pub explanation: Vec<String>,
}

/// A level with its uncertainty.
#[derive(Debug, Serialize, ToSchema)]
pub struct SeriesLevel {
    /// Where it stands.
    pub level: Measurement,
    /// Its standard deviation.
    pub standard_deviation: Measurement,
}

/// The limits of the charts, and what they say.
#[derive(Debug, Serialize, ToSchema)]
pub struct SeriesChart {
    /// Limit of the CUSUM (reference value 0.5), in standard deviations. It alone keeps the promised run length.
    pub cusum_limit: f64,
    /// Limit of the EWMA (weight 0.2), in its standard deviations; for comparison: it too would keep the promise alone.
    pub ewma_limit: f64,
    /// Whether and when the CUSUM went beyond its limit; null when it did not.
    pub signal: Option<SeriesSignal>,
}

/// A chart that went beyond its limit.
#[derive(Debug, Serialize, ToSchema)]
pub struct SeriesSignal {
    /// `up` or `down`.
    #[schema(example = "up")]
    pub direction: &'static str,
    /// The reading at which it did.
    pub at: DateTime<Utc>,
}

/// One reading after the baseline.
#[derive(Debug, Serialize, ToSchema)]
pub struct ChartedReading {
    /// When.
    pub at: DateTime<Utc>,
    /// How far it lies from the baseline, in standard deviations of that distance.
    pub standardized: f64,
    /// The CUSUM of rising, in standard deviations.
    pub cusum_up: f64,
    /// The CUSUM of falling.
    pub cusum_down: f64,
    /// The EWMA, in its standard deviations at this reading.
    pub ewma: f64,
    /// The level as a Kalman filter follows it.
    pub level: SeriesLevel,
}

/// Whether and how steeply the series trends.
#[derive(Debug, Serialize, ToSchema)]
pub struct SeriesTrend {
    /// The Mann–Kendall test of the whole series; null when all its edges are alike.
    pub kendall: Option<KendallTest>,
    /// Change in one day over the whole series: the median of the slopes of all pairs (Theil–Sen).
    pub change_in_a_day: Measurement,
    /// Lower end of its 95 % interval.
    pub low: Measurement,
    /// Upper end of its 95 % interval.
    pub high: Measurement,
    /// The straight line through the readings after the baseline, weighted by their precision.
    pub line: TrendLine,
}

/// The Mann–Kendall test.
#[derive(Debug, Serialize, ToSchema)]
pub struct KendallTest {
    /// Pairs that rise less pairs that fall.
    pub s: i64,
    /// S less one towards zero, over its standard deviation.
    pub z: f64,
    /// Chance of an S as far from zero without a trend, 0 to 1.
    pub chance: f64,
}

/// A straight line, described at the last reading.
#[derive(Debug, Serialize, ToSchema)]
pub struct TrendLine {
    /// Where it stands at the last reading.
    pub level: SeriesLevel,
    /// Its change in one day.
    pub change_in_a_day: Measurement,
    /// Standard deviation of that change.
    pub standard_deviation: Measurement,
    /// Correlation of level and change, −1 to 1.
    pub correlation: f64,
}

impl SeriesAnswer {
    /// The answer on the scale of the question.
    pub fn of(asked: &Series, found: &SeriesReport) -> Self {
        let unit = asked.unit;
        let later = &asked.readings[asked.settings.baseline_readings..];
        let signal = found.signal.map(|(point, direction)| (later[point].at, direction));
        Self {
            baseline: SeriesLevel::of(unit, found.baseline),
            baseline_scatter: apart(unit, found.baseline_scatter),
            chart: SeriesChart {
                cusum_limit: ratio(found.cusum_limit),
                ewma_limit: ratio(found.ewma_limit),
                signal: signal.map(|(at, direction)| SeriesSignal { direction: direction.code(), at }),
            },
            points: later
                .iter()
                .zip(&found.points)
                .map(|(reading, point)| ChartedReading::of(unit, reading.at, point))
                .collect(),
            trend: SeriesTrend::of(unit, found.kendall.as_ref(), &found.change_in_a_day, &found.line),
            explanation: explanation(asked, found, signal.map(|(_, direction)| direction)),
        }
    }
}

fn explanation(asked: &Series, found: &SeriesReport, signal: Option<Direction>) -> Vec<String> {
    let symbol = asked.unit.symbol();
    let degrees = |by: TemperatureDifference| by.value_in(asked.unit.difference_unit());
    let level = whole(found.baseline.mean.value_in(asked.unit));
    let chart = match signal {
        Some(Direction::Up) => "The edge has moved up: the chart is beyond its limit.".to_owned(),
        Some(Direction::Down) => "The edge has moved down: the chart is beyond its limit.".to_owned(),
        None => "The chart is within its limit: this may all be noise.".to_owned(),
    };
    let month = |by: TemperatureDifference| whole(degrees(by * 30.0));
    let change = &found.change_in_a_day;
    vec![
        format!(
            "The first {} readings put the edge at {level} {symbol}, give or take {}.",
            asked.settings.baseline_readings,
            whole(degrees(found.baseline.sd * 2.0))
        ),
        chart,
        format!(
            "Over the whole series it changes by {} {symbol} in 30 days (between {} and {}, 95 %).",
            month(change.change),
            month(change.low),
            month(change.high)
        ),
    ]
}

impl SeriesLevel {
    fn of(unit: TemperatureUnit, level: Level) -> Self {
        Self { level: on(unit, level.mean), standard_deviation: apart(unit, level.sd) }
    }
}

impl ChartedReading {
    fn of(unit: TemperatureUnit, at: DateTime<Utc>, point: &SeriesPoint) -> Self {
        Self {
            at,
            standardized: ratio(point.standardized),
            cusum_up: ratio(point.up),
            cusum_down: ratio(point.down),
            ewma: ratio(point.ewma),
            level: SeriesLevel::of(unit, point.level),
        }
    }
}

impl SeriesTrend {
    fn of(unit: TemperatureUnit, kendall: Option<&Kendall>, change: &DailyChange, line: &SeriesLine) -> Self {
        Self {
            kendall: kendall.map(|test| KendallTest { s: test.s, z: ratio(test.z), chance: ratio(test.p) }),
            change_in_a_day: apart(unit, change.change),
            low: apart(unit, change.low),
            high: apart(unit, change.high),
            line: TrendLine {
                level: SeriesLevel::of(unit, line.level),
                change_in_a_day: apart(unit, line.change_in_a_day),
                standard_deviation: apart(unit, line.change_sd),
                correlation: ratio(line.correlation),
            },
        }
    }
}
