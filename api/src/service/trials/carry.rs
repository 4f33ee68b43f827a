//! What a unit's history adds to a trial's answer.
//!
//! Computed when the answer is given, from what is stored then, and never stored: advice only. It uses the trials that were
//! performed before this one, so a trial that arrives later but was performed earlier changes it. Charts keep what was known
//! before each of a unit's latest trials; for older ones nothing is carried.

use std::panic::{AssertUnwindSafe, catch_unwind};

use chrono::{DateTime, Utc};
use lapwatch_domain::carried::{Carried, NotCarried, Today, carry};
use lapwatch_domain::drift::Offsets;
use lapwatch_domain::heat::Dwell;
use lapwatch_domain::quantity::LengthUnit::Millimetre;
use lapwatch_domain::quantity::{Quantity, Speed, Temperature};
use lapwatch_domain::trial::Evaluation;

use super::Context;
use crate::model::{Membrane, Trial, Unit};
use crate::service::derive::Derived;
use crate::service::{Error, Result};

impl Context {
    /// What the trial and its unit's history say together, or why nothing is carried.
    ///
    /// # Errors
    /// [`Error::Internal`] should the calculation fail, which it does not for any record that passes.
    pub(super) fn carry(
        &self,
        trial: &Trial,
        evaluation: &Evaluation,
        derived: &Derived,
    ) -> Result<std::result::Result<Carried, NotCarried>> {
        let before = derived.charts.before(trial.id).ok_or(NotCarried::NotRecent);
        let conditions = (trial.sheet_temperature, trial.speed(), trial.ordered_at());
        let offsets = derived.charts.offsets(trial.id);
        let today = today(&self.unit, [&self.upper, &self.lower], conditions, offsets);
        let input = self.input(trial);
        catch_unwind(AssertUnwindSafe(|| carry(&input, evaluation, before, &today)))
            .map_err(|_| Error::Internal(format!("carrying a history failed on trial {}", trial.id)))
    }
}

/// What decides whether the nozzle stays over these sheets too long: the thinner one is through first.
pub(super) fn dwell(unit: &Unit, sheets: [&Membrane; 2]) -> Dwell {
    let [upper, lower] = sheets.map(|membrane| membrane.thickness);
    let thinner = if upper.value_in(Millimetre) <= lower.value_in(Millimetre) { upper } else { lower };
    Dwell { heated: unit.heated_length, thickness: thinner }
}

/// The conditions to which a unit's history is carried.
pub(in crate::service) fn today(
    unit: &Unit,
    sheets: [&Membrane; 2],
    (sheet, speed, at): (Option<Temperature>, Speed, DateTime<Utc>),
    offsets: Offsets,
) -> Today {
    Today { sheet, speed, dwell: dwell(unit, sheets), at, offsets }
}
