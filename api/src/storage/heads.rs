//! The ends of the change feeds at which somebody waits. Who waits holds no connection to the database: it is told by the
//! commits of this process, and by whoever looks at the counters now and then for those of others.

use std::collections::HashMap;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use tokio::sync::watch::{Receiver, Sender, channel};
use uuid::Uuid;

use crate::model::Place;

/// The end of each watched feed, as far as it is known. Clones share it.
#[derive(Debug, Clone)]
pub struct Heads(Arc<Mutex<Watched>>);

#[derive(Debug)]
struct Watched {
    /// `None` once the service is ending.
    feeds: Option<HashMap<Uuid, Sender<Option<Place>>>>,
    most: usize,
    most_at_one: usize,
}

impl Heads {
    /// Nobody waits yet; at most `most` may, and at most `most_at_one` at one organization's feed.
    pub fn new(most: usize, most_at_one: usize) -> Self {
        Self(Arc::new(Mutex::new(Watched { feeds: Some(HashMap::new()), most, most_at_one })))
    }

    /// A place to wait in, until it is dropped; `None` when all are taken or the service is ending.
    pub fn wait_at(&self, organization: Uuid) -> Option<Receiver<Option<Place>>> {
        let mut watched = self.lock();
        let (most, most_at_one) = (watched.most, watched.most_at_one);
        let feeds = watched.feeds.as_mut()?;
        let here = feeds.get(&organization).map_or(0, Sender::receiver_count);
        let all: usize = feeds.values().map(Sender::receiver_count).sum();
        let free = all < most && here < most_at_one;
        free.then(|| feeds.entry(organization).or_insert_with(|| channel(None).0).subscribe())
    }

    /// The organizations at whose feeds somebody waits.
    pub fn watched(&self) -> Vec<Uuid> {
        let mut watched = self.lock();
        let Some(feeds) = watched.feeds.as_mut() else { return Vec::new() };
        feeds.retain(|_, feed| feed.receiver_count() > 0);
        feeds.keys().copied().collect()
    }

    /// Tells those who wait that the feed ends here by now. Commits may tell of themselves in another order than they
    /// happened: within an epoch the later place counts.
    pub fn moved(&self, organization: Uuid, head: Place) {
        let watched = self.lock();
        let Some(feed) = watched.feeds.as_ref().and_then(|feeds| feeds.get(&organization)) else { return };
        feed.send_if_modified(|known| {
            let news = known.is_none_or(|known| known.epoch != head.epoch || known.seq < head.seq);
            if news {
                *known = Some(head);
            }
            news
        });
    }

    /// Ends every wait, now and later.
    pub fn close(&self) {
        self.lock().feeds = None;
    }

    fn lock(&self) -> MutexGuard<'_, Watched> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const HERE: Uuid = Uuid::from_u128(1);
    const THERE: Uuid = Uuid::from_u128(2);

    fn place(epoch: u128, seq: i64) -> Place {
        Place { epoch: Uuid::from_u128(epoch), seq }
    }

    #[test]
    fn places_are_bounded_and_given_back() {
        let heads = Heads::new(3, 2);
        let first = heads.wait_at(HERE).unwrap();
        let _second = heads.wait_at(HERE).unwrap();
        assert!(heads.wait_at(HERE).is_none(), "two at one feed");
        let _third = heads.wait_at(THERE).unwrap();
        assert!(heads.wait_at(THERE).is_none(), "three in all");
        drop(first);
        assert!(heads.wait_at(THERE).is_some());
        drop((_second, _third));
        assert_eq!(heads.watched(), Vec::<Uuid>::new());
    }

    #[test]
    fn commits_that_tell_of_themselves_late_turn_nothing_back() {
        let heads = Heads::new(1, 1);
        let mut waiting = heads.wait_at(HERE).unwrap();
        heads.moved(HERE, place(1, 6));
        heads.moved(HERE, place(1, 5));
        assert_eq!(*waiting.borrow_and_update(), Some(place(1, 6)));
        heads.moved(HERE, place(1, 6));
        assert!(!waiting.has_changed().unwrap());
        // A restored database is behind.
        heads.moved(HERE, place(2, 3));
        assert_eq!(*waiting.borrow_and_update(), Some(place(2, 3)));
        heads.close();
        assert!(waiting.has_changed().is_err());
        assert!(heads.wait_at(HERE).is_none());
    }
}
