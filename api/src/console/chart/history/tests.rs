use askama::Template;
use chrono::TimeZone;
use lapwatch_domain::drift::{Direction, Interval, Level, Onset, Point, Signal};
use lapwatch_domain::membrane::MaterialClass;
use lapwatch_domain::quantity::{
    Quantity, Temperature, TemperatureDifference, TemperatureDifferenceUnit, TemperatureUnit,
};
use uuid::Uuid;

use super::*;
use crate::model::ServiceKind;

fn celsius(value: f64) -> Temperature {
    Temperature::new(value, TemperatureUnit::Celsius).unwrap()
}

fn kelvin(value: f64) -> TemperatureDifference {
    TemperatureDifference::new(value, TemperatureDifferenceUnit::Kelvin).unwrap()
}

fn day(day: i64) -> DateTime<Utc> {
    Utc.with_ymd_and_hms(2026, 9, 1, 13, 0, 0).unwrap() + TimeDelta::days(day)
}

fn point(at: i64, (low, middle, high): (f64, f64, f64), (open_below, open_above): (bool, bool)) -> Point {
    Point {
        trial: Uuid::from_u128(u128::try_from(at).unwrap()),
        at: day(at),
        segment: 0,
        interval: Interval { low: celsius(low), middle: celsius(middle), high: celsius(high) },
        open_below,
        open_above,
        up: 0.0,
        down: 2.0,
        limit: 4.0,
        speaks: true,
        effective_trials: 1.0,
    }
}

fn edge(edge: Edge, points: Vec<Point>) -> EdgeSeries {
    EdgeSeries {
        edge,
        points,
        level: None,
        limit: 4.0,
        effective_trials: 1.0,
        learning: true,
        signals: vec![],
    }
}

/// A confirmation that left both edges open, then a sweep that found both.
fn series() -> UnitSeries {
    UnitSeries {
        class: MaterialClass::Pvc,
        lower: edge(
            Edge::Lower,
            vec![
                point(1, (252.0, 350.0, 440.0), (true, false)),
                point(9, (380.0, 410.0, 440.0), (false, false)),
            ],
        ),
        upper: edge(
            Edge::Upper,
            vec![
                point(1, (490.0, 580.0, 668.0), (false, true)),
                point(9, (510.0, 540.0, 570.0), (false, false)),
            ],
        ),
        heat_share: (0.27, 0.04),
    }
}

fn chart(series: &UnitSeries, services: &[ServiceEvent]) -> HistoryChart {
    let local = Local { zone: chrono_tz::America::Chicago, now: day(20) };
    HistoryChart::new(&HistoryInput { series, services, scale: Scale::default(), local, since: None })
        .unwrap()
}

#[test]
fn an_open_edge_has_a_cap_and_a_fade_and_no_point() {
    let chart = chart(&series(), &[]);
    assert_eq!((chart.lower.open.len(), chart.lower.found.len()), (1, 1));
    let (below, above) = (&chart.lower.open[0], &chart.upper.open[0]);
    // Open below: known at its high end, fading downwards, which in a drawing is towards larger y.
    assert_eq!((below.towards, below.fade_top), ("down", below.cap));
    assert_eq!(above.towards, "up");
    assert!(above.fade_top < above.cap);
    let svg = chart.render().unwrap();
    assert_eq!(svg.matches("class=\"median\"").count(), 2, "one point for each edge that was found");
    assert_eq!(svg.matches("class=\"cap\"").count(), 2);
}

#[test]
fn a_trial_that_says_nothing_of_an_edge_is_not_drawn() {
    let mut series = series();
    series.lower.points[0] = point(1, (252.0, 430.0, 615.0), (true, true));
    let chart = chart(&series, &[]);
    assert_eq!((chart.lower.open.len(), chart.lower.found.len()), (0, 1));
}

#[test]
fn an_open_end_does_not_stretch_the_axis() {
    let labels: Vec<String> = chart(&series(), &[]).temperatures.into_iter().map(|tick| tick.label).collect();
    assert_eq!(labels.first().map(String::as_str), Some("400"), "{labels:?}");
}

#[test]
fn service_labels_do_not_lie_on_each_other() {
    let event = |at| ServiceEvent {
        id: Uuid::nil(),
        unit_id: Uuid::nil(),
        performed_at: day(at),
        work: vec![ServiceKind::HeaterReplaced],
        affects_heat: true,
        parts: vec![],
        performed_by: None,
        remarks: None,
        supersedes: None,
        recorded_at: None,
    };
    let chart = chart(&series(), &[event(5), event(6), event(7), event(7)]);
    let rows: Vec<u8> =
        chart.services.iter().filter(|mark| mark.label.is_some()).map(|mark| mark.row).collect();
    assert_eq!(rows, [0, 1, 2], "three rows, and the fourth label is left to the list");
    assert_eq!(chart.services.len(), 4);

    let visit = ServiceEvent {
        work: vec![ServiceKind::Inspection, ServiceKind::NozzleCleaned, ServiceKind::CordReplaced],
        ..event(5)
    };
    let mark = &self::chart(&series(), &[visit]).services[0];
    assert_eq!(mark.label.as_ref().map(|label| label.text.as_str()), Some("Inspection +2"));
    assert!(mark.tip.ends_with(": Inspection, nozzle cleaned, cord replaced"), "{}", mark.tip);
}

#[test]
fn a_standing_signal_shows_when_it_began_and_where_the_edge_is_now() {
    let mut series = series();
    series.lower.level = Some(Level { mean: celsius(410.0), sd: kelvin(6.0) });
    series.lower.signals.push(Signal {
        direction: Direction::Up,
        trial: Uuid::from_u128(9),
        at: day(9),
        onset_first: Onset { trial: Uuid::from_u128(1), at: day(1) },
        onset_last: Onset { trial: Uuid::from_u128(9), at: day(9) },
        shift: kelvin(23.0),
        shift_sd: kelvin(5.0),
        levels: (celsius(410.0), celsius(540.0)),
        other_shift: (kelvin(0.0), kelvin(9.0)),
        chart: 4.2,
        limit: 4.0,
        course: None,
        closed_at: None,
        end: None,
    });
    let chart = chart(&series, &[]);
    let [moved] = chart.moved.as_slice() else { panic!("one shift: {:?}", chart.moved) };
    let now = moved.now.as_ref().expect("the signal stands");
    assert!(now.y < chart.levels[0].middle, "it moved up, towards smaller y");
    let label = chart.edge_labels.iter().find(|label| label.class == "lower-edge").unwrap();
    assert_eq!(label.moved.as_deref(), Some("moved +23 ± 5\u{a0}°C"));
    assert_eq!(chart.strips[1].signals.len(), 1);
}

#[test]
fn the_labels_of_close_edges_keep_apart() {
    let mut series = series();
    series.lower.level = Some(Level { mean: celsius(470.0), sd: kelvin(3.0) });
    series.upper.level = Some(Level { mean: celsius(474.0), sd: kelvin(3.0) });
    let labels = chart(&series, &[]).edge_labels;
    assert!(labels[1].name_y.0 - labels[0].moved_y.0 > 13.0, "{labels:?}");
}
