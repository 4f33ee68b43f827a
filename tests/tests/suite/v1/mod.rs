//! The API, one file for each address below `/v1`.

mod access_tokens;
mod apps;
mod people;
mod trials;
