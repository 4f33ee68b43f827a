//! Forces of a peeled strip.

use lapwatch_domain::peel::{self, Peak, Trace};
use lapwatch_domain::quantity::{Force, ForcePerWidth, ForcePerWidthUnit, ForceUnit};
use serde::Serialize;
use utoipa::ToSchema;

use crate::model::calculations::PeelTrace;
use crate::service::trials::PeeledStrip;
use crate::view::evaluation::Reason;
use crate::wire::{Measurement, sentence};

/// What a stretch of a peel trace says, in the units of the trace; force per width in N/mm, or in lbf/in where the force
/// came in pounds.
#[derive(Debug, Serialize, ToSchema)]
pub struct PeelAnswer {
    /// The stretch.
    #[schema(example = "central_50_percent")]
    pub region: &'static str,
    /// Where it begins, from the first reading.
    pub from: Measurement,
    /// Where it ends.
    pub to: Measurement,
    /// How long it is.
    pub length: Measurement,
    /// Whether that is less than the stretch should have, or the weld too narrow for it.
    pub too_short: bool,
    /// `full_length` or `short_length`.
    #[schema(example = "short_length")]
    pub label: &'static str,
    /// What the result may be called.
    #[schema(example = "short-length peel, not standard")]
    pub label_text: &'static str,
    /// The zero of the force, which was taken off every reading.
    pub zero_offset: Measurement,
    /// The first peak that is followed by a fall of at least 10 %; null when there is none.
    pub initial_peak: Option<InitialPeak>,
    /// Forces over the stretch.
    pub force: PeelForces,
    /// The same over the strip's width; null when that was not sent.
    pub force_per_width: Option<PeelForces>,
    /// What was put right, and what limits the result.
    pub remarks: Vec<Reason>,
}

/// One strip of a trial and the forces of its peel.
#[derive(Debug, Serialize, ToSchema)]
pub struct StripPeel {
    /// Its coupon, counted from 0 in the order of the record.
    #[schema(example = 2)]
    pub coupon: usize,
    /// Its place in the coupon, counted from 0.
    #[schema(example = 0)]
    pub specimen: usize,
    /// What it was read as: forces support a reading, they do not decide it.
    #[schema(example = "sound")]
    pub reading: &'static str,
    /// The forces; null where the trace gives none.
    pub peel: Option<PeelAnswer>,
    /// Why it gives none.
    pub unusable: Option<UnusableTrace>,
}

/// Why a trace gives no forces.
#[derive(Debug, Serialize, ToSchema)]
pub struct UnusableTrace {
    /// Stable code.
    #[schema(example = "no_initial_peak")]
    pub code: &'static str,
    /// The same in a sentence.
    pub sentence: String,
}

impl From<&PeeledStrip> for StripPeel {
    fn from(peeled: &PeeledStrip) -> Self {
        let asked = &peeled.strip.asked;
        Self {
            coupon: peeled.strip.coupon,
            specimen: peeled.strip.specimen,
            reading: peeled.reading.code(),
            peel: peeled.found.as_ref().ok().map(|(trace, peel)| PeelAnswer::of(asked, trace, peel)),
            unusable: peeled
                .found
                .as_ref()
                .err()
                .map(|error| UnusableTrace { code: error.code(), sentence: sentence(error) }),
        }
    }
}

/// The peak at which a weld begins to open.
#[derive(Debug, Serialize, ToSchema)]
pub struct InitialPeak {
    /// Where, from the first reading.
    pub displacement: Measurement,
    /// How strong.
    pub force: Measurement,
    /// The same over the strip's width.
    pub force_per_width: Option<Measurement>,
}

/// Forces over a stretch of the trace.
#[derive(Debug, Serialize, ToSchema)]
pub struct PeelForces {
    /// Integral of the force over the displacement, divided by the length.
    pub mean: Measurement,
    /// Greatest.
    pub maximum: Measurement,
    /// Below which the trace runs over half of the length.
    pub median: Measurement,
    /// Least.
    pub minimum: Measurement,
}

impl PeelAnswer {
    /// The answer in the units of the question.
    pub fn of(asked: &PeelTrace, trace: &Trace, peel: &peel::Peel) -> Self {
        let at = |length| Measurement::of(length, asked.displacement);
        let force = |force: Force| Measurement::of(force, asked.force);
        let over = |force: ForcePerWidth| Measurement::of(force, per_width(asked.force));
        Self {
            region: peel.region.code(),
            from: at(peel.from),
            to: at(peel.to),
            length: at(peel.forces.length),
            too_short: peel.too_short,
            label: peel.label.code(),
            label_text: peel.label.text(),
            zero_offset: Measurement {
                value: crate::view::ratio(trace.offset_in(asked.force)),
                unit: lapwatch_domain::quantity::Unit::code(asked.force).to_owned(),
            },
            initial_peak: peel.initial_peak.map(|Peak { at: place, force: strength }| InitialPeak {
                displacement: at(place),
                force: force(strength),
                force_per_width: peel.initial_peak_per_width.map(over),
            }),
            force: PeelForces {
                mean: force(peel.forces.mean),
                maximum: force(peel.forces.maximum),
                median: force(peel.forces.median),
                minimum: force(peel.forces.minimum),
            },
            force_per_width: peel.per_width.map(|forces| PeelForces {
                mean: over(forces.mean),
                maximum: over(forces.maximum),
                median: over(forces.median),
                minimum: over(forces.minimum),
            }),
            remarks: peel
                .remarks
                .iter()
                .map(|remark| Reason { code: remark.code(), sentence: remark.sentence() })
                .collect(),
        }
    }
}

/// The unit that goes with those of the trace.
const fn per_width(force: ForceUnit) -> ForcePerWidthUnit {
    match force {
        ForceUnit::PoundForce => ForcePerWidthUnit::PoundForcePerInch,
        _ => ForcePerWidthUnit::NewtonPerMillimetre,
    }
}
