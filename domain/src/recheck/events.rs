//! What happens in the course of a day that asks for a trial.

use chrono::{DateTime, Utc};
use uuid::Uuid;

use super::{RecheckInput, RecheckReason};
use crate::coded::coded_enum;
use crate::heat::{Conditions, HeatShare, equivalent};
use crate::quantity::{Quantity as _, Temperature, TemperatureDifference, TemperatureUnit, WindSpeed};
use crate::standing::TrialFact;
use crate::trial::Outcome;

coded_enum! {
    /// What a crew noted in the course of its day.
    pub enum DayEventKind {
        /// It began to weld.
        Start = "start",
        /// It stopped for a while.
        Break = "break",
        /// It went on after a break.
        Restart = "restart",
        /// The power failed.
        PowerLoss = "power_loss",
        /// Another source of electricity.
        SupplyChanged = "supply_changed",
        /// Another cord.
        CordChanged = "cord_changed",
        /// Another nozzle, or the nozzle was set anew.
        NozzleChanged = "nozzle_changed",
        /// Another airflow setting.
        AirflowChanged = "airflow_changed",
        /// Somebody else runs the welder.
        OperatorChanged = "operator_changed",
        /// Another membrane or production run.
        SheetChanged = "sheet_changed",
        /// The sheet's temperature or the wind was read.
        Reading = "reading",
    }
}

/// A day event that concerns the unit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DayEventFact {
    /// When.
    pub at: DateTime<Utc>,
    /// What happened.
    pub kind: DayEventKind,
    /// Temperature of the sheet, if it was read.
    pub sheet: Option<Temperature>,
    /// Wind, if it was read.
    pub wind: Option<WindSpeed>,
    /// The product that is welded from then on, if it was named.
    pub membrane: Option<Uuid>,
    /// Its production run, if it was named.
    pub lot: Option<Uuid>,
}

/// How far the band has moved since a trial because the sheet has another temperature, and the margin on the side to which it
/// matters.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BandShift {
    /// Positive when the edges lie higher: on a colder sheet.
    pub by: TemperatureDifference,
    /// What the trial's set point has on that side.
    pub margin: TemperatureDifference,
}

/// How far the band has moved since `trial` on a sheet of this temperature; `None` where the trial lacks the sheet's temperature
/// or a band.
///
/// A setting T is worth T₂ on the other sheet by [`equivalent`]; the edges move alike. A colder sheet takes them up, and the
/// margin below shrinks by as much; a warmer one takes them down, and the margin above does.
#[must_use]
pub fn band_shift(trial: &TrialFact, sheet: Temperature, share: HeatShare) -> Option<BandShift> {
    let before = Conditions { sheet: trial.sheet?, speed: trial.speed };
    let set = trial.set_point?;
    let by = equivalent(set, before, Conditions { sheet, ..before }, share).set_point - set;
    let margin = if by > TemperatureDifference::ZERO { trial.margin_below? } else { trial.margin_above? };
    Some(BandShift { by, margin })
}

impl BandShift {
    /// The shift and the margin in a sentence, on the scale that the reader uses.
    ///
    /// ```
    /// use lapwatch_domain::quantity::{TemperatureUnit, parse};
    /// use lapwatch_domain::recheck::BandShift;
    /// let shift = BandShift { by: parse(38.0, "K")?, margin: parse(25.0, "K")? };
    /// assert_eq!(
    ///     shift.sentence(TemperatureUnit::Celsius),
    ///     "The band lies about 38 °C higher than at the last good trial; its set point had 25 °C of margin on that side."
    /// );
    /// # Ok::<(), lapwatch_domain::quantity::QuantityError>(())
    /// ```
    #[must_use]
    pub fn sentence(&self, unit: TemperatureUnit) -> String {
        let words = |difference: TemperatureDifference| {
            format!("{:.0} {}", difference.value_in(unit.difference_unit()), unit.symbol())
        };
        let way = if self.by < TemperatureDifference::ZERO { "lower" } else { "higher" };
        format!(
            "The band lies about {} {way} than at the last good trial; its set point had {} of margin on that side.",
            words(self.by.abs()),
            words(self.margin)
        )
    }
}

/// A reason for a trial, and since when it holds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Trigger {
    pub(super) reason: RecheckReason,
    pub(super) at: DateTime<Utc>,
}

/// Everything in the record that asks for a trial from its own time on, up to the time asked for, oldest first.
///
/// `trials` are those with a verdict, in order.
pub(super) fn triggers(input: &RecheckInput<'_>, trials: &[&TrialFact]) -> Vec<Trigger> {
    let events = input.day_events.iter().filter_map(|event| {
        let reason = event_reason(input, event, last_standing(trials, event.at))?;
        Some(Trigger { reason, at: event.at })
    });
    let service = input.services.iter().filter(|service| service.affects_heat);
    let services = service.map(|service| Trigger { reason: RecheckReason::Service, at: service.at });
    let spans =
        input.spans.iter().filter(|span| is_of_another_sheet(trials, span.from, (span.membrane, span.lot)));
    let sheets = spans.map(|span| Trigger { reason: RecheckReason::NewSheet, at: span.from });
    let mut found: Vec<Trigger> =
        events.chain(services).chain(sheets).filter(|trigger| trigger.at <= input.as_of).collect();
    found.sort_by_key(|trigger| (trigger.at, trigger.reason));
    found
}

fn last_standing<'a>(trials: &[&'a TrialFact], before: DateTime<Utc>) -> Option<&'a TrialFact> {
    trials.iter().rev().find(|trial| trial.at < before && trial.outcome == Outcome::Stands).copied()
}

fn event_reason(
    input: &RecheckInput<'_>,
    event: &DayEventFact,
    last: Option<&TrialFact>,
) -> Option<RecheckReason> {
    let own = match event.kind {
        DayEventKind::Restart | DayEventKind::PowerLoss => Some(RecheckReason::Restarted),
        DayEventKind::SupplyChanged
        | DayEventKind::CordChanged
        | DayEventKind::NozzleChanged
        | DayEventKind::AirflowChanged => Some(RecheckReason::SetUpChanged),
        DayEventKind::OperatorChanged => {
            input.policy.operator_checks.then_some(RecheckReason::OperatorChanged)
        }
        DayEventKind::SheetChanged => {
            let welded = (event.membrane, event.lot);
            last.is_none_or(|last| is_another_sheet(last, welded)).then_some(RecheckReason::NewSheet)
        }
        DayEventKind::Start | DayEventKind::Break | DayEventKind::Reading => None,
    };
    own.or_else(|| {
        let moved = last.is_some_and(|last| has_moved(input, event, last));
        moved.then_some(RecheckReason::ConditionsChanged)
    })
}

/// Whether sheet or wind are so much other than at the last good trial that its band no longer holds.
fn has_moved(input: &RecheckInput<'_>, event: &DayEventFact, last: &TrialFact) -> bool {
    let share = input.heat_shares.iter().find(|(class, _)| *class == last.class);
    let share = share.map_or_else(HeatShare::default, |(_, share)| *share);
    let carried = event.sheet.and_then(|sheet| band_shift(last, sheet, share));
    let beyond = carried.is_some_and(|shift| {
        shift.by.abs().kelvin() > input.policy.carry_share * shift.margin.kelvin().max(0.0)
    });
    // The heat model has no wind: from the wind that asks for caution on, a trial in less wind does not cover it.
    let from = input.policy.wind_from;
    let windy = event.wind.is_some_and(|wind| wind >= from) && last.wind.is_none_or(|wind| wind < from);
    beyond || windy
}

/// Whether the product or the run is named and is none of the trial's.
fn is_another_sheet(trial: &TrialFact, (membrane, lot): (Option<Uuid>, Option<Uuid>)) -> bool {
    let other_membrane = membrane.is_some_and(|membrane| !trial.material.membranes.contains(&membrane));
    let other_lot = lot.is_some_and(|lot| !trial.material.lots.contains(&Some(lot)));
    other_membrane || other_lot
}

/// Whether a span was welded of a sheet that no good trial before it was made of, although there was one.
fn is_of_another_sheet(
    trials: &[&TrialFact],
    from: DateTime<Utc>,
    welded: (Option<Uuid>, Option<Uuid>),
) -> bool {
    let mut good = trials
        .iter()
        .filter(|trial| trial.at <= from && trial.outcome == Outcome::Stands)
        .map(|trial| is_another_sheet(trial, welded))
        .peekable();
    good.peek().is_some() && good.all(|other| other)
}
