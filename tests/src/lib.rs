//! The harness of the whole-system tests.

mod folder;

pub use folder::TestFolder;
