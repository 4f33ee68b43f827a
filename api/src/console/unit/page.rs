//! The page of a unit.

use askama::Template;
use chrono::{DateTime, Utc};
use lapwatch_domain::quantity::{LengthUnit, PowerUnit, Quantity as _, VoltageUnit};

use super::flag::{FlagCard, cards};
use super::history::{ClassHistory, Months, MonthsChoice, class_histories};
use super::lists::{RecheckRow, ServiceRow, TrialLine, recheck_rows};
use super::suspects::{SuspectGroup, suspect_groups};
use crate::console::fleet::{Unfinished, margin_words};
use crate::console::mark::Mark;
use crate::console::place::Place;
use crate::console::response::Frame;
use crate::console::show::{Scale, When, whole};
use crate::console::words;
use crate::model::Unit;
use crate::service::units::{History, Situation};
use crate::storage::records::{OpenTrialRow, TrialRow};

/// What the service knows of the unit.
#[derive(Debug)]
pub(super) struct UnitFindings {
    pub(super) situation: Situation,
    pub(super) history: History,
    pub(super) trials: Vec<TrialRow>,
    pub(super) unfinished: Vec<OpenTrialRow>,
    pub(super) place: Place,
}

/// The page.
#[derive(Debug, Template)]
#[template(path = "unit.html")]
pub(super) struct UnitPage {
    frame: Frame,
    label: String,
    place: String,
    as_of: When,
    standing: Mark,
    since: Option<When>,
    reasons: Vec<&'static str>,
    set_point: Option<String>,
    margins: Option<String>,
    last_trial: Option<(String, When, Mark)>,
    unfinished: Vec<Unfinished>,
    facts: Vec<(&'static str, String)>,
    flags: Vec<FlagCard>,
    settled_flags: Vec<FlagCard>,
    seams: usize,
    suspects: Vec<SuspectGroup>,
    rechecks: Vec<RecheckRow>,
    months: Vec<MonthsChoice>,
    histories: Vec<ClassHistory>,
    symbol: &'static str,
    trials: Vec<TrialLine>,
    services: Vec<ServiceRow>,
}

impl UnitPage {
    /// The page of a unit as its crew would say it.
    pub(super) fn new(frame: Frame, findings: &UnitFindings, months: Months, now: DateTime<Utc>) -> Self {
        let UnitFindings { situation, history, trials, unfinished, place } = findings;
        let (scale, local) = (place.scale(), place.local(now));
        let (state, unit) = (&situation.state, &situation.unit.value);
        let (open, settled): (Vec<_>, Vec<_>) = situation.flags.iter().partition(|flag| flag.is_unsettled());
        Self {
            frame,
            label: unit.label.clone(),
            place: place.words(),
            as_of: local.time(now),
            standing: Mark::standing(state.standing),
            since: state.since.map(|since| local.day(since)),
            reasons: state.reasons.iter().map(|reason| reason.sentence()).collect(),
            set_point: state.set_point.map(|set_point| scale.temperature(set_point)),
            margins: state.margins.map(|(below, above)| margin_words(below, above, scale)),
            last_trial: state
                .last_trial
                .map(|(id, at, outcome)| (format!("/trials/{id}"), local.time(at), Mark::outcome(outcome))),
            unfinished: unfinished.iter().map(|open| Unfinished::of(open, local)).collect(),
            facts: facts(unit, scale),
            flags: cards(&open, local),
            settled_flags: cards(&settled, local),
            seams: situation.suspects.len(),
            suspects: suspect_groups(&situation.suspects, local),
            rechecks: recheck_rows(&situation.rechecks, now, local),
            months: months.choices(),
            histories: class_histories(history, months, scale, local),
            symbol: scale.symbol(),
            trials: trials.iter().map(|trial| TrialLine::of(trial, scale, local)).collect(),
            services: history.service_events.iter().rev().map(|event| ServiceRow::of(event, local)).collect(),
        }
    }
}

/// The machine itself.
fn facts(unit: &Unit, scale: Scale) -> Vec<(&'static str, String)> {
    let millimetres =
        |length: lapwatch_domain::quantity::Length| whole(length.value_in(LengthUnit::Millimetre));
    vec![
        ("Serial", unit.serial.clone()),
        ("Kind", words::weld_method(unit.weld_method).to_owned()),
        (
            "Rated",
            format!(
                "{} V, {:.1} kW",
                whole(unit.rated_voltage.value_in(VoltageUnit::Volt)),
                unit.rated_power.value_in(PowerUnit::Kilowatt)
            ),
        ),
        ("Highest setting", scale.temperature(unit.maximum_set_temperature)),
        ("Display step", scale.difference(unit.display_step)),
        ("Nozzle", format!("{} mm wide", millimetres(unit.nozzle_width))),
        ("Heated length", format!("{} mm", millimetres(unit.heated_length))),
    ]
}
