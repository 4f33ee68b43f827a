//! Answers of the calculators.

mod carry;
mod dew_point;
mod peel;
mod readers;
mod series;
mod supply;

pub use carry::CarryAnswer;
pub use dew_point::DewPointAnswer;
pub use peel::{PeelAnswer, StripPeel};
pub use readers::ReaderAnswer;
pub use series::SeriesAnswer;
pub use supply::SupplyAnswer;
