//! Histories of units, a row for each trial and edge, at reference conditions (sheet 20 °C, 3.05 m/min).

use chrono::SecondsFormat;
use lapwatch_domain::drift::{EdgeSeries, Point};

use super::{Cell, Scales, column, number};
use crate::service::units::History;
use crate::view::ratio;

/// The names of the columns.
pub fn history_columns(scales: &Scales) -> Vec<String> {
    let plain = |names: &[&str]| names.iter().map(|name| (*name).to_owned()).collect::<Vec<_>>();
    [
        plain(&["unit", "unit_id", "material_class", "edge", "trial_id", "performed_at", "segment"]),
        vec![
            column("low", scales.temperature),
            column("middle", scales.temperature),
            column("high", scales.temperature),
        ],
        plain(&["open_below", "open_above", "chart_up", "chart_down", "chart_limit"]),
    ]
    .concat()
}

/// The rows of a unit, class by class and edge by edge, each in order of time.
pub fn history_rows(history: &History, scales: &Scales) -> Vec<Vec<Cell>> {
    let mut rows = Vec::new();
    for series in history.series.iter() {
        for (edge, series, class) in
            [("lower", &series.lower, series.class), ("upper", &series.upper, series.class)]
        {
            let head = vec![
                Cell::Text(history.unit.value.label.clone()),
                Cell::code(Some(history.unit.id)),
                Cell::code(Some(class.code())),
                Cell::code(Some(edge)),
            ];
            rows.extend(
                series.points.iter().map(|point| [head.clone(), cells(point, series, scales)].concat()),
            );
        }
    }
    rows
}

fn cells(point: &Point, series: &EdgeSeries, scales: &Scales) -> Vec<Cell> {
    let unit = scales.temperature;
    vec![
        Cell::code(Some(point.trial)),
        Cell::code(Some(point.at.to_rfc3339_opts(SecondsFormat::AutoSi, true))),
        Cell::code(Some(point.segment)),
        number(point.interval.low, unit),
        number(point.interval.middle, unit),
        number(point.interval.high, unit),
        Cell::Truth(point.open_below),
        Cell::Truth(point.open_above),
        Cell::Number(ratio(point.up)),
        Cell::Number(ratio(point.down)),
        Cell::Number(ratio(series.limit)),
    ]
}
