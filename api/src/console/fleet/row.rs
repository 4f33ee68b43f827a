//! One unit of the fleet in words.

use chrono::{DateTime, Utc};
use lapwatch_domain::quantity::TemperatureDifference;

use super::gauge::Gauge;
use super::order::is_overdue;
use crate::console::mark::Mark;
use crate::console::place::Place;
use crate::console::show::{Local, Scale, When};
use crate::console::unit::flag::FlagLine;
use crate::console::words;
use crate::service::fleet::FleetRow;
use crate::storage::derived::Recheck;
use crate::storage::records::OpenTrialRow;

/// One unit.
#[derive(Debug)]
pub(super) struct Row {
    /// Address of its page.
    pub(super) address: String,
    /// Its label.
    pub(super) label: String,
    /// Crew and site.
    pub(super) place: String,
    /// How it stands.
    pub(super) standing: Mark,
    /// Since when.
    pub(super) since: Option<When>,
    /// Its set point.
    pub(super) setting: Option<Setting>,
    /// Its last trial.
    pub(super) last: Option<Last>,
    /// Its next recheck.
    pub(super) next: Option<Next>,
    /// What a flag would not say: reasons of a standing without a flag.
    pub(super) reasons: Vec<&'static str>,
    /// Its unsettled flags.
    pub(super) flags: Vec<FlagLine>,
    /// Its unfinished trials.
    pub(super) unfinished: Vec<Unfinished>,
}

/// A trial that was begun piece by piece and is not closed.
#[derive(Debug)]
pub(in crate::console) struct Unfinished {
    pub(in crate::console) begun: When,
    pub(in crate::console) coupons: String,
}

impl Unfinished {
    pub(in crate::console) fn of(open: &OpenTrialRow, local: Local) -> Self {
        let coupons = match open.coupons {
            0 => "no coupon yet".to_owned(),
            1 => "1 coupon so far".to_owned(),
            many => format!("{many} coupons so far"),
        };
        Self { begun: local.time(open.performed_at), coupons }
    }
}

/// A set point with its margins.
#[derive(Debug)]
pub(super) struct Setting {
    pub(super) set_point: String,
    pub(super) gauge: Option<Gauge>,
    pub(super) margins: String,
}

/// The last trial.
#[derive(Debug)]
pub(super) struct Last {
    pub(super) address: String,
    pub(super) at: When,
    pub(super) outcome: Mark,
}

/// The next recheck.
#[derive(Debug)]
pub(super) struct Next {
    pub(super) mark: Mark,
    pub(super) overdue: bool,
    pub(super) due: When,
    pub(super) purpose: &'static str,
    pub(super) reasons: String,
}

impl Row {
    /// The unit as its crew would say it.
    pub(super) fn of(row: &FleetRow, now: DateTime<Utc>) -> Self {
        let place = Place {
            crew: row.crew.as_ref().map(|crew| crew.value.clone()),
            site: row.site.as_ref().map(|site| site.value.clone()),
        };
        let (scale, local) = (place.scale(), place.local(now));
        let state = &row.state;
        Self {
            address: format!("/units/{}", row.unit.id),
            label: row.unit.value.label.clone(),
            place: place.words(),
            standing: Mark::standing(state.standing),
            since: state.since.map(|since| local.day(since)),
            setting: setting(row, scale),
            last: state.last_trial.map(|(id, at, outcome)| Last {
                address: format!("/trials/{id}"),
                at: local.time(at),
                outcome: Mark::outcome(outcome),
            }),
            next: row.next_recheck.as_ref().map(|recheck| Next::of(recheck, is_overdue(row, now), local)),
            reasons: if row.flags.is_empty() { reasons(row) } else { Vec::new() },
            flags: row
                .flags
                .iter()
                .map(|flag| FlagLine { kind: words::flag_kind(flag.kind), sentence: flag.sentence.clone() })
                .collect(),
            unfinished: row.unfinished.iter().map(|open| Unfinished::of(open, local)).collect(),
        }
    }
}

impl Next {
    fn of(recheck: &Recheck, overdue: bool, local: Local) -> Self {
        Self {
            mark: if overdue { Mark::OVERDUE } else { Mark::DUE },
            overdue,
            due: local.time(recheck.due_at),
            purpose: words::purpose(recheck.purpose),
            reasons: words::recheck_reasons(&recheck.reasons),
        }
    }
}

/// Reasons worth a line in the list: a steady unit has none.
fn reasons(row: &FleetRow) -> Vec<&'static str> {
    use lapwatch_domain::standing::StandingCode::{New, Steady};
    match row.state.standing {
        New | Steady => Vec::new(),
        _ => row.state.reasons.iter().map(|reason| reason.sentence()).collect(),
    }
}

fn setting(row: &FleetRow, scale: Scale) -> Option<Setting> {
    let set_point = scale.temperature(row.state.set_point?);
    Some(match row.state.margins {
        Some((below, above)) => Setting {
            set_point,
            gauge: Some(Gauge::new(below, above)),
            margins: margin_words(below, above, scale),
        },
        None => Setting { set_point, gauge: None, margins: "no band, so no margins".to_owned() },
    })
}

/// Margins in words; a negative one says that the set point lies outside the band.
pub(in crate::console) fn margin_words(
    below: TemperatureDifference,
    above: TemperatureDifference,
    scale: Scale,
) -> String {
    if below < TemperatureDifference::ZERO {
        format!("{} below the band", scale.difference(-below))
    } else if above < TemperatureDifference::ZERO {
        format!("{} above the band", scale.difference(-above))
    } else {
        format!(
            "margin {} below, {} above",
            crate::console::show::whole(scale.difference_value(below)),
            scale.difference(above)
        )
    }
}
