//! What whole-system tests stand on.
//!
//! A test starts an [`App`], opens a [`Shop`] in its organization and sends [`Trial`]s as a third party would. Helpers
//! panic when the service does not do what every test takes for granted, and say what it did instead.

mod app;
mod at_exit;
mod browser;
mod database;
mod docker;
mod folder;
mod http;
mod picture;
mod postgres;
mod seed;
mod shop;
mod trial;

pub use app::{App, OPERATOR_TOKEN, Organization, PASSWORD, an_ordinary_noon, settings};
pub use browser::Browser;
pub use database::TestDatabase;
pub use folder::TestFolder;
pub use http::{Caller, Problem, Reply, number};
pub use picture::{PLACE_TAKEN, photo, sha256, torn_photo};
pub use seed::seed;
pub use shop::Shop;
pub use trial::{Scale, Trial};
