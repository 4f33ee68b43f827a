//! The charts that tell drift from noise, one strip an edge: evidence of rising above the middle, of falling below it,
//! each as a share of the limit at which it signals.

use std::fmt::Write as _;

use lapwatch_domain::drift::{EdgeSeries, Point};
use lapwatch_domain::edges::Edge;

use super::marks::ended_at;
use super::{Axes, RIGHT, STRIP_HEIGHT, edge_class};
use crate::console::chart::{Linear, Px};
use crate::console::words;

/// The chart is cut off here, in limits: beyond, it has said what it has to say.
const TOP_SHARE: f64 = 1.5;

/// One strip.
#[derive(Debug)]
pub(super) struct Strip {
    pub(super) class: &'static str,
    pub(super) top: Px,
    pub(super) height: Px,
    pub(super) middle: Px,
    pub(super) limit_up: Px,
    pub(super) limit_down: Px,
    pub(super) label_x: Px,
    pub(super) label_y: Px,
    pub(super) label: &'static str,
    pub(super) sub_y: Px,
    pub(super) up: String,
    pub(super) down: String,
    pub(super) signals: Vec<SignalMark>,
}

/// Where a chart crossed its limit.
#[derive(Debug)]
pub(super) struct SignalMark {
    pub(super) x: Px,
    pub(super) y: Px,
    pub(super) tip: String,
}

impl Strip {
    /// The strip of an edge, its upper side at `top`.
    pub(super) fn new(series: &EdgeSeries, axes: &Axes, top: f64) -> Self {
        let shares = Linear::new((-TOP_SHARE, TOP_SHARE), (top + STRIP_HEIGHT, top));
        let share = |value: f64, limit: f64| if limit > 0.0 { value / limit } else { 0.0 };
        Self {
            class: edge_class(series.edge),
            top: Px(top),
            height: Px(STRIP_HEIGHT),
            middle: shares.place(0.0),
            limit_up: shares.place(1.0),
            limit_down: shares.place(-1.0),
            label_x: Px(RIGHT + 10.0),
            label_y: Px(shares.place(0.0).0 - 4.0),
            label: match series.edge {
                Edge::Lower => "Lower edge",
                Edge::Upper => "Upper edge",
            },
            sub_y: Px(shares.place(0.0).0 + 13.0),
            up: path(series, axes, &shares, |point| share(point.up, point.limit)),
            down: path(series, axes, &shares, |point| -share(point.down, point.limit)),
            signals: signals(series, axes, &shares),
        }
    }
}

/// A filled outline from the middle line and back to it, broken at restarts.
fn path(series: &EdgeSeries, axes: &Axes, shares: &Linear, share: impl Fn(&Point) -> f64) -> String {
    let mut path = String::new();
    let middle = shares.place(0.0);
    let visible: Vec<&Point> = series.points.iter().filter(|point| axes.time.has(point.at)).collect();
    for segment in visible.chunk_by(|a, b| a.segment == b.segment) {
        let (Some(first), Some(last)) = (segment.first(), segment.last()) else { continue };
        // Writing to a string cannot fail.
        let _infallible = write!(path, "M{} {middle}", axes.time.place(first.at));
        for point in segment {
            let _infallible = write!(path, "L{} {}", axes.time.place(point.at), shares.held(share(point)));
        }
        let _infallible = write!(path, "L{} {middle}", axes.time.place(last.at));
    }
    path
}

fn signals(series: &EdgeSeries, axes: &Axes, shares: &Linear) -> Vec<SignalMark> {
    use lapwatch_domain::drift::Direction;
    series
        .signals
        .iter()
        .filter(|signal| axes.time.has(signal.at))
        .map(|signal| {
            let side = match signal.direction {
                Direction::Up => 1.0,
                Direction::Down => -1.0,
            };
            let end = match ended_at(signal) {
                Some(at) => format!("; ended {}", axes.local.day(at).text),
                None => String::new(),
            };
            SignalMark {
                x: axes.time.place(signal.at),
                y: shares.place(side),
                tip: format!(
                    "{}: the chart of the {} crossed its limit{end}",
                    axes.local.time(signal.at).text,
                    words::edge(series.edge)
                ),
            }
        })
        .collect()
}
