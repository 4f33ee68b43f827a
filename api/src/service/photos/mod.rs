//! Photos. A *photo* is a record: it says that certain bytes belong to another record. The bytes come apart from it, before or
//! after, whole (`contents`) or in parts (`uploads`), and are known by their SHA-256.

pub mod contents;
mod picture;
pub mod uploads;

use std::collections::HashMap;
use std::sync::Arc;
use std::time::Duration;

use chrono::{DateTime, TimeDelta, Utc};
use tokio::sync::{Semaphore, SemaphorePermit};
use uuid::Uuid;

pub use picture::MOST_PIXELS;

use super::records::{Event, accepted};
use super::{Error, Result, Service, open_to_read};
use crate::config::PhotoSettings;
use crate::model::{Photo, Principal, RecordKind};
use crate::storage::photos::{self as store, Kept};
use crate::storage::{PhotoStore, Tenant, records};
use crate::wire::envelope::Item;

/// So many photos are held in memory at a time, as they were sent.
const TURNS: usize = 4;
/// So many are looked at pixel by pixel at a time: the largest takes a quarter of a gigabyte.
const LOOKS: usize = 2;
/// Who waits longer for a turn is asked to come again.
const PATIENCE: Duration = Duration::from_secs(20);

/// Where the bytes of photos are, and how they are handled.
#[derive(Debug, Clone)]
pub struct PhotoKeeper {
    store: PhotoStore,
    keep: TimeDelta,
    turns: Arc<Semaphore>,
    looks: Arc<Semaphore>,
}

impl PhotoKeeper {
    /// A keeper by these settings.
    ///
    /// # Errors
    /// When the store cannot be opened.
    pub fn new(settings: &PhotoSettings) -> anyhow::Result<Self> {
        Ok(Self {
            store: PhotoStore::open(&settings.place)?,
            keep: TimeDelta::days(i64::from(settings.keep_days)),
            turns: Arc::new(Semaphore::new(TURNS)),
            looks: Arc::new(Semaphore::new(LOOKS)),
        })
    }

    /// Takes a turn at holding a photo in memory.
    ///
    /// # Errors
    /// [`Error::Busy`] when there is none for a long time.
    pub async fn turn(&self) -> Result<SemaphorePermit<'_>> {
        wait_at(&self.turns).await
    }

    /// Takes a turn at looking at all pixels of a photo.
    async fn look(&self) -> Result<SemaphorePermit<'_>> {
        wait_at(&self.looks).await
    }
}

async fn wait_at(turns: &Semaphore) -> Result<SemaphorePermit<'_>> {
    let turn = tokio::time::timeout(PATIENCE, turns.acquire()).await.map_err(|_| Error::Busy)?;
    turn.map_err(|_| Error::Internal("turns at photos are closed".to_owned()))
}

impl Event for Photo {
    /// Its record is there, may carry photos, and is the caller's to see.
    async fn check(&self, tenant: &Tenant<'_>, caller: &Principal, now: DateTime<Utc>) -> Result<()> {
        let subject = accepted(tenant, "/subject_id", self.subject_id).await?;
        if matches!(subject.kind, RecordKind::Photo | RecordKind::Retraction | RecordKind::TrialClose) {
            let detail = "A photo belongs to a record of work: of a trial name the trial, not its close.";
            return Err(Error::invalid("/subject_id", "no_photos", detail));
        }
        let item = Item::stored(&subject)?;
        let coupons = match &item {
            Item::Trial(trial) => trial.coupons.len(),
            _ => 0,
        };
        if self.coupon.is_some_and(|coupon| usize::from(coupon) > coupons) {
            let detail = format!("The record has {coupons} coupons; count them from 1, or leave this out.");
            return Err(Error::invalid("/coupon", "out_of_range", detail));
        }
        match caller.crew {
            None => Ok(()),
            // In a box, for the compiler does not see that no photo belongs to a photo.
            Some(_) => Box::pin(item.check(tenant, caller, now)).await,
        }
    }

    async fn keep(&self, tenant: &Tenant<'_>, _caller: &Principal) -> Result<()> {
        let subject = accepted(tenant, "/subject_id", self.subject_id).await?;
        Ok(store::insert(tenant, self, subject.kind).await?)
    }

    /// None: nothing is worked out from photos.
    async fn bears_on(&self, _tenant: &Tenant<'_>, _now: DateTime<Utc>) -> Result<Vec<Uuid>> {
        Ok(Vec::new())
    }
}

/// Which records' photos a caller sees: its own crew's, if it acts for one.
pub(super) struct SubjectSight<'a, 't> {
    tenant: &'a Tenant<'t>,
    caller: &'a Principal,
    now: DateTime<Utc>,
    known: HashMap<Uuid, bool>,
}

impl<'a, 't> SubjectSight<'a, 't> {
    pub(super) fn new(tenant: &'a Tenant<'t>, caller: &'a Principal, now: DateTime<Utc>) -> Self {
        Self { tenant, caller, now, known: HashMap::new() }
    }

    pub(super) async fn includes(&mut self, subject: Uuid) -> Result<bool> {
        if self.caller.crew.is_none() {
            return Ok(true);
        }
        if let Some(known) = self.known.get(&subject) {
            return Ok(*known);
        }
        let submission = accepted(self.tenant, "/subject_id", subject).await?;
        let item = Item::stored(&submission)?;
        let seen = item.is_open_to(self.tenant, self.caller, self.now).await?;
        self.known.insert(subject, seen);
        Ok(seen)
    }
}

/// One photo.
///
/// # Errors
/// [`Error::NotFound`]; [`Error::Storage`].
pub async fn get(service: &Service, caller: &Principal, id: Uuid, now: DateTime<Utc>) -> Result<Kept> {
    let mut client = service.store.client().await?;
    let tenant = open_to_read(&mut client, caller).await?;
    let kept = store::photo(&tenant, id).await?.ok_or(Error::NotFound("photo"))?;
    let seen = SubjectSight::new(&tenant, caller, now).includes(kept.0.subject_id).await?;
    if seen { Ok(kept) } else { Err(Error::NotFound("photo")) }
}

/// Photos of a record, in order of taking.
///
/// # Errors
/// [`Error::Storage`].
pub async fn of_record(
    service: &Service,
    caller: &Principal,
    record: Uuid,
    now: DateTime<Utc>,
) -> Result<Vec<Kept>> {
    let mut client = service.store.client().await?;
    let tenant = open_to_read(&mut client, caller).await?;
    seen(&tenant, caller, store::photos(&tenant, &[record]).await?, now).await
}

/// Photos of a trial, of the pieces that it was sent in, and of the trials in whose place it stands; in order of taking.
///
/// # Errors
/// [`Error::Storage`].
pub async fn of_trial(
    service: &Service,
    caller: &Principal,
    trial: Uuid,
    now: DateTime<Utc>,
) -> Result<Vec<Kept>> {
    let mut client = service.store.client().await?;
    let tenant = open_to_read(&mut client, caller).await?;
    let chain = records::chain(&tenant, trial).await?;
    let subjects = store::subjects_of_trials(&tenant, &chain).await?;
    seen(&tenant, caller, store::photos(&tenant, &subjects).await?, now).await
}

async fn seen(
    tenant: &Tenant<'_>,
    caller: &Principal,
    photos: Vec<Kept>,
    now: DateTime<Utc>,
) -> Result<Vec<Kept>> {
    let mut sight = SubjectSight::new(tenant, caller, now);
    let mut seen = Vec::new();
    for kept in photos {
        if sight.includes(kept.0.subject_id).await? {
            seen.push(kept);
        }
    }
    Ok(seen)
}
