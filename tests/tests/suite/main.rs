//! Whole-system tests, in one binary. Files mirror addresses; what concerns all of them has a folder of its own.

mod architecture;
mod console;
mod contract;
mod database;
mod embedded;
mod faults;
mod identity;
mod quickstart;
mod schema;
mod season;
mod v1;
