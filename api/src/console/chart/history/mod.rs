//! The history of a unit's edges on one sheet class: what each trial said, the level of each edge, service, and below
//! them the charts that tell drift from noise.
//!
//! Most trials are confirmations that leave an edge open. They are drawn as what they are: a light cap at the end that
//! is known, fading towards the side that is open, and no point anywhere. Trials that found an edge stand out.

mod labels;
mod marks;
mod strip;
#[cfg(test)]
mod tests;

use askama::Template;
use askama::filters::HtmlSafe;
use chrono::{DateTime, TimeDelta, Utc};
use lapwatch_domain::drift::{EdgeSeries, UnitSeries};
use lapwatch_domain::edges::Edge;

use super::scale::{DateTick, TimeAxis};
use super::{Linear, Px};
use crate::console::show::{Local, Scale, whole};
use crate::console::words;
use crate::model::ServiceEvent;
pub(in crate::console) use marks::interval_words;

use labels::{EdgeLabel, ServiceMark, edge_labels, service_marks};
use marks::{LevelBand, Marks, Moved};
use strip::Strip;

const WIDTH: f64 = 1000.0;
const LEFT: f64 = 52.0;
const RIGHT: f64 = 834.0;
const TITLE_ROW: f64 = 22.0;
const PLOT_HEIGHT: f64 = 330.0;
const LABEL_ROW: f64 = 19.0;
const STRIP_HEIGHT: f64 = 84.0;
const STRIP_GAP: f64 = 14.0;
const DATES_HEIGHT: f64 = 26.0;

/// What is to be drawn.
#[derive(Debug, Clone, Copy)]
pub(in crate::console) struct HistoryInput<'a> {
    /// Both edges.
    pub(in crate::console) series: &'a UnitSeries,
    /// What was done to the unit.
    pub(in crate::console) services: &'a [ServiceEvent],
    /// The crew's scales.
    pub(in crate::console) scale: Scale,
    /// The site's clock.
    pub(in crate::console) local: Local,
    /// Draw nothing before this; `None`: from the first trial.
    pub(in crate::console) since: Option<DateTime<Utc>>,
}

/// The drawing.
#[derive(Debug, Template)]
#[template(path = "parts/history.svg", escape = "html")]
pub(in crate::console) struct HistoryChart {
    id: &'static str,
    title: String,
    description: String,
    width: Px,
    height: Px,
    left: Px,
    right: Px,
    top: Px,
    bottom: Px,
    plot_width: Px,
    plot_height: Px,
    dates_y: Px,
    axis_title: String,
    temperatures: Vec<TemperatureTick>,
    dates: Vec<DateTick>,
    levels: Vec<LevelBand>,
    moved: Vec<Moved>,
    lower: Marks,
    upper: Marks,
    edge_labels: Vec<EdgeLabel>,
    services: Vec<ServiceMark>,
    strips: [Strip; 2],
}

impl HtmlSafe for HistoryChart {}

/// A temperature on the axis.
#[derive(Debug)]
struct TemperatureTick {
    y: Px,
    label: String,
}

/// The two axes that all parts share.
#[derive(Debug, Clone, Copy)]
struct Axes {
    time: TimeAxis,
    temperature: Linear,
    scale: Scale,
    local: Local,
}

impl HistoryChart {
    /// The drawing; `None` when no trial falls into it.
    pub(in crate::console) fn new(input: &HistoryInput<'_>) -> Option<Self> {
        let HistoryInput { series, scale, local, .. } = *input;
        let time = time_axis(input)?;
        let services = service_marks(input.services, &time, local);
        let top =
            TITLE_ROW + LABEL_ROW * f64::from(services.iter().map(|mark| mark.row + 1).max().unwrap_or(0));
        let bottom = top + PLOT_HEIGHT;
        let temperature = Linear::new(marks::range(series, &time, scale), (bottom, top));
        let axes = Axes { time, temperature, scale, local };
        let strip_top = bottom + DATES_HEIGHT + STRIP_GAP;
        let strips = [
            Strip::new(&series.upper, &axes, strip_top),
            Strip::new(&series.lower, &axes, strip_top + STRIP_HEIGHT + STRIP_GAP),
        ];
        let class = words::material_class(series.class);
        Some(Self {
            id: series.class.code(),
            title: format!("History of both edges on {class}"),
            description: description(series, scale),
            width: Px(WIDTH),
            height: Px(strip_top + 2.0 * STRIP_HEIGHT + STRIP_GAP + 8.0),
            left: Px(LEFT),
            right: Px(RIGHT),
            top: Px(top),
            bottom: Px(bottom),
            plot_width: Px(RIGHT - LEFT),
            plot_height: Px(PLOT_HEIGHT),
            dates_y: Px(bottom + 18.0),
            axis_title: format!("Edge at reference conditions, {}", scale.symbol()),
            temperatures: temperature
                .ticks(7.0)
                .into_iter()
                .map(|value| TemperatureTick { y: temperature.place(value), label: whole(value) })
                .collect(),
            dates: time.ticks(local.zone),
            levels: both(series).filter_map(|edge| LevelBand::new(edge, &axes)).collect(),
            moved: both(series).flat_map(|edge| Moved::all(edge, &axes)).collect(),
            lower: Marks::new(&series.lower, &axes),
            upper: Marks::new(&series.upper, &axes),
            edge_labels: edge_labels(series, &axes, (top, bottom)),
            services,
            strips,
        })
    }
}

fn both(series: &UnitSeries) -> impl Iterator<Item = &EdgeSeries> {
    [&series.upper, &series.lower].into_iter()
}

fn time_axis(input: &HistoryInput<'_>) -> Option<TimeAxis> {
    let times = || both(input.series).flat_map(|edge| &edge.points).map(|point| point.at);
    let since = input.since.unwrap_or(DateTime::<Utc>::MIN_UTC);
    let first = times().filter(|at| *at >= since).min()?;
    let last = times().max()?.max(input.local.now);
    let air = ((last - first) / 60).max(TimeDelta::hours(12));
    Some(TimeAxis::new(first - air, last + air, LEFT, RIGHT))
}

/// What the drawing shows, for those who do not see it.
fn description(series: &UnitSeries, scale: Scale) -> String {
    let edge = |edge: &EdgeSeries| {
        let name = words::edge(edge.edge);
        let level = match edge.level {
            Some(level) => format!(
                "the {name} stands at {}, give or take {}",
                scale.temperature(level.mean),
                scale.difference(level.sd)
            ),
            None => format!("the {name} is not known yet"),
        };
        match edge.signal() {
            Some(signal) => format!("{level}, and has moved by {}", scale.signed(signal.shift)),
            None => level,
        }
    };
    format!(
        "{} trials; {}; {}. The table below has every trial.",
        series.lower.points.len(),
        edge(&series.lower),
        edge(&series.upper)
    )
}

/// The class by which the stylesheet colours what belongs to an edge.
fn edge_class(edge: Edge) -> &'static str {
    match edge {
        Edge::Lower => "lower-edge",
        Edge::Upper => "upper-edge",
    }
}
