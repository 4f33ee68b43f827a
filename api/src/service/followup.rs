//! What follows from records that were taken in.

use std::collections::BTreeSet;

use chrono::{DateTime, Utc};
use uuid::Uuid;

use super::{ChartCache, Result, change, derive};
use crate::storage::Tenant;

/// What is still to be done before a transaction that took records in may be committed: the units that they bear on are derived
/// anew, once, however many the records are; and last of all the changes are told of.
#[derive(Debug, Default)]
pub(super) struct Followup {
    units: BTreeSet<Uuid>,
    changes: Vec<(&'static str, Uuid)>,
}

impl Followup {
    /// A record was stored that bears on these units.
    pub fn stored(&mut self, kind: &'static str, id: Uuid, units: impl IntoIterator<Item = Uuid>) {
        self.changes.push((kind, id));
        self.units.extend(units);
    }

    /// Takes over what follows from another record.
    pub fn add(&mut self, other: Self) {
        self.units.extend(other.units);
        self.changes.extend(other.changes);
    }

    /// Does it. Call it last before committing.
    pub async fn settle(self, tenant: &Tenant<'_>, charts: &ChartCache, now: DateTime<Utc>) -> Result<()> {
        let mut changes = self.changes;
        let units: Vec<Uuid> = self.units.into_iter().collect();
        derive::units_noting((tenant, charts), &units, now, &mut changes).await?;
        if changes.is_empty() { Ok(()) } else { change::append(tenant, &changes, now).await }
    }
}
