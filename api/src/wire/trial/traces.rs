//! Peel traces of a trial's strips.

use lapwatch_domain::peel::{Region, Strip, Zero};
use lapwatch_domain::quantity::{ForceUnit, LengthUnit};
use serde::Deserialize;
use utoipa::ToSchema;

use super::{Specimen, Trial};
use crate::model::calculations::PeelTrace;
use crate::wire::Reader;

/// A peel trace: force over displacement; `/v1/trials/{id}/peel` tells what it says.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Trace {
    /// Displacement of the grips.
    pub displacement: Samples,
    /// Force at the same instants.
    pub force: Samples,
}

/// Numbers of one unit.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Samples {
    /// UCUM code.
    pub unit: String,
    /// The numbers.
    #[schema(max_items = 20000)]
    pub values: Vec<f64>,
}

impl Trace {
    /// Whether both lists have known units, the same length and at most 20,000 numbers.
    pub(super) fn check(&self, reader: &mut Reader, pointer: &str) -> bool {
        let displacement =
            reader.unit::<LengthUnit>(&format!("{pointer}/displacement/unit"), &self.displacement.unit);
        let force = reader.unit::<ForceUnit>(&format!("{pointer}/force/unit"), &self.force.unit);
        let length = self.displacement.values.len();
        let fits = length == self.force.values.len() && (2..=20_000).contains(&length);
        let detail = "Send as many forces as displacements, 2 to 20000 of each.";
        reader.require(fits, &format!("{pointer}/force/values"), "wrong_count", detail);
        displacement.is_some() && force.is_some() && fits
    }

    /// The trace of this strip with what is asked about it; `None` where a unit or a width is not one.
    fn ask(&self, strip: &Specimen, region: Region) -> Option<PeelTrace> {
        let r = &mut Reader::default();
        let readings = self.displacement.values.iter().copied().zip(self.force.values.iter().copied());
        Some(PeelTrace {
            readings: readings.collect(),
            displacement: r.unit("", &self.displacement.unit)?,
            force: r.unit("", &self.force.unit)?,
            zero: Zero::Found,
            region,
            strip: Strip {
                width: r.optional("", strip.width.as_ref())?,
                bonded: r.optional("", strip.bonded_width.as_ref())?,
            },
        })
    }
}

/// A strip whose peel was traced.
#[derive(Debug)]
pub struct TracedStrip {
    /// Its coupon, counted from 0 in the order of the record.
    pub coupon: usize,
    /// Its place in the coupon, counted from 0.
    pub specimen: usize,
    /// The trace, and what of it is asked about.
    pub asked: PeelTrace,
}

impl Trial {
    /// The strips that have a trace, asked about this stretch of it; of a trial that was [read](Trial::read) without
    /// findings.
    pub fn traced_strips(&self, region: Region) -> Vec<TracedStrip> {
        let mut traced = Vec::new();
        for (coupon, welded) in self.coupons.iter().enumerate() {
            for (specimen, strip) in welded.specimens.iter().enumerate() {
                let asked = strip.trace.as_ref().and_then(|trace| trace.ask(strip, region));
                traced.extend(asked.map(|asked| TracedStrip { coupon, specimen, asked }));
            }
        }
        traced
    }
}
