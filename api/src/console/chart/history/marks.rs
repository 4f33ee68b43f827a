//! What each trial said of an edge, the edge's level, and where it has moved to.

use chrono::{DateTime, Utc};
use lapwatch_domain::drift::{EdgeSeries, Point, Signal, SignalEnd, UnitSeries};

use super::{Axes, RIGHT, both, edge_class};
use crate::console::chart::Px;
use crate::console::chart::scale::TimeAxis;
use crate::console::show::Scale;
use crate::console::words;

/// How far an open mark runs before it has faded.
const FADE: f64 = 26.0;
/// How far from its median, in kelvin, an interval may stretch the axis.
const REACH_K: f64 = 45.0;

/// Every mark of one edge.
#[derive(Debug)]
pub(super) struct Marks {
    /// Trials that say how far the edge reaches on one side only.
    pub(super) open: Vec<OpenMark>,
    /// Trials that found it.
    pub(super) found: Vec<FoundMark>,
}

/// A trial that left the edge open: a cap at the end that is known, and no point.
#[derive(Debug)]
pub(super) struct OpenMark {
    pub(super) x: Px,
    pub(super) cap_left: Px,
    /// Where the known end lies.
    pub(super) cap: Px,
    /// Upper end of the fading bar.
    pub(super) fade_top: Px,
    pub(super) fade_height: Px,
    /// `up` or `down`: the open side.
    pub(super) towards: &'static str,
    pub(super) address: String,
    pub(super) tip: String,
}

/// A trial that found the edge: its 95 % interval and median.
#[derive(Debug)]
pub(super) struct FoundMark {
    pub(super) x: Px,
    pub(super) top: Px,
    pub(super) bottom: Px,
    pub(super) middle: Px,
    pub(super) address: String,
    pub(super) tip: String,
}

impl Marks {
    pub(super) fn new(series: &EdgeSeries, axes: &Axes) -> Self {
        let mut marks = Self { open: Vec::new(), found: Vec::new() };
        for point in series.points.iter().filter(|point| axes.time.has(point.at)) {
            let address = format!("/trials/{}", point.trial);
            let tip = format!(
                "{}: {} {}",
                axes.local.time(point.at).text,
                words::edge(series.edge),
                interval_words(point, axes.scale)
            );
            let x = axes.time.place(point.at);
            let y = |temperature| axes.temperature.held(axes.scale.value(temperature));
            match (point.open_below, point.open_above) {
                (false, false) => marks.found.push(FoundMark {
                    x,
                    top: y(point.interval.high),
                    bottom: y(point.interval.low),
                    middle: y(point.interval.middle),
                    address,
                    tip,
                }),
                (true, false) => {
                    marks.open.push(OpenMark::new(x, y(point.interval.high), Open::Below, address, tip))
                }
                (false, true) => {
                    marks.open.push(OpenMark::new(x, y(point.interval.low), Open::Above, address, tip))
                }
                // Says nothing of this edge.
                (true, true) => {}
            }
        }
        marks
    }
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Open {
    Below,
    Above,
}

impl OpenMark {
    fn new(x: Px, cap: Px, open: Open, address: String, tip: String) -> Self {
        let (fade_top, towards) = match open {
            Open::Below => (cap, "down"),
            Open::Above => (Px(cap.0 - FADE), "up"),
        };
        Self { x, cap_left: Px(x.0 - 2.5), cap, fade_top, fade_height: Px(FADE), towards, address, tip }
    }
}

/// What a trial alone says of an edge, in words.
pub(in crate::console) fn interval_words(point: &Point, scale: Scale) -> String {
    let interval = point.interval;
    match (point.open_below, point.open_above) {
        (false, false) => format!(
            "{} ({} to {})",
            scale.temperature(interval.middle),
            crate::console::show::whole(scale.value(interval.low)),
            crate::console::show::whole(scale.value(interval.high)),
        ),
        (true, false) => format!("open: below {}", scale.temperature(interval.high)),
        (false, true) => format!("open: above {}", scale.temperature(interval.low)),
        (true, true) => "not told".to_owned(),
    }
}

/// The temperatures that the axis has to cover, on the crew's scale.
pub(super) fn range(series: &UnitSeries, time: &TimeAxis, scale: Scale) -> (f64, f64) {
    let reach = if scale.symbol() == "°F" { REACH_K * 1.8 } else { REACH_K };
    let mut values: Vec<f64> = Vec::new();
    for edge in both(series) {
        for point in edge.points.iter().filter(|point| time.has(point.at)) {
            let [low, middle, high] =
                [point.interval.low, point.interval.middle, point.interval.high].map(|t| scale.value(t));
            match (point.open_below, point.open_above) {
                (false, false) => values.extend([low.max(middle - reach), high.min(middle + reach)]),
                (true, false) => values.push(high),
                (false, true) => values.push(low),
                (true, true) => {}
            }
        }
        if let Some(level) = edge.level {
            let (mean, sd) = (scale.value(level.mean), scale.difference_value(level.sd).min(reach));
            values.extend([mean - sd, mean + sd]);
            let shifted = edge.signal().filter(|signal| scale.difference_value(signal.shift_sd) < reach);
            values.extend(shifted.map(|signal| mean + scale.difference_value(signal.shift)));
        }
    }
    let low = values.iter().copied().reduce(f64::min).unwrap_or(400.0);
    let high = values.iter().copied().reduce(f64::max).unwrap_or(500.0);
    // Room for open marks to fade, and never an empty range.
    let air = ((high - low) * 0.06).max(reach / 4.0);
    (low - air, high + air)
}

/// The level of an edge since the last restart, with its standard deviation.
#[derive(Debug)]
pub(super) struct LevelBand {
    pub(super) class: &'static str,
    pub(super) x: Px,
    pub(super) width: Px,
    pub(super) top: Px,
    pub(super) height: Px,
    pub(super) middle: Px,
}

impl LevelBand {
    pub(super) fn new(series: &EdgeSeries, axes: &Axes) -> Option<Self> {
        let level = series.level?;
        let segment = series.points.last()?.segment;
        let start = series.points.iter().find(|point| point.segment == segment)?.at;
        let y = |temperature| axes.temperature.held(axes.scale.value(temperature));
        let (x, top) = (axes.time.held(start), y(level.mean + level.sd));
        Some(Self {
            class: edge_class(series.edge),
            x,
            width: Px(RIGHT - x.0),
            top,
            height: Px((y(level.mean - level.sd).0 - top.0).max(1.0)),
            middle: y(level.mean),
        })
    }
}

/// A signal: when the shift began, and where the edge has stood since.
#[derive(Debug)]
pub(super) struct Moved {
    pub(super) class: &'static str,
    pub(super) onset_x: Px,
    pub(super) onset_width: Px,
    pub(super) onset_tip: String,
    /// Where the edge has moved to, while the signal stands and the place lies on the axis.
    pub(super) now: Option<MovedTo>,
}

/// The level after a shift.
#[derive(Debug)]
pub(super) struct MovedTo {
    pub(super) x: Px,
    pub(super) end: Px,
    pub(super) y: Px,
}

impl Moved {
    pub(super) fn all<'a>(series: &'a EdgeSeries, axes: &'a Axes) -> impl Iterator<Item = Self> + 'a {
        let visible = |signal: &&Signal| axes.time.has(signal.onset_last.at);
        series.signals.iter().filter(visible).map(|signal| Self::new(series, signal, axes))
    }

    fn new(series: &EdgeSeries, signal: &Signal, axes: &Axes) -> Self {
        let (first, last) = (axes.time.held(signal.onset_first.at), axes.time.place(signal.onset_last.at));
        // An onset known to the trial is still visible.
        let width = (last.0 - first.0).max(5.0);
        let x = (first.0 + last.0 - width) / 2.0;
        let local = axes.local;
        Self {
            class: edge_class(series.edge),
            onset_x: Px(x),
            onset_width: Px(width),
            onset_tip: format!(
                "The {} began to move between {} and {}; signalled {}",
                words::edge(series.edge),
                local.day(signal.onset_first.at).text,
                local.day(signal.onset_last.at).text,
                local.day(signal.at).text
            ),
            now: moved_to(series, signal, axes),
        }
    }
}

fn moved_to(series: &EdgeSeries, signal: &Signal, axes: &Axes) -> Option<MovedTo> {
    let level = series.level.filter(|_| signal.end.is_none())?;
    let value = axes.scale.value(level.mean + signal.shift);
    // Off the axis it would lie: the label beside the plot tells the shift all the same.
    axes.temperature.has(value).then(|| MovedTo {
        x: axes.time.held(signal.onset_last.at),
        end: Px(RIGHT),
        y: axes.temperature.place(value),
    })
}

/// When a signal ended, if it did.
pub(super) fn ended_at(signal: &Signal) -> Option<DateTime<Utc>> {
    match signal.end {
        Some(SignalEnd::Service { at } | SignalEnd::Subsided { at, .. }) => Some(at),
        None => None,
    }
}
