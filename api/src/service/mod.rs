//! What the service does, one file a capability. An operation opens one transaction, loads, calls `lapwatch_domain`,
//! stores, appends the change entries and commits. No HTTP, no SQL, no clock: `now` is an argument.

mod error;

pub mod access;
pub mod calculations;
pub mod change;
mod charts;
pub mod configuration;
mod corrections;
pub mod custody;
pub mod day;
pub mod derive;
pub mod device;
pub mod envelope;
pub mod exports;
pub mod feed;
pub mod fits;
pub mod fleet;
mod followup;
pub mod imports;
pub mod kept;
mod keyed;
pub mod open_trials;
pub mod organizations;
mod past;
pub mod photos;
mod reach;
pub mod readings;
pub mod records;
pub mod retraction;
pub mod scheduling;
pub mod shared;
pub mod shared_decisions;
pub mod starting;
pub mod steps;
mod together;
pub mod trials;
pub mod units;

pub use charts::ChartCache;
pub use error::{Error, Result};
pub use photos::PhotoKeeper;
pub use together::Gatherings;

use std::sync::Arc;

use tokio::sync::Semaphore;

use crate::auth::{Secrets, Tokens};
use crate::model::Principal;
use crate::storage::{self, Client, Store, Tenant};

/// What every operation needs: the database, the secrets and the token signer.
#[derive(Debug, Clone)]
pub struct Service {
    /// Database connections.
    pub store: Store,
    /// Pepper and signing seed.
    pub secrets: Secrets,
    /// Signs and checks access tokens.
    pub tokens: Tokens,
    /// Charts of units, kept between requests.
    pub charts: ChartCache,
    /// Turns at reading change feeds.
    pub feed_reads: Arc<Semaphore>,
    /// Where the bytes of photos are.
    pub photos: PhotoKeeper,
    /// Single records that wait to be stored together.
    pub gatherings: Gatherings,
    /// How far held items have been tried again.
    pub passes: custody::Passes,
}

impl Service {
    /// A service on these, that keeps no charts yet.
    pub fn new(store: Store, secrets: Secrets, tokens: Tokens, photos: PhotoKeeper) -> Self {
        // Readers of change feeds come in crowds: a quarter of the connections is theirs.
        let feed_reads = Arc::new(Semaphore::new((store.connections() / 4).max(1)));
        Self {
            store,
            secrets,
            tokens,
            charts: ChartCache::default(),
            feed_reads,
            photos,
            gatherings: Gatherings::default(),
            passes: custody::Passes::default(),
        }
    }
}

/// Opens the caller's organization for writing, checking in the same transaction that the caller has not been revoked
/// since its token was issued.
///
/// # Errors
/// [`Error::Unauthenticated`] when it has; [`Error::Storage`].
pub async fn open<'c>(client: &'c mut Client, caller: &Principal) -> Result<Tenant<'c>> {
    admit(client.tenant(caller.organization).await?, caller).await
}

/// As [`open`], for reading: all of it from one moment.
///
/// # Errors
/// [`Error::Unauthenticated`] when it has; [`Error::Storage`].
pub async fn open_to_read<'c>(client: &'c mut Client, caller: &Principal) -> Result<Tenant<'c>> {
    admit(client.snapshot(caller.organization).await?, caller).await
}

async fn admit<'c>(tenant: Tenant<'c>, caller: &Principal) -> Result<Tenant<'c>> {
    if storage::access::is_active(&tenant, caller.id).await? {
        Ok(tenant)
    } else {
        Err(Error::Unauthenticated)
    }
}
