//! Textbook methods for a series of measurements: charts, levels, trends, scatter.
//!
//! - [`ewma`] and [`cusum`]: control charts of standardized values. Their run lengths are in [`crate::drift::arl`].
//! - [`local_level`]: a level that wanders, followed by the Kalman filter.
//! - [`kendall`], [`theil_sen`] and [`line()`]: whether a series trends, and how steeply.
//! - [`paule_mandel`] and [`dersimonian_laird`]: how much measurements scatter beyond their standard errors.
//!
//! The charts that watch welders ([`crate::drift`]) know more than these do: open edges, sheet temperatures, a baseline
//! still being learnt. These take numbers as given; [`crate::series`] puts them together for a series of measured edges.

mod charts;
mod heterogeneity;
mod level;
mod trend;

pub use charts::{Cusum, cusum, ewma, ewma_sd};
pub use heterogeneity::{dersimonian_laird, paule_mandel};
pub use level::{Estimate, local_level, weighted_mean};
pub use trend::{Kendall, Line, Slope, kendall, line, theil_sen};
