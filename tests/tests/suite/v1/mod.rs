//! The API, one file for each address below `/v1`.

mod access_tokens;
mod apps;
mod configuration;
mod fleet;
mod flags;
mod people;
mod rechecks;
mod records;
mod trials;
