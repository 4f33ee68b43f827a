//! Questions to the calculators: what is known, and what is asked about it. Nothing of them is stored.

mod carry;
mod dew_point;
mod peel;
mod readers;
mod series;
mod supply;

pub use carry::{CarryQuestion, Conditions, Known};
pub use dew_point::{DewPointQuestion, Instruments};
pub use peel::PeelQuestion;
pub use readers::{ReaderQuestion, ReadingPair, Session};
pub use series::{MeasuredEdge, SeriesQuestion};
pub use supply::{CordAdviceQuestion, CordForm, Heater, SupplyQuestion};
