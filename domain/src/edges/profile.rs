//! The likelihood of an edge in a compact, storable form.

use thiserror::Error;

use super::Edge;
use super::posterior::grid_points;
use crate::quantity::Temperature;

/// First temperature of the grid of every profile, in °C.
pub const PROFILE_START_CELSIUS: f64 = 250.0;
/// Distance between neighbouring points of the grid of every profile, in kelvin.
pub const PROFILE_SPACING_KELVIN: f64 = 4.0;

/// The natural logarithm of the likelihood of an edge, σ integrated out, on the fixed grid 250 °C, 254 °C, …, up to the
/// unit's highest set temperature (50 °C further for the upper edge); its largest value is 0.
///
/// All that a history needs of a trial. An open edge gives a profile that is flat on the open side and falls on the
/// other: weak evidence, but evidence. Where the likelihood is more than 30 natural logarithms below its largest value
/// the profile is continued along a straight line.
#[derive(Debug, Clone, PartialEq)]
pub struct Profile {
    values: Vec<f32>,
}

/// Why bytes are not a profile.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Error)]
#[non_exhaustive]
pub enum ProfileError {
    /// No point at all.
    #[error("a profile needs at least one point")]
    Empty,
    /// Not a whole number of 4-byte values.
    #[error("{bytes} bytes are not a whole number of 4-byte values")]
    Torn {
        /// How many bytes there were.
        bytes: usize,
    },
    /// A value is not finite or above zero.
    #[error("the value at point {index} is not a finite number of at most zero")]
    Value {
        /// The point, counted from zero.
        index: usize,
    },
}

/// Degrees of the posterior's grid to a point of the profile.
const DEGREES_PER_POINT: usize = PROFILE_SPACING_KELVIN as usize;
/// Where a profile stops following the posterior, in natural logarithms below its top. Cells of the posterior are left
/// out a little further down.
const FOLLOWED: f64 = -30.0;

/// Replaces what lies outside the followed part by straight lines with the slope at its ends.
///
/// The followed part is one piece about the top. Far below it the interpolation between the rows of the grid may fall
/// short of zero, and a logarithm be minus infinity, before the part ends.
fn continue_straight(values: &mut [f64]) {
    let Some(top) = values.iter().position(|value| *value >= 0.0) else { return };
    let followed = |value: &f64| *value >= FOLLOWED;
    let first = values[..top].iter().rposition(|value| !followed(value)).map_or(0, |below| below + 1);
    let last =
        values[top..].iter().position(|value| !followed(value)).map_or(values.len(), |above| top + above) - 1;
    // A profile with a single followed point falls by the whole depth within one spacing.
    let (rise, fall) = if first < last {
        ((values[first + 1] - values[first]).max(0.0), (values[last] - values[last - 1]).min(0.0))
    } else {
        (-FOLLOWED, FOLLOWED)
    };
    for index in (0..first).rev() {
        values[index] = values[index + 1] - rise;
    }
    for index in last + 1..values.len() {
        values[index] = values[index - 1] + fall;
    }
}

impl Profile {
    /// A profile that says nothing, as of a trial without counted strips.
    #[must_use]
    pub fn flat(edge: Edge, unit_maximum: Temperature) -> Self {
        let points = grid_points(edge.grid_top(unit_maximum));
        Self { values: vec![0.0; points.div_ceil(DEGREES_PER_POINT)] }
    }

    /// The profile of a posterior with these weights of the degrees of its grid.
    pub(super) fn from_marginal(marginal: &[f64]) -> Self {
        let logarithms: Vec<f64> =
            marginal.iter().step_by(DEGREES_PER_POINT).map(|weight| libm::log(*weight)).collect();
        let largest = logarithms.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let mut values: Vec<f64> = logarithms.iter().map(|value| value - largest).collect();
        continue_straight(&mut values);
        Self { values: values.iter().map(|value| *value as f32).collect() }
    }

    /// How many points the profile has; at least one.
    #[must_use]
    pub fn len(&self) -> usize {
        self.values.len()
    }

    /// Never true; here because `len` is.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.values.is_empty()
    }

    /// The temperature of point `index`.
    #[must_use]
    pub fn temperature(&self, index: usize) -> Temperature {
        Temperature::from_celsius(PROFILE_START_CELSIUS + PROFILE_SPACING_KELVIN * index as f64)
    }

    /// The logarithms at the points of the grid.
    #[must_use]
    pub fn values(&self) -> &[f32] {
        &self.values
    }

    /// The logarithm at any temperature: a cubic between the points, a straight line beyond the ends.
    #[must_use]
    pub fn ln_at(&self, temperature: Temperature) -> f64 {
        let place = (temperature.celsius() - PROFILE_START_CELSIUS) / PROFILE_SPACING_KELVIN;
        let last = self.values.len() - 1;
        if last == 0 {
            return self.value(0);
        }
        // Beyond an end both the point and its slope are those of the end.
        let index = place.max(0.0).min(last as f64) as usize;
        let index = index.min(last - 1);
        let t = place - index as f64;
        let (f0, f1) = (self.value(index), self.value(index + 1));
        if !(0.0..=1.0).contains(&t) {
            return if t < 0.0 { f0 + t * (f1 - f0) } else { f1 + (t - 1.0) * (f1 - f0) };
        }
        let (d0, d1) = (self.slope(index), self.slope(index + 1));
        let rise = f1 - f0;
        f0 + t * (d0 + t * (3.0 * rise - 2.0 * d0 - d1 + t * (d0 + d1 - 2.0 * rise)))
    }

    fn value(&self, index: usize) -> f64 {
        f64::from(self.values[index])
    }

    /// The slope at a point, per spacing: that of the chord over both neighbours, one-sided at the ends.
    fn slope(&self, index: usize) -> f64 {
        let (below, above) = (index.saturating_sub(1), (index + 1).min(self.values.len() - 1));
        (self.value(above) - self.value(below)) / (above - below) as f64
    }

    /// The profile as little-endian 4-byte floating point numbers.
    #[must_use]
    pub fn to_bytes(&self) -> Vec<u8> {
        self.values.iter().flat_map(|value| value.to_le_bytes()).collect()
    }

    /// A profile from the bytes that [`Profile::to_bytes`] gave.
    ///
    /// # Errors
    /// [`ProfileError`] when the bytes are not such a profile.
    pub fn from_bytes(bytes: &[u8]) -> Result<Self, ProfileError> {
        let (chunks, rest) = bytes.as_chunks::<4>();
        if !rest.is_empty() {
            return Err(ProfileError::Torn { bytes: bytes.len() });
        }
        if chunks.is_empty() {
            return Err(ProfileError::Empty);
        }
        let values: Vec<f32> = chunks.iter().map(|chunk| f32::from_le_bytes(*chunk)).collect();
        match values.iter().position(|value| !value.is_finite() || *value > 0.0) {
            Some(index) => Err(ProfileError::Value { index }),
            None => Ok(Self { values }),
        }
    }
}
