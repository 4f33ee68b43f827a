//! Functions tabulated once and interpolated ever after.

/// A smooth function on an interval, stored as values and slopes at equally spaced points and interpolated by cubic
/// Hermite polynomials.
///
/// The error is at most `spacing⁴/384` times the largest fourth derivative.
#[derive(Debug)]
pub(crate) struct HermiteTable {
    half_width: f64,
    per_unit: f64,
    /// Value, and slope times spacing.
    entries: Vec<[f64; 2]>,
}

impl HermiteTable {
    /// Tabulates a function and its slope on `[−half_width, half_width]` with `per_unit` points to the unit.
    pub(crate) fn new(half_width: u32, per_unit: u32, function: impl Fn(f64) -> (f64, f64)) -> Self {
        let spacing = 1.0 / f64::from(per_unit);
        let entries = (0..=2 * half_width * per_unit)
            .map(|index| {
                let (value, slope) = function(f64::from(index) * spacing - f64::from(half_width));
                [value, slope * spacing]
            })
            .collect();
        Self { half_width: f64::from(half_width), per_unit: f64::from(per_unit), entries }
    }

    /// The interpolated value at `x`, or `None` outside the interval (and for NaN).
    #[inline]
    pub(crate) fn at(&self, x: f64) -> Option<f64> {
        let place = (x + self.half_width) * self.per_unit;
        // The cast rounds towards zero and saturates: places just below zero and NaN must not look like the first.
        if !(place >= 0.0) {
            return None;
        }
        let index = place as usize;
        let [f0, d0] = *self.entries.get(index)?;
        let [f1, d1] = *self.entries.get(index + 1)?;
        let t = place - index as f64;
        let rise = f1 - f0;
        Some(f0 + t * (d0 + t * (3.0 * rise - 2.0 * d0 - d1 + t * (d0 + d1 - 2.0 * rise))))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn interpolates_within_its_error_and_refuses_outside() {
        let table = HermiteTable::new(3, 16, |x| (x.sin(), x.cos()));
        for step in -300..300 {
            let x = f64::from(step) * 0.01;
            assert!((table.at(x).unwrap() - x.sin()).abs() < 16f64.powi(-4) / 384.0 + 1e-15);
        }
        assert!(table.at(-3.001).is_none());
        assert!(table.at(3.001).is_none());
        assert!(table.at(f64::NAN).is_none());
        assert!(table.at(-3.0).is_some());
    }
}
