//! Rechecks that are not due, or were not.

use chrono::{DateTime, NaiveDate, Utc};
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;

use super::apart;
use crate::model::PolicyQuestion;
use crate::service::scheduling;
use crate::wire::Measurement;

/// What would be due of one unit.
#[derive(Debug, Serialize, ToSchema)]
pub struct Foreseen {
    /// The unit.
    pub unit_id: Uuid,
    /// What is painted on it.
    #[schema(example = "SM-07")]
    pub label: String,
    /// The crew that has it.
    pub crew_id: Option<Uuid>,
    /// The local day.
    pub due_on: NaiveDate,
    /// The purpose the trial should have.
    #[schema(example = "confirmation")]
    pub purpose: &'static str,
    /// Why, the weightiest first; codes as in rechecks.
    pub reasons: Vec<&'static str>,
    /// Those of them that the weather adds.
    pub added_reasons: Vec<&'static str>,
    /// How far the band moves from where the last good trial found it, on the crew's scale; null where that trial does not say.
    pub band_shift: Option<BandShift>,
}

/// How far a band moves because the sheet has another temperature.
#[derive(Debug, Serialize, ToSchema)]
pub struct BandShift {
    /// Up, if positive; a difference.
    pub by: Measurement,
    /// The margin of the set point on the side that this uses up.
    pub margin: Measurement,
    /// Both in a sentence.
    pub sentence: String,
}

impl From<&scheduling::Foreseen> for Foreseen {
    fn from(foreseen: &scheduling::Foreseen) -> Self {
        let unit = foreseen.temperature_unit;
        let shift = foreseen.shift.map(|shift| BandShift {
            by: apart(unit, shift.by),
            margin: apart(unit, shift.margin),
            sentence: shift.sentence(unit),
        });
        Self {
            unit_id: foreseen.unit.id,
            label: foreseen.unit.value.label.clone(),
            crew_id: foreseen.unit.value.crew_id,
            due_on: foreseen.due_on,
            purpose: foreseen.purpose.code(),
            reasons: foreseen.reasons.iter().map(|reason| reason.code()).collect(),
            added_reasons: foreseen.added.iter().map(|reason| reason.code()).collect(),
            band_shift: shift,
        }
    }
}

/// What two policies would have asked for of the same records.
#[derive(Debug, Serialize, ToSchema)]
pub struct PolicyPreview {
    /// From when.
    pub from: DateTime<Utc>,
    /// To when.
    pub to: DateTime<Utc>,
    /// How many units it was worked out for: those there are now, with the crews and sites they have now.
    pub units: usize,
    /// By the policy in force now.
    pub in_force: Tally,
    /// By the one that was sent.
    pub proposed: Tally,
}

/// What a policy asked for.
#[derive(Debug, Serialize, ToSchema)]
pub struct Tally {
    /// Rechecks that were due.
    pub rechecks: usize,
    /// How many had each reason; one may have several.
    pub by_reason: Vec<Count>,
    /// Those whose time passed before anything settled them.
    pub overdue: usize,
    /// Those of them that no trial settled before the next was due.
    pub missed: usize,
    /// Those that a person waived.
    pub waived: usize,
    /// Flags that were raised, by kind.
    pub flags: Vec<Count>,
}

/// How many of a kind.
#[derive(Debug, Serialize, ToSchema)]
pub struct Count {
    /// Reason of a recheck or kind of flag.
    #[schema(example = "edge_finding")]
    pub code: &'static str,
    /// How many.
    pub count: usize,
}

impl PolicyPreview {
    /// The preview that answers a question.
    pub fn of(question: &PolicyQuestion, preview: &scheduling::Preview) -> Self {
        Self {
            from: question.from,
            to: question.to,
            units: preview.units,
            in_force: Tally::from(&preview.in_force),
            proposed: Tally::from(&preview.proposed),
        }
    }
}

impl From<&scheduling::Tally> for Tally {
    fn from(tally: &scheduling::Tally) -> Self {
        let reasons = tally.by_reason.iter().map(|(reason, count)| (reason.code(), *count));
        let flags = tally.flags.iter().map(|(kind, count)| (kind.code(), *count));
        let count = |(code, count)| Count { code, count };
        Self {
            rechecks: tally.rechecks,
            by_reason: reasons.map(count).collect(),
            overdue: tally.overdue,
            missed: tally.missed,
            waived: tally.waived,
            flags: flags.map(count).collect(),
        }
    }
}
