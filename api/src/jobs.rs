//! What runs by the clock instead of by a request.

use std::time::Duration;

use chrono::{DateTime, Utc};
use uuid::Uuid;

use crate::clock::Clock;
use crate::service::{Result, Service, change, custody, fits, fleet, organizations, shared};

/// How often the jobs look whether there is something to do.
const PERIOD: Duration = Duration::from_secs(60);

/// Does what is due, again and again, until it is aborted.
pub async fn run(service: Service, clock: Clock) {
    let mut ticks = tokio::time::interval(PERIOD);
    ticks.set_missed_tick_behavior(tokio::time::MissedTickBehavior::Delay);
    loop {
        ticks.tick().await;
        once(&service, clock.now()).await;
    }
}

/// Does what is due at `now`, organization by organization. What fails in one is logged, keeps nothing from the others, and
/// is due again at the next tick. Answers how many failed.
pub async fn once(service: &Service, now: DateTime<Utc>) -> usize {
    let organizations = match organizations::all(service).await {
        Ok(organizations) => organizations,
        Err(error) => {
            tracing::warn!(%error, "the jobs cannot begin; trying again in a minute");
            return 1;
        }
    };
    let mut failed = 0;
    for organization in organizations {
        if let Err(error) = of_organization(service, organization, now).await {
            tracing::warn!(%error, %organization, "a job failed; trying again in a minute");
            failed += 1;
        }
    }
    failed
}

async fn of_organization(service: &Service, organization: Uuid, now: DateTime<Utc>) -> Result<()> {
    let released = custody::release_resolvable(service, organization, now).await?.unwrap_or_default();
    let told = change::tell_what_came_into_force(service, organization, now).await?;
    let units = fleet::turn_of_the_day(service, organization, now).await?;
    let fitted = fits::make_if_due(service, organization, now).await?;
    let shared = shared::make_if_due(service, organization, now).await?;
    if released > 0 || told > 0 || units > 0 || fitted || shared {
        tracing::debug!(released, told, units, fitted, shared, "jobs");
    }
    Ok(())
}
