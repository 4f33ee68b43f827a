//! The likelihood of an edge in a compact, storable form.

use thiserror::Error;

use super::Edge;
use crate::quantity::Temperature;

/// First temperature of the grid of every profile, in °C.
pub const PROFILE_START_CELSIUS: f64 = 250.0;
/// Distance between neighbouring points of the grid of every profile, in kelvin.
pub const PROFILE_SPACING_KELVIN: f64 = 4.0;

/// The natural logarithm of the likelihood of an edge, σ integrated out, on the fixed grid 250 °C, 254 °C, …, up to the
/// unit's highest set temperature (50 °C further for the upper edge); its largest value is 0.
///
/// All that a history needs of a trial. An open edge gives a profile that is flat on the open side and falls on the
/// other: weak evidence, but evidence. Where the likelihood is more than 40 natural logarithms below its largest value
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

impl Profile {
    /// A profile that says nothing, as of a trial without counted strips.
    #[must_use]
    pub fn flat(edge: Edge, unit_maximum: Temperature) -> Self {
        let _ = (edge, unit_maximum);
        unimplemented!()
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
        let _ = temperature;
        unimplemented!()
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
