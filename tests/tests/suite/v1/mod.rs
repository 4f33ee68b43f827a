//! The API, one file for each address below `/v1`.

mod access_tokens;
mod any_order;
mod apps;
mod calculations;
mod carried;
mod changes;
mod configuration;
mod criteria_exceptions;
mod day;
mod envelopes;
mod exports;
mod flags;
mod fleet;
mod fleet_fits;
mod imports;
mod open_trials;
mod people;
mod photos;
mod readings;
mod rechecks;
mod records;
mod retractions;
mod scheduling;
mod shared_decisions;
mod shared_fits;
mod trials;
