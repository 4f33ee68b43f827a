//! Why a trace says nothing.

use thiserror::Error;

/// Why a trace, or a region of it, says nothing. The message says what to do about it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Error)]
pub enum PeelError {
    /// A reading is not finite, or beyond 10⁹ mm or 10⁹ N.
    #[error("reading {} is not a pair of plain decimal numbers of sensible size", .reading + 1)]
    NotFinite {
        /// Which reading, counted from 0.
        reading: usize,
    },
    /// The displacement goes back by more than the play of a machine.
    #[error(
        "at reading {} the displacement goes back by more than 0.5 mm; give the pull alone, from its start to its end",
        .reading + 1
    )]
    GoesBack {
        /// Which reading, counted from 0.
        reading: usize,
    },
    /// Fewer than two different displacements.
    #[error("a trace needs readings at two different displacements at least")]
    TooFewReadings,
    /// The force never rises above its zero.
    #[error("the force never rises above its zero; check the sign of the force and where the zero was taken")]
    NoLoad,
    /// No maximum is followed by a fall of 10 %.
    #[error("no peak is followed by a fall of at least 10 %, so that nothing comes after an initial peak")]
    NoInitialPeak,
    /// The trace ends before the region begins.
    #[error("the trace ends before the region begins")]
    EndsBeforeRegion,
    /// A stretch that does not lie inside the trace, or that has no length.
    #[error("the stretch must have a length and lie inside the trace")]
    OutsideTrace,
    /// The width of the strip is zero.
    #[error("the width of a strip must be above zero")]
    NoWidth,
}

impl PeelError {
    /// Stable code.
    #[must_use]
    pub const fn code(&self) -> &'static str {
        match self {
            Self::NotFinite { .. } => "reading_not_finite",
            Self::GoesBack { .. } => "displacement_goes_back",
            Self::TooFewReadings => "too_few_readings",
            Self::NoLoad => "no_load",
            Self::NoInitialPeak => "no_initial_peak",
            Self::EndsBeforeRegion => "ends_before_region",
            Self::OutsideTrace => "outside_trace",
            Self::NoWidth => "no_strip_width",
        }
    }
}
