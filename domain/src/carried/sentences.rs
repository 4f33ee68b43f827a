//! Carried advice in plain sentences, on the crew's scale.

use chrono::{DateTime, Utc};

use super::{Advice, Carried, CarriedBand, Today};
use crate::drift::Offsets;
use crate::edges::{CarriedEdge, Edge};
use crate::heat::Known;
use crate::quantity::{Quantity, Temperature, TemperatureDifference, TemperatureUnit};
use crate::trial::TrialInput;

/// A move of an edge by less than this (K) is not mentioned.
const WORTH_A_WORD_K: f64 = 5.0;

/// How it was carried and what follows.
pub(super) fn carried(input: &TrialInput, carried: &Carried, today: &Today) -> Vec<String> {
    let unit = input.temperature_unit;
    let mut sentences = vec![origin(carried.trials, carried.latest, today.at)];
    sentences.extend(moved_by_sheets(&today.offsets, unit));
    sentences.push(expected(&carried.expected, unit));
    let Some(advice) = &carried.advice else {
        sentences.push(
            "Today's strips contradict that: carried advice is withheld, and only what the trial says alone stands. \
             Look for what has changed: heater, sensor, nozzle, airflow, supply, speed, sheet."
                .to_owned(),
        );
        return sentences;
    };
    sentences.push(together(advice, unit));
    sentences.push(band(advice.band.as_ref(), unit));
    if let Ok(point) = &advice.set_point {
        sentences.push(format!(
            "Carried set point: {}; it stays inside today's sound steps and under every ceiling.",
            show(point.to_set, unit)
        ));
    }
    sentences.push(format!("With the history: {}", lower_first(&advice.next_sentence)));
    sentences
}

/// From what it is carried.
pub(super) fn origin(trials: usize, latest: DateTime<Utc>, now: DateTime<Utc>) -> String {
    let trials =
        if trials == 1 { "one earlier trial".to_owned() } else { format!("{trials} earlier trials") };
    let age = match (now - latest).num_days() {
        i64::MIN..=0 => "less than a day before".to_owned(),
        1 => "a day before".to_owned(),
        days => format!("{days} days before"),
    };
    format!("Carried from {trials} of this unit, the latest {age}, to these conditions.")
}

/// What is allowed for today's sheets, if it is worth a word.
pub(super) fn moved_by_sheets(offsets: &Offsets, unit: TemperatureUnit) -> Option<String> {
    let by = |edge| offsets.of(edge).mean;
    let [lower, upper] = [by(Edge::Lower), by(Edge::Upper)];
    let show =
        |by: TemperatureDifference| format!("{:+.0} {}", by.value_in(unit.difference_unit()), unit.symbol());
    (lower.kelvin().abs().max(upper.kelvin().abs()) >= WORTH_A_WORD_K).then(|| {
        format!(
            "Other units' trials say that these sheets move the lower edge by {} and the upper by {}; that is allowed for.",
            show(lower),
            show(upper)
        )
    })
}

/// Where the edges are expected.
pub(super) fn expected([lower, upper]: &[Known; 2], unit: TemperatureUnit) -> String {
    let about = |known: &Known| {
        let spread = known.sd.value_in(unit.difference_unit());
        format!("{} (give or take {spread:.0} {})", show(known.mean, unit), unit.symbol())
    };
    format!(
        "Half the strips are expected to open at about {} and to scorch at about {}.",
        about(lower),
        about(upper)
    )
}

fn together(advice: &Advice, unit: TemperatureUnit) -> String {
    let about = |edge: &CarriedEdge| {
        let found = edge.estimate;
        format!("{} (95 %: {} to {})", show(found.mean, unit), show(found.q025, unit), show(found.q975, unit))
    };
    let (lower, upper) = (about(&advice.edges.lower), about(&advice.edges.upper));
    format!("Together with today's strips: to open at about {lower}, to scorch at about {upper}.")
}

fn band(band: Option<&CarriedBand>, unit: TemperatureUnit) -> String {
    let Some(CarriedBand { band, below_tried, above_tried }) = band else {
        return "There is no carried band.".to_owned();
    };
    let beyond = match (below_tried, above_tried) {
        (false, false) => "",
        (true, false) => "; below the coolest step tried today it rests on earlier trials only",
        (false, true) => "; above the hottest step tried today it rests on earlier trials only",
        (true, true) => "; beyond the steps tried today it rests on earlier trials only",
    };
    format!("Carried band: {} to {}{beyond}.", show(band.low, unit), show(band.high, unit))
}

/// A temperature as the crew reads it.
pub(super) fn show(temperature: Temperature, unit: TemperatureUnit) -> String {
    format!("{:.0} {}", temperature.value_in(unit), unit.symbol())
}

fn lower_first(sentence: &str) -> String {
    let mut letters = sentence.chars();
    letters.next().map_or_else(String::new, |first| first.to_lowercase().chain(letters).collect())
}
