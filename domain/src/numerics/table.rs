//! Functions tabulated once and interpolated ever after.

/// A smooth function on the interval from −`half_width` to `half_width`, interpolated between equally spaced points by
/// the cubic that has the function's values and slopes at both ends (Hermite).
///
/// The error is at most `spacing⁴/384` times the largest fourth derivative.
#[derive(Debug)]
pub(crate) struct HermiteTable {
    half_width: f64,
    per_unit: f64,
    /// For each interval the coefficients of the cubic in the share of the interval, constant first.
    cubics: Vec<[f64; 4]>,
}

impl HermiteTable {
    /// Tabulates a function, given with its slope, with `per_unit` intervals to the unit.
    pub(crate) fn new(half_width: u32, per_unit: u32, function: impl Fn(f64) -> (f64, f64)) -> Self {
        let spacing = 1.0 / f64::from(per_unit);
        let points: Vec<(f64, f64)> = (0..=2 * half_width * per_unit)
            .map(|index| function(f64::from(index) * spacing - f64::from(half_width)))
            .collect();
        let cubics = points
            .windows(2)
            .map(|pair| {
                let ((f0, s0), (f1, s1)) = (pair[0], pair[1]);
                let (d0, d1, rise) = (s0 * spacing, s1 * spacing, f1 - f0);
                [f0, d0, 3.0 * rise - 2.0 * d0 - d1, d0 + d1 - 2.0 * rise]
            })
            .collect();
        Self { half_width: f64::from(half_width), per_unit: f64::from(per_unit), cubics }
    }

    /// Whether `x` lies inside the interval; false for NaN.
    pub(crate) fn covers(&self, x: f64) -> bool {
        x.abs() < self.half_width
    }

    /// The interpolated value, for an `x` that the table [covers](Self::covers); elsewhere some number.
    #[inline]
    pub(crate) fn at(&self, x: f64) -> f64 {
        let (t, [c0, c1, c2, c3]) = self.cubic(x);
        c0 + t * (c1 + t * (c2 + t * c3))
    }

    /// The interpolated value and its slope, likewise.
    #[inline]
    pub(crate) fn at_with_slope(&self, x: f64) -> (f64, f64) {
        let (t, [c0, c1, c2, c3]) = self.cubic(x);
        (c0 + t * (c1 + t * (c2 + t * c3)), (c1 + t * (2.0 * c2 + t * 3.0 * c3)) * self.per_unit)
    }

    /// The interval of `x`: the share of it that lies below `x`, and its cubic.
    #[inline]
    fn cubic(&self, x: f64) -> (f64, [f64; 4]) {
        /// Around this the spacing of `f64` is 1: adding it rounds to a whole number, which then stands in the lowest bits.
        /// A cast would do the same after several comparisons, which a loop over a likelihood can feel.
        const ROUNDER: f64 = 6_755_399_441_055_744.0;
        let place = (x + self.half_width) * self.per_unit;
        let rounded = (place - 0.5) + ROUNDER;
        let index = (rounded.to_bits() as u32 as usize).min(self.cubics.len() - 1);
        (place - (rounded - ROUNDER), self.cubics[index])
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn interpolates_within_its_error() {
        let table = HermiteTable::new(3, 16, |x| (x.sin(), x.cos()));
        for step in -299..300 {
            let x = f64::from(step) * 0.01;
            assert!(table.covers(x));
            assert!((table.at(x) - x.sin()).abs() < 16f64.powi(-4) / 384.0 + 1e-15);
            let (value, slope) = table.at_with_slope(x);
            assert!(value == table.at(x) && (slope - x.cos()).abs() < 1e-4);
        }
        assert!(!table.covers(-3.001) && !table.covers(3.001) && !table.covers(f64::NAN));
    }
}
