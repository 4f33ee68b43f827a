//! Retractions: what may be withdrawn by whom, and what has to be worked out anew.

use chrono::{DateTime, Utc};
use uuid::Uuid;

use super::corrections;
use super::records::{Event, accepted};
use super::{Error, Result, Service, open_to_read};
use crate::model::{Principal, RecordKind, Retraction};
use crate::storage::{Tenant, records as store};
use crate::wire::envelope::Item;

impl Event for Retraction {
    async fn check(&self, tenant: &Tenant<'_>, caller: &Principal, now: DateTime<Utc>) -> Result<()> {
        let item = self.concerns(tenant).await?;
        if let Item::TrialClose(close) = &item {
            let detail = format!("A close became the trial {}; withdraw that one.", close.trial_id);
            return Err(Error::invalid("/record_id", "not_retractable", detail));
        }
        if !caller.scopes.contains(&item.scope()) {
            return Err(Error::MissingScope(item.scope().code()));
        }
        item.check(tenant, caller, now).await
    }

    async fn keep(&self, tenant: &Tenant<'_>, caller: &Principal) -> Result<()> {
        let kind = accepted(tenant, "/record_id", self.record_id).await?.kind;
        Ok(store::insert_retraction(tenant, self, kind, caller).await?)
    }

    async fn bears_on(&self, tenant: &Tenant<'_>, now: DateTime<Utc>) -> Result<Vec<Uuid>> {
        self.concerns(tenant).await?.bears_on(tenant, now).await
    }

    /// The rest of the chain that the record is in: another of it may count now.
    async fn moves(&self, tenant: &Tenant<'_>) -> Result<Vec<(RecordKind, Item)>> {
        corrections::others(tenant, self.concerns(tenant).await?.id()).await
    }
}

impl Retraction {
    /// The record that begins or ceases to count: the one it withdraws or, if that is a retraction, the one withdrawn by that.
    pub(super) async fn concerns(&self, tenant: &Tenant<'_>) -> Result<Item> {
        let mut found = accepted(tenant, "/record_id", self.record_id).await?;
        if found.kind == RecordKind::Retraction {
            let inner = store::retracted_by(tenant, self.record_id).await?;
            found = accepted(tenant, "/record_id", inner.unwrap_or(self.record_id)).await?;
        }
        if found.kind == RecordKind::Retraction {
            let detail = "It withdraws a retraction and so restored a record; to withdraw that record again, name it itself.";
            return Err(Error::invalid("/record_id", "not_retractable", detail));
        }
        Item::stored(&found)
    }
}

/// Retractions of a record, or all, from a time on; a caller that acts for one crew sees those of its own records.
///
/// # Errors
/// [`Error::Storage`].
pub async fn retractions(
    service: &Service,
    caller: &Principal,
    record: Option<Uuid>,
    from: DateTime<Utc>,
    now: DateTime<Utc>,
) -> Result<Vec<Retraction>> {
    let mut client = service.store.client().await?;
    let tenant = open_to_read(&mut client, caller).await?;
    let mut found = store::retractions(&tenant, record, from).await?;
    if caller.crew.is_some() {
        let mut own = Vec::new();
        for retraction in found {
            if retraction.concerns(&tenant).await?.is_open_to(&tenant, caller, now).await? {
                own.push(retraction);
            }
        }
        found = own;
    }
    Ok(found)
}
