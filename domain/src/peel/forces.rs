//! What the force was over a stretch.

use super::PeelError;
use super::curve::{self, Point};
use crate::quantity::{Force, ForcePerWidth, ForcePerWidthUnit, ForceUnit, Length, LengthUnit, Quantity};

/// The force over a stretch of the trace, above the zero of the load cell. All of them are of the line through the
/// readings; none is below zero, because a strip does not push: what noise takes below is answered as zero.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Forces {
    /// Length of the stretch, as displacement of the grips.
    pub length: Length,
    /// ∫ F dx ÷ length, by trapezoids.
    pub mean: Force,
    /// Greatest force.
    pub maximum: Force,
    /// The force below which the line runs over half of the length.
    pub median: Force,
    /// Least force.
    pub minimum: Force,
}

impl Forces {
    pub(super) fn over(part: &[Point]) -> Self {
        let (minimum, maximum) = curve::range(part);
        // Rounding of the sum must not take a mean out of the range of its forces.
        let mean = curve::mean(part).clamp(minimum, maximum);
        let ends = part[part.len() - 1].0 - part[0].0;
        Self {
            length: Length::millimetres(ends),
            mean: newtons(mean),
            maximum: newtons(maximum),
            median: newtons(curve::median(part)),
            minimum: newtons(minimum),
        }
    }

    /// Each force over the actual width of the strip.
    ///
    /// ```
    /// use lapwatch_domain::peel::{PeelError, Trace, Zero};
    /// use lapwatch_domain::quantity::{ForcePerWidthUnit, ForceUnit, LengthUnit, Quantity, parse};
    /// let readings = [(0.0, 0.0), (2.0, 50.0), (40.0, 50.0)];
    /// let trace = Trace::new(&readings, LengthUnit::Millimetre, ForceUnit::Newton, Zero::Found)?;
    /// let forces = trace.between(parse(10.0, "mm").unwrap(), parse(30.0, "mm").unwrap())?;
    /// let peel = forces.per_width(parse(25.0, "mm").unwrap())?;
    /// assert!((peel.mean.value_in(ForcePerWidthUnit::NewtonPerMillimetre) - 2.0).abs() < 1e-12);
    /// assert!((peel.mean.value_in(ForcePerWidthUnit::NewtonPerFiftyMillimetres) - 100.0).abs() < 1e-10);
    /// assert_eq!(forces.per_width(parse(0.0, "mm").unwrap()), Err(PeelError::NoWidth));
    /// # Ok::<(), PeelError>(())
    /// ```
    ///
    /// # Errors
    /// [`PeelError::NoWidth`] when the width is zero, or so close to it that a quotient is no longer finite.
    pub fn per_width(&self, width: Length) -> Result<ForcesPerWidth, PeelError> {
        let over = |force| per_width(force, width);
        Ok(ForcesPerWidth {
            mean: over(self.mean)?,
            maximum: over(self.maximum)?,
            median: over(self.median)?,
            minimum: over(self.minimum)?,
        })
    }
}

/// The force over a stretch, divided by the actual width of the strip.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ForcesPerWidth {
    /// Mean force over width.
    pub mean: ForcePerWidth,
    /// Greatest force over width.
    pub maximum: ForcePerWidth,
    /// Median force over width.
    pub median: ForcePerWidth,
    /// Least force over width.
    pub minimum: ForcePerWidth,
}

/// A force over a width.
pub(super) fn per_width(force: Force, width: Length) -> Result<ForcePerWidth, PeelError> {
    let newtons_a_millimetre = force.value_in(ForceUnit::Newton) / width.value_in(LengthUnit::Millimetre);
    ForcePerWidth::new(newtons_a_millimetre, ForcePerWidthUnit::NewtonPerMillimetre)
        .map_err(|_| PeelError::NoWidth)
}

/// A force in N; zero when below.
pub(super) fn newtons(value: f64) -> Force {
    Force::new(value.max(0.0), ForceUnit::Newton).expect("readings are finite and bounded")
}
