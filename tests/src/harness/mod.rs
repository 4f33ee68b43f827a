//! What whole-system tests stand on.

mod at_exit;
mod database;
mod docker;
mod folder;
mod postgres;

pub use database::TestDatabase;
pub use folder::TestFolder;
