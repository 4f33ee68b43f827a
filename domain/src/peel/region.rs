//! Named regions of a trace, and the result over one of them.

use super::forces::{self, Forces, ForcesPerWidth};
use super::{Peak, PeelError, Remark, Trace};
use crate::coded::coded_enum;
use crate::quantity::{ForcePerWidth, Length, LengthUnit, Quantity};

coded_enum! {
    /// The part of a pull over which forces are averaged. Lengths are displacements of the grips.
    pub enum Region {
        /// From the initial peak on for 127 mm (5 in), as in ASTM D1876, which pulls at 254 mm/min (as quoted in public
        /// sources, in part; whether its 127 mm are displacement of the grips or bond that has opened could not be read
        /// there).
        AfterPeak127 = "after_peak_127_mm",
        /// The first 25 mm of the pull are left out and the next 100 mm taken, as in ISO 11339 (from memory).
        Skip25Take100 = "skip_25_take_100_mm",
        /// The middle 80 % of the pull, as in ISO 6133 (from memory).
        Central80 = "central_80_percent",
        /// The middle 50 % of the pull, as in EN 12316-2 (from memory).
        Central50 = "central_50_percent",
    }
}

/// The shortest pull over which a share of it is taken for more than a short one, mm: as far as the shortest of the
/// other regions reaches (our choice).
const FULL_PULL_MM: f64 = 125.0;
/// Rounding of lengths given in inches, mm.
const ROUNDING_MM: f64 = 1e-6;

impl Region {
    /// The length below which a result over this region is too short. For a central share it is that share of 125 mm
    /// (our choice).
    #[must_use]
    pub const fn full_length(self) -> Length {
        match self {
            Self::AfterPeak127 => Length::millimetres(127.0),
            Self::Skip25Take100 => Length::millimetres(100.0),
            Self::Central80 => Length::millimetres(0.8 * FULL_PULL_MM),
            Self::Central50 => Length::millimetres(0.5 * FULL_PULL_MM),
        }
    }

    /// Whether a strip across a weld this wide can give the full length. The weld opens one millimetre for two that
    /// the grips part: each of the two sheets takes one.
    ///
    /// ```
    /// use lapwatch_domain::peel::Region;
    /// use lapwatch_domain::quantity::parse;
    /// assert!(Region::ALL.iter().all(|region| !region.fits(parse(38.0, "mm").unwrap())));
    /// assert!(Region::AfterPeak127.fits(parse(3.0, "[in_i]").unwrap()));
    /// ```
    #[must_use]
    pub fn fits(self, bonded: Length) -> bool {
        let pull_mm = match self {
            Self::AfterPeak127 => 127.0,
            Self::Skip25Take100 | Self::Central80 | Self::Central50 => FULL_PULL_MM,
        };
        2.0 * bonded.value_in(LengthUnit::Millimetre) >= pull_mm - ROUNDING_MM
    }

    /// Start and wanted end, mm from the first reading.
    fn ends_mm(self, trace: &Trace) -> Result<(f64, f64), PeelError> {
        let (start, end) = trace.pull_mm();
        let central = |share: f64| {
            let left_out = 0.5 * (1.0 - share) * (end - start);
            (start + left_out, end - left_out)
        };
        Ok(match self {
            Self::AfterPeak127 => {
                let peak = trace.initial_peak().ok_or(PeelError::NoInitialPeak)?;
                let at = peak.at.value_in(LengthUnit::Millimetre);
                (at, at + 127.0)
            }
            Self::Skip25Take100 => (start + 25.0, start + 125.0),
            Self::Central80 => central(0.8),
            Self::Central50 => central(0.5),
        })
    }
}

coded_enum! {
    /// What a result may be called.
    pub enum PeelLabel {
        /// The pull was too short for the region.
        ShortLength = "short_length",
        /// The region has its full length.
        FullLength = "full_length",
    }
}

impl PeelLabel {
    /// The label to print beside the number.
    #[must_use]
    pub const fn text(self) -> &'static str {
        match self {
            Self::ShortLength => "short-length peel, not standard",
            Self::FullLength => "peel over the full length; conformity with a standard is not claimed",
        }
    }
}

/// What is known of a strip besides its trace.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Strip {
    /// Its actual, measured width; without it there is no force per width.
    pub width: Option<Length>,
    /// Width of the weld that it crosses, which is all that can be peeled.
    pub bonded: Option<Length>,
}

/// The result over a region.
#[derive(Debug, Clone, PartialEq)]
pub struct Peel {
    /// The region.
    pub region: Region,
    /// Where it begins, from the first reading.
    pub from: Length,
    /// Where it ends, from the first reading.
    pub to: Length,
    /// The forces over it, with the length used.
    pub forces: Forces,
    /// The same over the actual width, when that is known.
    pub per_width: Option<ForcesPerWidth>,
    /// The initial peak, a result of its own: it says how hard the weld is to start, not how it peels.
    pub initial_peak: Option<Peak>,
    /// The initial peak over the actual width, when both are known.
    pub initial_peak_per_width: Option<ForcePerWidth>,
    /// Whether the length used is less than [`Region::full_length`], or the weld is too narrow for it.
    pub too_short: bool,
    /// What the result may be called.
    pub label: PeelLabel,
    /// What was repaired and what limits the result.
    pub remarks: Vec<Remark>,
}

impl Trace {
    /// The forces over a named region, as much of it as the pull has.
    ///
    /// ```
    /// use lapwatch_domain::peel::{PeelError, Region, Strip, Trace, Zero};
    /// use lapwatch_domain::quantity::{ForcePerWidthUnit, ForceUnit, LengthUnit, Quantity, parse};
    /// // A strip 25 mm wide across a weld of 38 mm: held at about 50 N until it let go after 60 mm.
    /// let readings = [(0.0, 0.0), (4.0, 70.0), (6.0, 50.0), (60.0, 50.0), (62.0, 0.0), (80.0, 0.0)];
    /// let trace = Trace::new(&readings, LengthUnit::Millimetre, ForceUnit::Newton, Zero::Found)?;
    /// let strip = Strip { width: parse(25.0, "mm").ok(), bonded: parse(38.0, "mm").ok() };
    /// let peel = trace.peel(Region::Central50, strip)?;
    /// let mean = peel.per_width.unwrap().mean.value_in(ForcePerWidthUnit::NewtonPerMillimetre);
    /// assert!((mean - 2.0).abs() < 1e-12);
    /// assert!(peel.too_short);
    /// assert_eq!(peel.label.text(), "short-length peel, not standard");
    /// # Ok::<(), PeelError>(())
    /// ```
    ///
    /// # Errors
    /// [`PeelError::NoInitialPeak`] when the region comes after an initial peak and there is none;
    /// [`PeelError::EndsBeforeRegion`] when nothing of the region lies inside the pull; [`PeelError::NoWidth`] when the
    /// width of the strip is zero.
    pub fn peel(&self, region: Region, strip: Strip) -> Result<Peel, PeelError> {
        let (from, wanted) = region.ends_mm(self)?;
        let to = wanted.min(self.pull_mm().1);
        if from >= to {
            return Err(PeelError::EndsBeforeRegion);
        }
        let part = self.part(from, to);
        let forces = Forces::over(&part);
        let initial_peak = self.initial_peak();
        let (per_width, initial_peak_per_width) = match strip.width {
            None => (None, None),
            Some(width) => {
                let peak = initial_peak.map(|peak| forces::per_width(peak.force, width)).transpose()?;
                (Some(forces.per_width(width)?), peak)
            }
        };
        let mut remarks = self.remarks().to_vec();
        if part.iter().any(|point| point.1 < 0.0) {
            remarks.push(Remark::BelowZero);
        }
        let narrow = strip.bonded.is_some_and(|bonded| !region.fits(bonded));
        if narrow {
            remarks.push(Remark::WeldTooNarrow);
        }
        let too_short =
            narrow || to - from < region.full_length().value_in(LengthUnit::Millimetre) - ROUNDING_MM;
        let label = if too_short { PeelLabel::ShortLength } else { PeelLabel::FullLength };
        Ok(Peel {
            region,
            from: Length::millimetres(from),
            to: Length::millimetres(to),
            forces,
            per_width,
            initial_peak,
            initial_peak_per_width,
            too_short,
            label,
            remarks,
        })
    }
}
