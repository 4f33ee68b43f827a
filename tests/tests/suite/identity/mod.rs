//! Who may do what, over all operations at once.

mod operations;
mod tenancy;
mod tokens;
