//! A series of measured edges, looked at with textbook methods: chart, level, trend.
//!
//! For numbers that were worked out elsewhere, and for seeing with a pencil what a chart says. A unit's own histories
//! are watched by [`crate::drift`], which also knows open edges, the sheet's temperature, and service.
//!
//! The first readings are the baseline: their mean m₀, weighted by 1/(s² + τ²), has the variance v₀. Each later reading is
//! compared with it,
//!
//! > u = (y − m₀)/√(s² + τ² + v₀),
//!
//! with s its standard error and τ the noise from trial to trial, and u goes into a CUSUM and an EWMA whose limits follow
//! from a promised run length.

use chrono::{DateTime, Utc};
use thiserror::Error;

use crate::drift::{Direction, Level, arl};
use crate::numerics::series::{
    Estimate, Kendall, cusum, ewma, ewma_sd, kendall, line, local_level, paule_mandel, theil_sen,
    weighted_mean,
};
use crate::quantity::{Temperature, TemperatureDifference};

/// k of the CUSUM: it looks for shifts of one standard deviation.
const REFERENCE: f64 = 0.5;
/// λ of the EWMA.
const WEIGHT: f64 = 0.2;
/// Level of the slope's interval.
const LEVEL: f64 = 0.95;
const SECONDS_PER_DAY: f64 = 86_400.0;

/// One measured edge.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Measured {
    /// When.
    pub at: DateTime<Utc>,
    /// The edge.
    pub edge: Temperature,
    /// Its standard error, from this trial's strips alone.
    pub sd: TemperatureDifference,
}

/// How a series is looked at.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SeriesSettings {
    /// τ: standard deviation of an edge from trial to trial beyond the standard errors.
    pub trial_noise: TemperatureDifference,
    /// How many readings make up the baseline; at least 2.
    pub baseline_readings: usize,
    /// How far the level may wander: standard deviation after one day. It grows with the root of the time.
    pub wander_in_a_day: TemperatureDifference,
    /// How many readings pass on average before the chart raises a false alarm: 20 to 100 000.
    pub promise_arl: f64,
}

impl Default for SeriesSettings {
    fn default() -> Self {
        Self {
            trial_noise: TemperatureDifference::from_kelvin(8.0),
            baseline_readings: 6,
            wander_in_a_day: TemperatureDifference::from_kelvin(0.5),
            promise_arl: 500.0,
        }
    }
}

/// Why a series cannot be looked at.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Error)]
pub enum SeriesError {
    /// Nothing after the baseline, or a baseline of one.
    #[error("a chart needs a baseline of at least 2 readings and at least 2 more after it")]
    TooFewReadings,
    /// A reading is earlier than the one before it, or as early.
    #[error("reading {reading} does not come after the one before it; send them in the order of time")]
    NotInOrder {
        /// Its index from zero.
        reading: usize,
    },
    /// A standard error of zero or less.
    #[error("the standard error of reading {reading} must be greater than zero")]
    NoStandardError {
        /// Its index from zero.
        reading: usize,
    },
    /// The trial noise is negative.
    #[error("the trial noise cannot be negative")]
    NegativeNoise,
    /// The wandering is negative.
    #[error("the wandering cannot be negative")]
    NegativeWander,
    /// The promised run length is out of range.
    #[error("the promised run length lies between 20 and 100000 readings")]
    PromiseOutOfRange,
}

impl SeriesError {
    /// Stable code of the error.
    #[must_use]
    pub const fn code(&self) -> &'static str {
        match self {
            Self::TooFewReadings => "too_few_readings",
            Self::NotInOrder { .. } => "not_in_order",
            Self::NoStandardError { .. } => "not_positive",
            Self::NegativeNoise | Self::NegativeWander => "negative",
            Self::PromiseOutOfRange => "out_of_range",
        }
    }
}

/// What a series says.
#[derive(Debug, Clone, PartialEq)]
pub struct SeriesReport {
    /// The baseline.
    pub baseline: Level,
    /// Scatter of the baseline's readings beyond their standard errors, as a standard deviation (Paule–Mandel): what the
    /// series itself says of τ. A handful of readings says little of it.
    pub baseline_scatter: TemperatureDifference,
    /// Limit of the CUSUM, in standard deviations.
    pub cusum_limit: f64,
    /// Limit of the EWMA, in its own standard deviations.
    pub ewma_limit: f64,
    /// The readings after the baseline.
    pub points: Vec<SeriesPoint>,
    /// The first of `points` at which the CUSUM was beyond its limit, and which way.
    pub signal: Option<(usize, Direction)>,
    /// Whether the whole series trends; `None` when all its edges are alike.
    pub kendall: Option<Kendall>,
    /// Change in one day over the whole series: the median of all pairs' slopes, with its 95 % interval.
    pub change_in_a_day: DailyChange,
    /// The straight line through the readings after the baseline.
    pub line: SeriesLine,
}

/// One reading after the baseline.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SeriesPoint {
    /// u: how far it lies from the baseline, in standard deviations of that distance.
    pub standardized: f64,
    /// The CUSUM of rising, ≥ 0.
    pub up: f64,
    /// The CUSUM of falling, ≥ 0.
    pub down: f64,
    /// The EWMA of u over its standard deviation at this reading.
    pub ewma: f64,
    /// The level as the Kalman filter follows it.
    pub level: Level,
}

/// A change in one day with its interval.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DailyChange {
    /// The change.
    pub change: TemperatureDifference,
    /// Lower end of the 95 % interval.
    pub low: TemperatureDifference,
    /// Upper end of the interval.
    pub high: TemperatureDifference,
}

/// A straight line, described at the last reading.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SeriesLine {
    /// Where it stands at the last reading.
    pub level: Level,
    /// Its change in one day.
    pub change_in_a_day: TemperatureDifference,
    /// Standard deviation of that change.
    pub change_sd: TemperatureDifference,
    /// Correlation of the level with the change, a ratio.
    pub correlation: f64,
}

/// Looks at a series of measured edges.
///
/// # Errors
/// See [`SeriesError`].
///
/// # Examples
///
/// ```
/// use chrono::{Days, TimeZone, Utc};
/// use lapwatch_domain::quantity::parse;
/// use lapwatch_domain::series::{Measured, SeriesError, SeriesSettings, report};
///
/// let start = Utc.with_ymd_and_hms(2026, 5, 4, 7, 0, 0).unwrap();
/// let edges = [428.0, 421.0, 433.0, 426.0, 424.0, 430.0, 460.0, 464.0, 459.0];
/// let series: Vec<Measured> = (0..)
///     .zip(edges)
///     .map(|(day, edge)| Measured {
///         at: start + Days::new(day),
///         edge: parse(edge, "Cel").unwrap(),
///         sd: parse(9.0, "K").unwrap(),
///     })
///     .collect();
/// let found = report(&series, &SeriesSettings::default())?;
/// assert_eq!(found.signal.map(|(point, _)| point), Some(2));
/// assert_eq!(report(&series[..3], &SeriesSettings::default()), Err(SeriesError::TooFewReadings));
/// # Ok::<(), SeriesError>(())
/// ```
pub fn report(series: &[Measured], settings: &SeriesSettings) -> Result<SeriesReport, SeriesError> {
    check(series, settings)?;
    let noise = settings.trial_noise.kelvin().powi(2);
    let days: Vec<f64> = series.iter().map(|reading| days_between(series[0].at, reading.at)).collect();
    let edges: Vec<f64> = series.iter().map(|reading| reading.edge.celsius()).collect();
    let own: Vec<f64> = series.iter().map(|reading| reading.sd.kelvin().powi(2)).collect();
    let variances: Vec<f64> = own.iter().map(|variance| variance + noise).collect();

    let first = settings.baseline_readings;
    let baseline = weighted_mean(&edges[..first], &variances[..first]).ok_or(SeriesError::TooFewReadings)?;
    let scatter = paule_mandel(&edges[..first], &own[..first]).unwrap_or(0.0);
    let later: Vec<(f64, f64, f64)> =
        (first..series.len()).map(|at| (days[at], edges[at], variances[at])).collect();
    let cusum_limit = arl::cusum_limit(REFERENCE, settings.promise_arl);
    let wander = settings.wander_in_a_day.kelvin().powi(2);
    let levels = local_level(baseline, days[first - 1], &later, wander);
    let points = points(baseline, &later, &levels);
    let all: Vec<(f64, f64)> = days.iter().copied().zip(edges.iter().copied()).collect();
    Ok(SeriesReport {
        baseline: level(baseline),
        baseline_scatter: TemperatureDifference::from_kelvin(scatter.sqrt()),
        cusum_limit,
        ewma_limit: arl::ewma_limit(WEIGHT, settings.promise_arl),
        signal: signal(&points, cusum_limit),
        points,
        kendall: kendall(&edges),
        change_in_a_day: daily_change(&all).ok_or(SeriesError::TooFewReadings)?,
        line: line_of(&later).ok_or(SeriesError::TooFewReadings)?,
    })
}

fn check(series: &[Measured], settings: &SeriesSettings) -> Result<(), SeriesError> {
    if settings.baseline_readings < 2 || series.len() < settings.baseline_readings + 2 {
        return Err(SeriesError::TooFewReadings);
    }
    if let Some(reading) = series.iter().position(|reading| reading.sd.kelvin() <= 0.0) {
        return Err(SeriesError::NoStandardError { reading });
    }
    if let Some(before) = series.windows(2).position(|pair| pair[1].at <= pair[0].at) {
        return Err(SeriesError::NotInOrder { reading: before + 1 });
    }
    if settings.trial_noise.kelvin() < 0.0 {
        return Err(SeriesError::NegativeNoise);
    }
    if settings.wander_in_a_day.kelvin() < 0.0 {
        return Err(SeriesError::NegativeWander);
    }
    let promise = 20.0..=100_000.0;
    if promise.contains(&settings.promise_arl) { Ok(()) } else { Err(SeriesError::PromiseOutOfRange) }
}

fn days_between(from: DateTime<Utc>, to: DateTime<Utc>) -> f64 {
    (to - from).as_seconds_f64() / SECONDS_PER_DAY
}

fn level(estimate: Estimate) -> Level {
    Level {
        mean: Temperature::from_celsius(estimate.mean),
        sd: TemperatureDifference::from_kelvin(estimate.sd()),
    }
}

fn points(baseline: Estimate, later: &[(f64, f64, f64)], levels: &[Estimate]) -> Vec<SeriesPoint> {
    let standardized: Vec<f64> = later
        .iter()
        .map(|(_, edge, variance)| (edge - baseline.mean) / (variance + baseline.variance).sqrt())
        .collect();
    let sums = cusum(&standardized, REFERENCE);
    let averages = ewma(&standardized, WEIGHT, 0.0);
    standardized
        .iter()
        .zip(sums)
        .zip(averages)
        .zip(levels)
        .enumerate()
        .map(|(index, (((&standardized, sums), average), &estimate))| SeriesPoint {
            standardized,
            up: sums.up,
            down: sums.down,
            ewma: average / ewma_sd(WEIGHT, index + 1),
            level: level(estimate),
        })
        .collect()
}

fn signal(points: &[SeriesPoint], limit: f64) -> Option<(usize, Direction)> {
    points.iter().enumerate().find_map(|(index, point)| {
        let direction = if point.up > point.down { Direction::Up } else { Direction::Down };
        (point.up.max(point.down) > limit).then_some((index, direction))
    })
}

fn daily_change(points: &[(f64, f64)]) -> Option<DailyChange> {
    let kelvin = TemperatureDifference::from_kelvin;
    let found = theil_sen(points, LEVEL)?;
    Some(DailyChange { change: kelvin(found.slope), low: kelvin(found.low), high: kelvin(found.high) })
}

fn line_of(later: &[(f64, f64, f64)]) -> Option<SeriesLine> {
    let fit = line(later, later.last()?.0)?;
    let (value_sd, slope_sd) = (fit.value_variance.sqrt(), fit.slope_variance.sqrt());
    Some(SeriesLine {
        level: level(Estimate { mean: fit.value, variance: fit.value_variance }),
        change_in_a_day: TemperatureDifference::from_kelvin(fit.slope),
        change_sd: TemperatureDifference::from_kelvin(slope_sd),
        correlation: fit.covariance / (value_sd * slope_sd),
    })
}

#[cfg(test)]
mod tests;
