//! The fleet page: headline, filters, groups of units.

use askama::Template;
use chrono::{DateTime, Utc};
use chrono_tz::Tz;
use lapwatch_domain::quantity::TemperatureUnit;
use lapwatch_domain::standing::StandingCode;
use uuid::Uuid;

use super::Choice;
use super::order::{self, Attention, Sort, is_overdue};
use super::row::Row;
use crate::console::held;
use crate::console::mark::Mark;
use crate::console::response::Frame;
use crate::console::show::{Local, When};
use crate::console::words;
use crate::model::SharedDecision;
use crate::service::fleet::FleetRow;
use crate::service::shared::Notable;

/// The page.
#[derive(Debug, Template)]
#[template(path = "fleet.html")]
pub(super) struct FleetPage {
    frame: Frame,
    as_of: When,
    headline: String,
    /// That records arrived which could not be accepted, if there are any.
    held: Option<String>,
    /// What moves the edges of several units.
    shared: Vec<SharedNote>,
    counts: Vec<Count>,
    crews: Vec<Entry>,
    sorts: Vec<Entry>,
    groups: Vec<Group>,
}

/// How many units stand so.
#[derive(Debug, PartialEq)]
struct Count {
    mark: Mark,
    number: usize,
}

/// One entry of a list to choose from.
#[derive(Debug)]
struct Entry {
    value: String,
    words: String,
    chosen: bool,
}

/// Units under one heading; without a heading when the order is not by attention.
#[derive(Debug)]
struct Group {
    id: &'static str,
    heading: Option<(&'static str, &'static str)>,
    rows: Vec<Row>,
}

/// Something that moves the edges of several units.
#[derive(Debug)]
struct SharedNote {
    name: String,
    sentences: Vec<String>,
    /// What people did about it, in order of time.
    decisions: Vec<(&'static str, When, Option<String>)>,
}

impl SharedNote {
    fn new(notable: &Notable, unit: TemperatureUnit, local: Local) -> Self {
        let decision = |decision: &SharedDecision| {
            (words::decision(decision.kind), local.time(decision.at), decision.remark.clone())
        };
        Self {
            name: notable.name.clone(),
            sentences: notable.shift.sentences(unit),
            decisions: notable.decided.decisions.iter().map(decision).collect(),
        }
    }
}

impl FleetPage {
    /// The page of these units.
    pub(super) fn new(
        frame: Frame,
        (all, shared, held): (&[FleetRow], &[Notable], u64),
        choice: Choice,
        now: DateTime<Utc>,
    ) -> Self {
        let mut shown: Vec<&FleetRow> =
            all.iter().filter(|row| choice.crew.is_none() || row.unit.value.crew_id == choice.crew).collect();
        order::sort(&mut shown, choice.sort, now);
        let local = Local { zone: common_zone(&shown), now };
        Self {
            frame,
            as_of: local.time(now),
            headline: headline(&shown, now),
            held: (held > 0).then(|| held::headline(held)),
            shared: shared
                .iter()
                .map(|notable| SharedNote::new(notable, common_scale(&shown), local))
                .collect(),
            counts: counts(&shown, now),
            crews: crews(all, choice.crew),
            sorts: Sort::ALL
                .iter()
                .map(|sort| Entry {
                    value: sort.code().to_owned(),
                    words: sort.words().to_owned(),
                    chosen: *sort == choice.sort,
                })
                .collect(),
            groups: groups(&shown, choice.sort, now),
        }
    }
}

/// The scale of all crews, if they share one.
fn common_scale(rows: &[&FleetRow]) -> TemperatureUnit {
    let mut units = rows.iter().filter_map(|row| row.crew.as_ref()).map(|crew| crew.value.temperature_unit);
    let first = units.next();
    first.filter(|first| units.all(|unit| unit == *first)).unwrap_or(TemperatureUnit::Celsius)
}

/// The zone of all sites, if they share one.
fn common_zone(rows: &[&FleetRow]) -> Tz {
    let mut zones = rows.iter().filter_map(|row| row.site.as_ref()).map(|site| site.value.time_zone);
    let first = zones.next();
    first.filter(|first| zones.all(|zone| zone == *first)).unwrap_or(Tz::UTC)
}

/// The morning's first question in a sentence.
fn headline(rows: &[&FleetRow], now: DateTime<Utc>) -> String {
    let tried = rows.iter().filter(|row| tried_today(row, now)).count();
    let units = rows.len();
    let needing = rows
        .iter()
        .filter(|row| !matches!(Attention::of(row, now), Attention::New | Attention::Steady))
        .count();
    let need = match needing {
        0 => "None needs anybody now.".to_owned(),
        1 => "One needs somebody.".to_owned(),
        many => format!("{many} need somebody."),
    };
    match units {
        0 => "No units here.".to_owned(),
        1 => format!("{} of 1 unit tried today. {need}", tried),
        _ => format!("{tried} of {units} units tried today. {need}"),
    }
}

/// Whether a unit was tried on the present day of its site.
fn tried_today(row: &FleetRow, now: DateTime<Utc>) -> bool {
    let zone = row.site.as_ref().map_or(Tz::UTC, |site| site.value.time_zone);
    let local = Local { zone, now };
    row.state.last_trial.is_some_and(|(_, at, _)| local.date(at) == local.date(now))
}

/// The worst standing first, overdue last, none left out: a zero is news too.
fn counts(rows: &[&FleetRow], now: DateTime<Utc>) -> Vec<Count> {
    let standings = StandingCode::ALL.iter().rev().map(|code| Count {
        mark: Mark::standing(*code),
        number: rows.iter().filter(|row| row.state.standing == *code).count(),
    });
    let overdue =
        Count { mark: Mark::OVERDUE, number: rows.iter().filter(|row| is_overdue(row, now)).count() };
    standings.chain([overdue]).collect()
}

fn crews(all: &[FleetRow], chosen: Option<Uuid>) -> Vec<Entry> {
    let mut crews: Vec<(String, Uuid)> = all
        .iter()
        .filter_map(|row| row.crew.as_ref())
        .map(|crew| (crew.value.name.clone(), crew.id))
        .collect();
    crews.sort();
    crews.dedup();
    let every = Entry { value: "all".into(), words: "All crews".into(), chosen: chosen.is_none() };
    let each = crews.into_iter().map(|(words, id)| Entry {
        value: id.to_string(),
        words,
        chosen: chosen == Some(id),
    });
    [every].into_iter().chain(each).collect()
}

fn groups(rows: &[&FleetRow], sort: Sort, now: DateTime<Utc>) -> Vec<Group> {
    let show = |row: &&FleetRow| Row::of(row, now);
    if sort != Sort::Attention {
        return vec![Group { id: "units", heading: None, rows: rows.iter().map(show).collect() }];
    }
    rows.chunk_by(|a, b| Attention::of(a, now) == Attention::of(b, now))
        .map(|rows| {
            let attention = Attention::of(rows[0], now);
            Group {
                id: attention.code(),
                heading: Some((attention.title(), attention.note())),
                rows: rows.iter().map(show).collect(),
            }
        })
        .collect()
}
