//! A unit's trials as fits of the fleet read them: all of it, one unit after the other.

use std::collections::HashMap;

use chrono::{DateTime, Utc};
use lapwatch_domain::fleet::{MadeFrom, UnitHistory};
use tokio::try_join;
use uuid::Uuid;

use super::charts::entry;
use super::{Error, Result};
use crate::storage::Tenant;
use crate::storage::records::{self, HistoryRow, Profiles};

/// What the database holds of a unit's trials in some time.
pub(super) struct Past {
    unit: Uuid,
    pub(super) history: Vec<HistoryRow>,
    profiles: HashMap<Uuid, Profiles>,
    resets: Vec<DateTime<Utc>>,
}

impl Past {
    /// `None` for a unit without trials in that time.
    pub(super) async fn read(
        tenant: &Tenant<'_>,
        unit: Uuid,
        (from, to): (DateTime<Utc>, DateTime<Utc>),
    ) -> Result<Option<Self>> {
        let (mut history, profiles, services) = try_join!(
            records::history(tenant, unit),
            records::unit_profiles(tenant, unit),
            records::service_events(tenant, Some(unit)),
        )?;
        history.retain(|row| from <= row.ordered_at && row.ordered_at <= to);
        let resets = services.iter().filter(|event| event.affects_heat).map(|event| event.performed_at);
        Ok((!history.is_empty()).then(|| Self { unit, resets: resets.collect(), history, profiles }))
    }

    /// Adds its trials to what a fit is made from.
    pub(super) fn count(&self, made_from: &mut MadeFrom) {
        let (Some(first), Some(last)) = (self.history.first(), self.history.last()) else { return };
        made_from.trials += self.history.len();
        made_from.units += 1;
        made_from.from = made_from.from.min(first.ordered_at);
        made_from.to = made_from.to.max(last.ordered_at);
    }

    /// Boils it down to what a fit keeps of it, off the threads that serve requests.
    pub(super) async fn boiled_down<T: Send + 'static>(
        self,
        boil: impl FnOnce(&UnitHistory<'_>) -> T + Send + 'static,
    ) -> Result<T> {
        tokio::task::spawn_blocking(move || {
            let entries = self.history.iter().map(|row| entry(row, self.profiles.get(&row.trial_id)));
            let entries: Vec<_> = entries.collect::<Result<_>>()?;
            let told = UnitHistory { unit: self.unit, history: &entries, resets: &self.resets };
            Ok(boil(&told))
        })
        .await
        .map_err(|error| Error::Internal(format!("reading a history for a fit failed: {error}")))
        .flatten()
    }
}

/// A fit's account of what it is made from, before the first unit.
pub(super) fn from_nothing(now: DateTime<Utc>) -> MadeFrom {
    MadeFrom { trials: 0, units: 0, from: now, to: DateTime::UNIX_EPOCH }
}
