//! What follows from records that were taken in.

use std::collections::BTreeSet;

use chrono::{DateTime, Utc};
use uuid::Uuid;

use super::{ChartCache, Error, Result, change, derive};
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
    fn add(&mut self, other: Self) {
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

/// Takes each in by `accept`, in order, inside one transaction. Of one that is refused nothing is left behind but what `refused` makes
/// of it.
///
/// # Errors
/// What keeps all of them from being taken in just now, or what `refused` meets.
pub(super) async fn take_each<I, T>(
    tenant: &Tenant<'_>,
    items: &[I],
    followup: &mut Followup,
    accept: impl AsyncFn(&I, &mut Followup) -> Result<T>,
    refused: impl AsyncFn(&I, Error, &mut Followup) -> Result<T>,
) -> Result<Vec<T>> {
    let mut taken = Vec::with_capacity(items.len());
    for item in items {
        tenant.mark().await?;
        let mut own = Followup::default();
        taken.push(match accept(item, &mut own).await {
            Ok(one) => {
                tenant.keep_since_mark().await?;
                followup.add(own);
                one
            }
            Err(why) if why.is_for_later() => return Err(why),
            Err(why) => {
                tenant.undo_since_mark().await?;
                refused(item, why, followup).await?
            }
        });
    }
    Ok(taken)
}
