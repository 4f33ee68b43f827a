//! The console: pages for people.

mod browser;
pub(crate) mod pages;
