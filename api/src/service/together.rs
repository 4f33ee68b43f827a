//! Records that come one by one and at the same time are stored together: what waits while a transaction of its organization is on
//! its way is the next transaction. Nobody waits for company: who comes alone is stored alone.

use std::collections::{HashMap, VecDeque};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use chrono::{DateTime, Utc};
use tokio::sync::oneshot;
use uuid::Uuid;

use super::followup::{Followup, take_each};
use super::records::{Arrival, Arriving};
use super::{Error, Result, Service};
use crate::model::{Principal, RecordKind};
use crate::storage::{self, Tenant};
use crate::wire::envelope::Item;

/// So many records are stored together, at most.
const TOGETHER: usize = 32;

/// A record with its sender.
#[derive(Debug)]
pub(super) struct Sent {
    pub caller: Principal,
    pub kind: RecordKind,
    pub bytes: Vec<u8>,
    pub now: DateTime<Utc>,
}

/// Who waits to be stored, by organization. An organization without an entry has no transaction on its way.
#[derive(Debug, Clone, Default)]
pub struct Gatherings(Arc<Mutex<HashMap<Uuid, VecDeque<Waiting>>>>);

#[derive(Debug)]
struct Waiting {
    sent: Sent,
    word: oneshot::Sender<Word>,
}

/// What somebody who waits hears.
#[derive(Debug)]
enum Word {
    /// Their record was stored, or refused, with others.
    Stored(Result<bool>),
    /// It is their turn to store theirs, and those of others.
    Lead(Turn, Sent),
}

/// The right to store records of an organization by single requests, which one request has at a time. It goes on to the next when
/// it is dropped, however that comes about.
#[derive(Debug)]
struct Turn {
    all: Gatherings,
    organization: Uuid,
    others: Vec<Waiting>,
    passed_on: bool,
}

impl Gatherings {
    fn lock(&self) -> MutexGuard<'_, HashMap<Uuid, VecDeque<Waiting>>> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// The turn, if nobody has it; else a place in the queue.
    fn enter(&self, sent: Sent) -> std::result::Result<(Turn, Sent), oneshot::Receiver<Word>> {
        let organization = sent.caller.organization;
        let mut all = self.lock();
        match all.get_mut(&organization) {
            Some(queue) => {
                let (word, heard) = oneshot::channel();
                queue.push_back(Waiting { sent, word });
                Err(heard)
            }
            None => {
                all.insert(organization, VecDeque::new());
                Ok((Turn { all: self.clone(), organization, others: Vec::new(), passed_on: false }, sent))
            }
        }
    }
}

impl Turn {
    /// The next in the queue, and those who may be stored with them. Where nobody waits any more, no transaction is on its way.
    fn next(&self) -> Option<(Waiting, Vec<Waiting>)> {
        let mut all = self.all.lock();
        let queue = all.get_mut(&self.organization)?;
        let Some(first) = queue.pop_front() else {
            all.remove(&self.organization);
            return None;
        };
        let others = queue.drain(..queue.len().min(TOGETHER - 1)).collect();
        Some((first, others))
    }

    /// Puts these at the head of the queue again.
    fn put_back(&self, others: Vec<Waiting>) {
        let mut all = self.all.lock();
        let queue = all.entry(self.organization).or_default();
        others.into_iter().rev().for_each(|waiting| queue.push_front(waiting));
    }
}

impl Drop for Turn {
    fn drop(&mut self) {
        if self.passed_on {
            return;
        }
        // Nothing is locked while somebody is told: what is not heard any more is dropped, and is a turn itself.
        while let Some((Waiting { sent, word }, others)) = self.next() {
            let turn =
                Self { all: self.all.clone(), organization: self.organization, others, passed_on: false };
            let Err(Word::Lead(mut turn, _)) = word.send(Word::Lead(turn, sent)) else { return };
            // Who has gone away meanwhile is passed over.
            turn.passed_on = true;
            self.put_back(std::mem::take(&mut turn.others));
        }
    }
}

/// Stores a record, alone by `alone` or with others that wait; answers whether it is new.
///
/// # Errors
/// As `alone`.
pub(super) async fn store<F: Future<Output = Result<bool>>>(
    service: &Service,
    sent: Sent,
    alone: impl FnOnce() -> F,
) -> Result<bool> {
    let (mut turn, sent) = match service.gatherings.enter(sent) {
        Ok(turn) => turn,
        Err(heard) => match heard.await {
            Ok(Word::Lead(turn, sent)) => (turn, sent),
            Ok(Word::Stored(outcome)) => return outcome,
            // Storing it with others came to nothing, for whatever reason.
            Err(_) => return alone().await,
        },
    };
    let others: Vec<Waiting> = turn.others.drain(..).filter(|waiting| !waiting.word.is_closed()).collect();
    if others.is_empty() {
        return alone().await;
    }
    let (others, words): (Vec<Sent>, Vec<_>) =
        others.into_iter().map(|waiting| (waiting.sent, waiting.word)).unzip();
    let all: Vec<Sent> = std::iter::once(sent).chain(others).collect();
    match store_all(service, &all).await {
        Ok(outcomes) => {
            let mut outcomes = outcomes.into_iter();
            let own = outcomes.next();
            for (word, outcome) in words.into_iter().zip(outcomes) {
                word.send(Word::Stored(outcome)).ok();
            }
            own.unwrap_or_else(|| Err(Error::Internal("a record was passed over".to_owned())))
        }
        Err(_) => {
            drop(words);
            alone().await
        }
    }
}

/// Stores records in one transaction and in their order. Of one that is refused nothing is left behind.
///
/// # Errors
/// What keeps all of them from being stored; none is.
async fn store_all(service: &Service, all: &[Sent]) -> Result<Vec<Result<bool>>> {
    let first = all.first().ok_or_else(|| Error::Internal("nothing to store".to_owned()))?;
    let mut client = service.store.client().await?;
    let tenant = client.tenant(first.caller.organization).await?;
    let mut followup = Followup::default();
    let accept = async |sent: &Sent, followup: &mut Followup| {
        let arrival = take_in(&tenant, sent, followup).await?;
        Ok(Ok(matches!(arrival, Arrival::New(_))))
    };
    let refused = async |_: &Sent, why: Error, _: &mut Followup| Ok(Err(why));
    let outcomes = take_each(&tenant, all, &mut followup, accept, refused).await?;
    let now = all.iter().map(|sent| sent.now).max().unwrap_or(first.now);
    followup.settle(&tenant, &service.charts, now).await?;
    tenant.commit().await?;
    Ok(outcomes)
}

async fn take_in(tenant: &Tenant<'_>, sent: &Sent, followup: &mut Followup) -> Result<Arrival> {
    if !storage::access::is_active(tenant, sent.caller.id).await? {
        return Err(Error::Unauthenticated);
    }
    let item = Item::of_kind(sent.kind, &sent.bytes, sent.now).map_err(Error::Invalid)?;
    item.take_in(tenant, &sent.caller, &Arriving::now(&sent.bytes, sent.now), followup).await
}
