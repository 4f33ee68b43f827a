//! Words in the drawing, placed so that they do not lie on each other.

use lapwatch_domain::drift::{EdgeSeries, UnitSeries};
use lapwatch_domain::edges::Edge;

use super::{Axes, RIGHT, edge_class};
use crate::console::chart::scale::TimeAxis;
use crate::console::chart::{Px, text_width};
use crate::console::show::{Local, whole};
use crate::console::words;
use crate::model::ServiceEvent;

/// Rows of service labels above the plot; what finds no place in them is drawn without words and told in the list.
const ROWS: u8 = 3;

/// Work on the unit: a line through the plot with words above it.
#[derive(Debug)]
pub(super) struct ServiceMark {
    pub(super) x: Px,
    /// Row of its label, counted from the top.
    pub(super) row: u8,
    pub(super) label: Option<ServiceLabel>,
    /// Whether the charts begin anew.
    pub(super) restarts: bool,
    pub(super) tip: String,
}

/// Words of a service mark.
#[derive(Debug)]
pub(super) struct ServiceLabel {
    pub(super) x: Px,
    pub(super) y: Px,
    pub(super) anchor: &'static str,
    pub(super) text: String,
}

/// Marks for all work in the drawing, labels in as many rows as they need.
pub(super) fn service_marks(services: &[ServiceEvent], time: &TimeAxis, local: Local) -> Vec<ServiceMark> {
    let mut row_ends = [f64::NEG_INFINITY; ROWS as usize];
    let mut events: Vec<&ServiceEvent> =
        services.iter().filter(|event| time.has(event.performed_at)).collect();
    events.sort_by_key(|event| event.performed_at);
    events.into_iter().map(|event| service_mark(event, time, local, &mut row_ends)).collect()
}

fn service_mark(event: &ServiceEvent, time: &TimeAxis, local: Local, row_ends: &mut [f64]) -> ServiceMark {
    let x = time.place(event.performed_at);
    let text = words::service_work_short(&event.work);
    let width = text_width(&text);
    // Near the right end words run to the left of their line.
    let (start, anchor, label_x) =
        if x.0 + width > RIGHT + 60.0 { (x.0 - width, "end", x.0 - 5.0) } else { (x.0, "start", x.0 + 5.0) };
    let row = row_ends.iter().position(|end| *end < start);
    if let Some(row) = row {
        row_ends[row] = start + width + 14.0;
    }
    let row = row.and_then(|row| u8::try_from(row).ok());
    let tip = format!("{}: {}", local.time(event.performed_at).text, words::service_work(&event.work));
    ServiceMark {
        x,
        row: row.unwrap_or(0),
        label: row.map(|row| ServiceLabel {
            x: Px(label_x),
            y: Px(super::TITLE_ROW + super::LABEL_ROW * f64::from(row) + 13.0),
            anchor,
            text,
        }),
        restarts: event.affects_heat,
        tip,
    }
}

/// An edge's name and level at the right end of the plot.
#[derive(Debug)]
pub(super) struct EdgeLabel {
    pub(super) class: &'static str,
    pub(super) x: Px,
    pub(super) name_y: Px,
    pub(super) name: &'static str,
    pub(super) detail_y: Px,
    pub(super) detail: String,
    pub(super) moved_y: Px,
    pub(super) moved: Option<String>,
}

/// Height of a label of three lines.
const LABEL_HEIGHT: f64 = 54.0;

/// Labels of both edges, beside their levels but not on each other.
pub(super) fn edge_labels(series: &UnitSeries, axes: &Axes, (top, bottom): (f64, f64)) -> Vec<EdgeLabel> {
    let place = |edge: &EdgeSeries, otherwise: f64| {
        let level = edge.level.map(|level| axes.temperature.held(axes.scale.value(level.mean)).0);
        (level.unwrap_or(otherwise) - 4.0).clamp(top + 10.0, bottom - LABEL_HEIGHT + 14.0)
    };
    let upper = place(&series.upper, top);
    let lower = place(&series.lower, bottom).max(upper + LABEL_HEIGHT).min(bottom - LABEL_HEIGHT + 14.0);
    let upper = upper.min(lower - LABEL_HEIGHT);
    vec![edge_label(&series.upper, axes, upper), edge_label(&series.lower, axes, lower)]
}

fn edge_label(series: &EdgeSeries, axes: &Axes, y: f64) -> EdgeLabel {
    let scale = axes.scale;
    EdgeLabel {
        class: edge_class(series.edge),
        x: Px(RIGHT + 10.0),
        name_y: Px(y),
        name: match series.edge {
            Edge::Lower => "Lower edge",
            Edge::Upper => "Upper edge",
        },
        detail_y: Px(y + 17.0),
        detail: match series.level {
            Some(level) => format!("{} ± {}", scale.temperature(level.mean), scale.difference(level.sd)),
            None => "not known yet".to_owned(),
        },
        moved_y: Px(y + 34.0),
        moved: series.signal().map(|signal| {
            let by = scale.difference_value(signal.shift).round();
            let sign = if by > 0.0 { "+" } else { "" };
            format!("moved {sign}{} ± {}", whole(by), scale.difference(signal.shift_sd))
        }),
    }
}
