//! The organization's change feed, as it is read: page by page, or waiting at its end.
//!
//! A reader holds a place and asks for what is behind it. What the caller may not see or did not ask for is passed over; the
//! page says through which place it was read, so that a number that is missing in between is no loss.

use std::collections::HashSet;
use std::time::Duration;

use chrono::{DateTime, Utc};
use tokio::sync::watch::Receiver;
use tokio::time::{sleep, timeout};
use uuid::Uuid;

use super::{Error, Result, Service, open_to_read};
use crate::model::{Change, ChangeKind, Concerns, Happening, Place, Principal, Unit};
use crate::storage::changes::{self, Entry};
use crate::storage::{Tenant, configuration};

/// So many entries are looked through at a time: who asks for a rare kind gets an empty stretch now and then, and nobody keeps
/// a connection for long.
const LOOKED_THROUGH: i64 = 10_000;

/// What a reader wants to hear of.
#[derive(Debug, Clone)]
pub struct Wanted {
    kinds: Vec<ChangeKind>,
    crew: Option<Uuid>,
    limit: usize,
}

/// Where a reader begins.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Start {
    /// At the first entry.
    Beginning,
    /// Behind the last entry that there is.
    Now,
    /// Behind a place where somebody stopped.
    Behind(Place),
}

/// A stretch of the feed.
#[derive(Debug)]
pub struct Stretch {
    /// What of it the reader wanted, in order.
    pub changes: Vec<Change>,
    /// The place up to which it was read.
    pub through: Place,
    /// Whether there was more behind that.
    pub more: bool,
}

impl Wanted {
    /// Entries of these kinds (all, if none is named) that concern this crew (all), read by so many at a time.
    ///
    /// # Errors
    /// [`Error::MissingScope`] for a kind that the caller may not read; [`Error::OtherCrew`].
    pub fn by(
        caller: &Principal,
        kinds: Option<Vec<ChangeKind>>,
        crew: Option<Uuid>,
        limit: usize,
    ) -> Result<Self> {
        let may = |kind: &ChangeKind| caller.scopes.contains(&kind.scope());
        if crew.is_some() && !caller.acts_for(crew) {
            return Err(Error::OtherCrew);
        }
        let kinds = match kinds {
            Some(kinds) => match kinds.iter().find(|kind| !may(kind)) {
                Some(denied) => return Err(Error::MissingScope(denied.scope().code())),
                None => kinds,
            },
            None => ChangeKind::ALL.iter().copied().filter(may).collect(),
        };
        Ok(Self { kinds, crew: caller.crew.or(crew), limit })
    }
}

/// The next stretch of the feed.
///
/// # Errors
/// [`Error::CursorLost`] when nothing can be said about what is behind the place; [`Error::Unauthenticated`];
/// [`Error::Storage`].
pub async fn read(
    service: &Service,
    caller: &Principal,
    wanted: &Wanted,
    start: Start,
    now: DateTime<Utc>,
) -> Result<Stretch> {
    // Readers that wake together leave connections to the writers.
    let _turn = service.feed_reads.acquire().await;
    let mut client = service.store.client().await?;
    let tenant = open_to_read(&mut client, caller).await?;
    let head = changes::head(&tenant).await?;
    let from = begin(start, head)?;
    let upto = head.seq.min(from.saturating_add(LOOKED_THROUGH));
    let entries = changes::after(&tenant, (from, upto), &wanted.kinds, wanted.limit).await?;
    // Fewer than asked: there are no more up to there.
    let through = match entries.last() {
        Some(last) if entries.len() == wanted.limit => last.seq,
        _ => upto,
    };
    let sight = Sight::of(&tenant, wanted.crew, now).await?;
    let change = |entry: &Entry| {
        sight.happening(entry).map(|happening| Change {
            place: Place { epoch: head.epoch, seq: entry.seq },
            kind: entry.kind,
            subject: entry.subject,
            happening,
            at: entry.at,
            unit: entry.unit,
            crew: entry.crew,
            since: entry.since,
        })
    };
    Ok(Stretch {
        changes: entries.iter().filter_map(change).collect(),
        through: Place { epoch: head.epoch, seq: through },
        more: through < head.seq,
    })
}

/// The number behind which to read.
fn begin(start: Start, head: Place) -> Result<i64> {
    match start {
        Start::Beginning => Ok(0),
        Start::Now => Ok(head.seq),
        // A feed without entries has no epoch yet: whoever was at its end has missed nothing.
        Start::Behind(place) if place.epoch.is_nil() && place.seq == 0 => Ok(0),
        Start::Behind(place) if place.epoch == head.epoch && (0..=head.seq).contains(&place.seq) => {
            Ok(place.seq)
        }
        Start::Behind(_) => Err(Error::CursorLost),
    }
}

/// Which entries a reader sees.
enum Sight {
    /// Every one.
    All,
    /// Those that concern a crew.
    Crew {
        crew: Uuid,
        /// The units that it has, not retired.
        units: HashSet<Uuid>,
        /// The units that it has or had.
        ever: HashSet<Uuid>,
    },
}

impl Sight {
    async fn of(tenant: &Tenant<'_>, crew: Option<Uuid>, now: DateTime<Utc>) -> Result<Self> {
        let Some(crew) = crew else { return Ok(Self::All) };
        let units = configuration::all_in_force::<Unit>(tenant, now).await?;
        let units = units.iter().filter(|unit| unit.value.crew_id == Some(crew) && !unit.retired);
        let ever = changes::units_ever_of(tenant, crew).await?;
        Ok(Self::Crew { crew, units: units.map(|unit| unit.id).collect(), ever: ever.into_iter().collect() })
    }

    /// What happened as this reader sees it; `None` if it does not see it.
    fn happening(&self, entry: &Entry) -> Option<Happening> {
        let derived = matches!(entry.kind, ChangeKind::Flag | ChangeKind::Recheck);
        let plain = match entry {
            // Whose it was is not known any more. Its id tells nobody anything.
            _ if derived && !entry.there => return Some(Happening::Gone),
            Entry { first: true, .. } => Happening::Added,
            _ => Happening::Changed,
        };
        let Self::Crew { crew, units, ever } = self else { return Some(plain) };
        let has = |units: &HashSet<Uuid>| entry.unit.is_some_and(|unit| units.contains(&unit));
        match entry.kind.concerns() {
            Concerns::Everybody => Some(plain),
            Concerns::ItsCrew => (entry.crew == Some(*crew)).then_some(plain),
            Concerns::EitherCrew => {
                let unknown = entry.crew.is_none() && entry.unit.is_none();
                (unknown || entry.crew == Some(*crew) || has(units)).then_some(plain)
            }
            Concerns::CrewOfUnit if has(units) => Some(plain),
            Concerns::CrewOfUnit if entry.kind == ChangeKind::Unit && has(ever) => Some(Happening::Gone),
            Concerns::CrewOfUnit => None,
        }
    }
}

/// A reader that waits at the end of the feed. It holds no connection to the database while it waits.
#[derive(Debug)]
pub struct Follower {
    heads: Receiver<Option<Place>>,
    at: Start,
}

impl Follower {
    /// Takes a place to wait in.
    ///
    /// # Errors
    /// [`Error::Crowded`] when there is none.
    pub fn new(service: &Service, caller: &Principal, start: Start) -> Result<Self> {
        let heads = service.store.heads().wait_at(caller.organization).ok_or(Error::Crowded)?;
        Ok(Self { heads, at: start })
    }

    /// The next stretch; empty at the end of the feed.
    ///
    /// # Errors
    /// As [`read`]. The follower stays where it was.
    pub async fn read(
        &mut self,
        service: &Service,
        caller: &Principal,
        wanted: &Wanted,
        now: DateTime<Utc>,
    ) -> Result<Stretch> {
        // What is told from here on may be behind what is read now.
        self.heads.mark_unchanged();
        let stretch = read(service, caller, wanted, self.at, now).await?;
        self.at = Start::Behind(stretch.through);
        Ok(stretch)
    }

    /// Waits until the feed ends elsewhere than where this stands, for no longer than `patience`. `false` when the service
    /// is ending.
    pub async fn wait(&mut self, patience: Duration) -> bool {
        let told = async {
            while self.heads.changed().await.is_ok() {
                let head = *self.heads.borrow_and_update();
                if head.is_some_and(|head| self.at != Start::Behind(head)) {
                    return true;
                }
            }
            false
        };
        timeout(patience, told).await.unwrap_or(true)
    }
}

/// Looks every `period` whether the feeds at which somebody waits have moved by commits of another process. Never ends.
pub async fn watch(service: Service, period: Duration) {
    loop {
        sleep(period).await;
        if let Err(error) = look(&service).await {
            tracing::warn!(%error, "the ends of the change feeds cannot be read; trying again");
        }
    }
}

async fn look(service: &Service) -> Result<()> {
    let heads = service.store.heads();
    let watched = heads.watched();
    if watched.is_empty() {
        return Ok(());
    }
    let mut client = service.store.client().await?;
    for organization in watched {
        let tenant = client.tenant(organization).await?;
        heads.moved(organization, changes::head(&tenant).await?);
    }
    Ok(())
}
