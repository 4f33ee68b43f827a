//! The Lapwatch service: HTTP contract, console, storage and jobs around `lapwatch_domain`.
//!
//! Dependencies point one way: `routes`, `console` and `jobs` call `service`, which calls `storage` and the domain;
//! `wire` reads what comes in, `view` shows what goes out, `model` is what they hand to each other. See DEVELOPERS.md.

pub mod auth;
pub mod cli;
pub mod clock;
pub mod config;
mod console;
pub mod embedded;
pub mod jobs;
pub mod model;
pub mod problem;
pub mod routes;
pub mod server;
pub mod service;
pub mod storage;
pub mod telemetry;
pub mod view;
pub mod wire;
