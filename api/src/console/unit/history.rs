//! The history of a unit: a chart a sheet class, and the same as a table.

use std::collections::HashMap;

use chrono::{DateTime, Months as CalendarMonths, Utc};
use lapwatch_domain::drift::{Point, UnitSeries};
use lapwatch_domain::quantity::TemperatureUnit;
use uuid::Uuid;

use crate::console::chart::history::{HistoryChart, HistoryInput, interval_words};
use crate::console::show::{Local, Scale, When};
use crate::console::words;
use crate::service::units::History;

/// How far back a chart reaches.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Months(Option<u32>);

/// What can be chosen; the second is the default.
const CHOICES: [(Option<u32>, &str, &str); 4] = [
    (Some(3), "3", "3 months"),
    (Some(12), "12", "12 months"),
    (Some(36), "36", "3 years"),
    (None, "all", "All"),
];

/// One of the choices.
#[derive(Debug)]
pub(super) struct MonthsChoice {
    pub(super) value: &'static str,
    pub(super) words: &'static str,
    pub(super) chosen: bool,
}

impl Months {
    /// What was asked for; anything else is a year.
    pub(super) fn of(given: Option<&str>) -> Self {
        let chosen = CHOICES.iter().find(|(_, value, _)| given == Some(value));
        Self(chosen.map_or(Some(12), |(months, ..)| *months))
    }

    /// All choices.
    pub(super) fn choices(self) -> Vec<MonthsChoice> {
        let choice = |(months, value, words)| MonthsChoice { value, words, chosen: Self(months) == self };
        CHOICES.map(choice).into_iter().collect()
    }

    fn since(self, now: DateTime<Utc>) -> Option<DateTime<Utc>> {
        now.checked_sub_months(CalendarMonths::new(self.0?))
    }
}

/// The history on one sheet class.
#[derive(Debug)]
pub(super) struct ClassHistory {
    pub(super) id: &'static str,
    pub(super) title: &'static str,
    pub(super) summary: String,
    pub(super) chart: Option<HistoryChart>,
    pub(super) rows: Vec<HistoryRow>,
}

/// One trial in the table.
#[derive(Debug)]
pub(super) struct HistoryRow {
    pub(super) address: String,
    pub(super) at: When,
    pub(super) purpose: &'static str,
    pub(super) lower: String,
    pub(super) upper: String,
    pub(super) lower_evidence: String,
    pub(super) upper_evidence: String,
}

/// Histories of all sheet classes, the one with the most trials first.
pub(super) fn class_histories(
    history: &History,
    months: Months,
    scale: Scale,
    local: Local,
) -> Vec<ClassHistory> {
    let purposes: HashMap<Uuid, &'static str> =
        history.trials.iter().map(|row| (row.trial_id, words::purpose_short(row.purpose))).collect();
    let mut classes: Vec<&UnitSeries> = history.series.iter().collect();
    classes.sort_by_key(|series| std::cmp::Reverse(series.lower.points.len()));
    classes
        .into_iter()
        .map(|series| {
            let since = months.since(local.now);
            let input = HistoryInput { series, services: &history.service_events, scale, local, since };
            ClassHistory {
                id: series.class.code(),
                title: words::material_class(series.class),
                summary: summary(series, scale),
                chart: HistoryChart::new(&input),
                rows: rows(series, since, scale, local, &purposes),
            }
        })
        .collect()
}

/// What the history is worth and at which conditions it is told.
fn summary(series: &UnitSeries, scale: Scale) -> String {
    let trials = series.lower.points.len();
    let learning = [(&series.lower, "lower"), (&series.upper, "upper")]
        .into_iter()
        .filter(|(edge, _)| edge.learning)
        .map(|(_, name)| name)
        .collect::<Vec<_>>();
    let conditions = match scale.temperature {
        TemperatureUnit::Celsius => "sheet at 20 °C, 3.05 m/min, rated voltage",
        TemperatureUnit::Fahrenheit => "sheet at 68 °F, 10 ft/min, rated voltage",
    };
    let known = match learning.as_slice() {
        [] => String::new(),
        [one] => format!(" The {one} edge is not well known yet: edge-finding trials help most."),
        _ => " Neither edge is well known yet: edge-finding trials help most.".to_owned(),
    };
    let noun = if trials == 1 { "trial" } else { "trials" };
    format!("{trials} {noun}, brought to reference conditions ({conditions}).{known}")
}

fn rows(
    series: &UnitSeries,
    since: Option<DateTime<Utc>>,
    scale: Scale,
    local: Local,
    purposes: &HashMap<Uuid, &'static str>,
) -> Vec<HistoryRow> {
    let upper: HashMap<Uuid, &Point> = series.upper.points.iter().map(|point| (point.trial, point)).collect();
    let told = |point: Option<&Point>| {
        point.map_or_else(|| "not told".to_owned(), |point| interval_words(point, scale))
    };
    let evidence = |point: Option<&Point>| point.map_or_else(String::new, evidence_words);
    series
        .lower
        .points
        .iter()
        .rev()
        .filter(|point| since.is_none_or(|since| point.at >= since))
        .map(|lower| {
            let upper = upper.get(&lower.trial).copied();
            HistoryRow {
                address: format!("/trials/{}", lower.trial),
                at: local.time(lower.at),
                purpose: purposes.get(&lower.trial).copied().unwrap_or_default(),
                lower: told(Some(lower)),
                upper: told(upper),
                lower_evidence: evidence(Some(lower)),
                upper_evidence: evidence(upper),
            }
        })
        .collect()
}

/// The charts after a trial, in percent of their limit.
fn evidence_words(point: &Point) -> String {
    let share = |value: f64| {
        if point.limit > 0.0 { (100.0 * value / point.limit).round() } else { 0.0 }
    };
    match (share(point.up), share(point.down)) {
        (0.0, 0.0) => "0 %".to_owned(),
        (up, down) if up >= down => format!("{up:.0} % up"),
        (_, down) => format!("{down:.0} % down"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_year_is_shown_unless_something_else_is_asked_for() {
        assert_eq!(Months::of(None), Months(Some(12)));
        assert_eq!(Months::of(Some("junk")), Months(Some(12)));
        assert_eq!(Months::of(Some("all")), Months(None));
        let chosen: Vec<&str> =
            Months::of(Some("3")).choices().into_iter().filter(|c| c.chosen).map(|c| c.value).collect();
        assert_eq!(chosen, ["3"]);
    }
}
