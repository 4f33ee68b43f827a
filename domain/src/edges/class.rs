//! Classes.
