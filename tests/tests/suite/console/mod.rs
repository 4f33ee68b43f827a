//! The console: pages for people.

mod browser;
mod pages;
