//! Forces of a peeled strip.

use lapwatch_domain::peel;
use serde::Deserialize;
use utoipa::ToSchema;

use crate::model::Finding;
use crate::model::calculations::PeelTrace;
use crate::wire::trial::Samples;
use crate::wire::{Measurement, Reader};

/// A peel trace: force over displacement of the grips, and what of it is asked about.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({
    "bonded_width": { "unit": "mm", "value": 38 },
    "displacement": { "unit": "mm", "values": [0, 2, 4, 6, 8, 10, 12, 14, 16, 18, 20] },
    "force": { "unit": "N", "values": [0.4, 0.4, 30, 92, 70, 66, 71, 68, 72, 69, 70] },
    "region": "central_50_percent",
    "width": { "unit": "mm", "value": 25.4 },
}))]
pub struct PeelQuestion {
    /// Displacement of the grips.
    pub displacement: Samples,
    /// Force at the same instants.
    pub force: Samples,
    /// Which stretch of the trace: `after_peak_127_mm`, `skip_25_take_100_mm`, `central_80_percent` or
    /// `central_50_percent`.
    pub region: String,
    /// Measured width of the strip; without it there is no force per width.
    pub width: Option<Measurement>,
    /// Width of the weld that the strip crosses: all that can be peeled.
    pub bonded_width: Option<Measurement>,
    /// The strip was slack up to this displacement: the zero of the force is taken there. Without it the stretch
    /// before the load is found.
    pub slack_until: Option<Measurement>,
    /// Whether the load cell was set to zero before the pull, so that no zero has to be found.
    #[serde(default)]
    pub tared: bool,
}

impl PeelQuestion {
    /// The question in domain values.
    ///
    /// # Errors
    /// Every broken rule with its pointer.
    pub fn read(&self) -> Result<PeelTrace, Vec<Finding>> {
        let mut reader = Reader::default();
        let question = self.convert(&mut reader);
        reader.findings.into_result(question)
    }

    fn convert(&self, r: &mut Reader) -> Option<PeelTrace> {
        let displacement = r.unit("/displacement/unit", &self.displacement.unit);
        let force = r.unit("/force/unit", &self.force.unit);
        let count = self.displacement.values.len();
        let fits = count == self.force.values.len() && (2..=20_000).contains(&count);
        let detail = "Send as many forces as displacements, 2 to 20000 of each.";
        r.require(fits, "/force/values", "wrong_count", detail);
        let region = r.coded("/region", &self.region);
        let width = r.present(self.width.as_ref(), |r, width| r.positive("/width", width));
        let bonded = r.optional("/bonded_width", self.bonded_width.as_ref());
        let slack = r.optional("/slack_until", self.slack_until.as_ref());
        let detail = "Send either `slack_until` or `tared`: both say where the zero of the force is.";
        r.require(!(self.tared && self.slack_until.is_some()), "/tared", "contradiction", detail);
        let readings =
            self.displacement.values.iter().copied().zip(self.force.values.iter().copied()).collect();
        let (displacement, force) = (displacement?, force?);
        let zero = match slack? {
            Some(until) => peel::Zero::Before(until),
            None if self.tared => peel::Zero::Tared,
            None => peel::Zero::Found,
        };
        fits.then_some(PeelTrace {
            readings,
            displacement,
            force,
            zero,
            region: region?,
            strip: peel::Strip { width: width?, bonded: bonded? },
        })
    }
}
