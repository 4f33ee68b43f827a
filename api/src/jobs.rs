//! What runs by the clock instead of by a request.

use std::time::Duration;

use crate::clock::Clock;
use crate::service::{Service, fits, fleet};

/// How often the jobs look whether there is something to do.
const PERIOD: Duration = Duration::from_secs(60);

/// Works out the turn of the day for every organization and the fits that are due, again and again, until it is aborted. A
/// failure is logged and tried again a minute later.
pub async fn run(service: Service, clock: Clock) {
    let mut ticks = tokio::time::interval(PERIOD);
    ticks.set_missed_tick_behavior(tokio::time::MissedTickBehavior::Delay);
    loop {
        ticks.tick().await;
        match fleet::turn_of_the_day(&service, clock.now()).await {
            Ok(0) => {}
            Ok(units) => tracing::debug!(units, "turn of the day"),
            Err(error) => tracing::warn!(%error, "the turn of the day failed; trying again in a minute"),
        }
        match fits::make_due(&service, clock.now()).await {
            Ok(0) => {}
            Ok(made) => tracing::info!(made, "fits of fleets"),
            Err(error) => tracing::warn!(%error, "a fit of a fleet failed; trying again in a minute"),
        }
    }
}
