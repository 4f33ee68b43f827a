//! The one place where time enters. Everywhere else `now` is an argument.

use std::fmt;
use std::sync::{Arc, Mutex};

use chrono::{DateTime, SubsecRound, TimeDelta, Utc};

/// Where the service reads the present time; tests inject one that they move by hand.
#[derive(Clone)]
pub struct Clock(Source);

#[derive(Clone)]
enum Source {
    System,
    Manual(Arc<Mutex<DateTime<Utc>>>),
}

impl Clock {
    /// The machine's clock.
    pub fn system() -> Self {
        Self(Source::System)
    }

    /// A clock that stands at `now` until it is moved; clones share it.
    pub fn manual(now: DateTime<Utc>) -> Self {
        Self(Source::Manual(Arc::new(Mutex::new(now))))
    }

    /// The present time, in whole microseconds: what the database can hold, so that what was answered and what is
    /// read back later are equal.
    pub fn now(&self) -> DateTime<Utc> {
        let now = match &self.0 {
            Source::System => Utc::now(),
            Source::Manual(now) => *now.lock().unwrap_or_else(|poisoned| poisoned.into_inner()),
        };
        now.trunc_subsecs(6)
    }

    /// Moves a manual clock by `step`; the machine's clock cannot be moved and stays.
    pub fn advance(&self, step: TimeDelta) {
        if let Source::Manual(now) = &self.0 {
            *now.lock().unwrap_or_else(|poisoned| poisoned.into_inner()) += step;
        }
    }
}

impl fmt::Debug for Clock {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Clock({})", self.now())
    }
}
