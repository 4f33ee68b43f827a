//! JSON coming in, and the configuration that goes out as it came: serde and utoipa types, and their conversion into
//! domain values with errors that point at the member they are about. What is computed goes out through `view`.

pub mod access;
pub mod calculations;
pub mod configuration;
mod cursor;
pub mod custody;
pub mod day;
pub mod digest;
pub mod envelope;
mod json;
mod list;
mod measurement;
mod members;
mod objects;
pub mod photo;
pub mod readings;
pub mod records;
pub mod retraction;
mod same;
pub mod scheduling;
pub mod service;
pub mod shared;
pub mod sheet;
pub mod starting;
mod text;
pub mod trial;

pub use cursor::Cursor;
pub use json::{JsonError, parse};
pub use list::Page;
pub use measurement::{Measurement, Reader, SETTABLE_CELSIUS};
pub use same::same_value;
pub use text::Text;

/// Declares the codes of a coded enum of the domain as the documented values of a string member: extensible, so the
/// contract lists them in words instead of closing the list.
pub fn codes<T: lapwatch_domain::Coded>() -> String {
    T::ALL.iter().map(|value| format!("`{}`", value.code())).collect::<Vec<_>>().join(", ")
}

/// A domain error's message as a sentence of its own.
pub fn sentence(error: &impl std::fmt::Display) -> String {
    let message = error.to_string();
    let mut letters = message.chars();
    letters.next().map_or_else(String::new, |first| format!("{}{}.", first.to_uppercase(), letters.as_str()))
}
