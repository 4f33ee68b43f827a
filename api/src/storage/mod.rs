//! All SQL. One statement a function; statements over three lines are files next to the module that runs them.
//!
//! A [`Tenant`] is an open transaction of one organization: row security is set, and every statement gets the
//! organization as `$1`, so that tenancy holds twice.

mod error;
mod heads;
mod photo_store;
mod si;
mod tenant;

pub mod access;
pub mod changes;
pub mod configuration;
pub mod custody;
pub mod derived;
pub mod fits;
pub mod keyed;
pub mod migrate;
pub mod photos;
pub mod records;
pub mod shared;
pub mod shared_decisions;

pub use error::Error;
pub use heads::Heads;
pub use photo_store::{Copy, PhotoStore};
pub use si::Stored;
pub use tenant::{Client, Store, Tenant};

/// Result of a storage function.
pub type Result<T> = std::result::Result<T, Error>;
