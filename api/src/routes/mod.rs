//! HTTP: extract and validate, call one service operation, reply. One registration gives the route and the contract.

mod access;
mod calculations;
mod configuration;
pub mod contract;
mod custody;
mod day;
mod envelope;
mod exports;
mod extract;
mod feed;
mod fits;
mod fleet;
mod imports;
mod kept;
mod keyed;
mod open_trials;
mod paging;
mod photo_contents;
mod photos;
mod readings;
mod records;
mod retraction;
mod scheduling;
mod shared;
mod system;
mod tags;
mod trials;
mod uploads;

pub use extract::bearer;
pub use uploads::say_version;

use std::sync::Arc;
use std::time::Duration;

use actix_web::web::Data;
use tokio::sync::Semaphore;
use utoipa_actix_web::service_config::ServiceConfig;

use crate::clock::Clock;
use crate::problem::Problem;
use crate::service::Service;

/// What handlers share.
#[derive(Debug, Clone)]
pub struct Context {
    /// The operations.
    pub service: Service,
    /// Where time enters.
    pub clock: Clock,
    /// Whether cookies must be `Secure`.
    pub secure_cookies: bool,
    /// Places for envelopes that are being read; shared, so that all workers together take so many.
    pub envelopes: Arc<Semaphore>,
    /// How long a stream of changes is silent at most.
    pub feed_heartbeat: Duration,
    /// Token that `/metrics` asks for.
    pub operator_token: Option<String>,
}

/// What a handler answers.
type Reply<T> = Result<T, Problem>;
/// The shared context in a handler's arguments.
type Shared = Data<Context>;

/// Registers every operation of the contract.
pub fn register(config: &mut ServiceConfig<'_>) {
    trials::register(config);
    open_trials::register(config);
    exports::register(config);
    imports::register(config);
    envelope::register(config);
    custody::register(config);
    calculations::register(config);
    fleet::register(config);
    scheduling::register(config);
    fits::register(config);
    shared::register(config);
    feed::register(config);
    records::register(config);
    day::register(config);
    retraction::register(config);
    kept::register(config);
    readings::register(config);
    photos::register(config);
    photo_contents::register(config);
    uploads::register(config);
    configuration::register(config);
    access::register(config);
    system::register(config);
}
