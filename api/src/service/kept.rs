//! A record of any kind as it is kept: its bytes, and whether it counts beside those that took its place.

use chrono::{DateTime, Utc};
use uuid::Uuid;

use super::{Error, Result, Service, corrections, open_to_read};
use crate::model::{ChangeKind, Disposition, Principal, RecordKind, Written};
use crate::storage::records::{self as store, Submission};
use crate::wire::envelope::Item;

/// A record with what became of it.
#[derive(Debug)]
pub struct Kept {
    /// Id.
    pub id: Uuid,
    /// Kind, bytes, digest, receipt.
    pub submission: Submission,
    /// Its first entry in the change feed.
    pub change_sequence: Option<i64>,
    /// Whether it counts.
    pub disposition: Disposition,
    /// The chain that it is in, from the first record to the correction written last; only itself, if nobody corrected anything.
    pub chain: Vec<Link>,
    /// Other corrections of the same record that were not made from this one.
    pub competing: Vec<Uuid>,
}

/// A record of a chain.
#[derive(Debug, Clone, Copy)]
pub struct Link {
    /// Id.
    pub id: Uuid,
    /// When it was written, and in whose place; `None` if records of its kind are never corrected.
    pub written: Option<Written>,
    /// Whether it counts.
    pub disposition: Disposition,
}

/// A record of any kind that was accepted, whether it counts or not.
///
/// # Errors
/// [`Error::NotFound`]; [`Error::MissingScope`] when the caller does not read records of its kind; [`Error::Storage`].
pub async fn get(service: &Service, caller: &Principal, id: Uuid, now: DateTime<Utc>) -> Result<Kept> {
    let mut client = service.store.client().await?;
    let tenant = open_to_read(&mut client, caller).await?;
    let submission = store::submission(&tenant, id).await?.ok_or(Error::NotFound("record"))?;
    let scope = ChangeKind::from(submission.kind).scope();
    if !caller.scopes.contains(&scope) {
        return Err(Error::MissingScope(scope.code()));
    }
    let item = Item::stored(&submission)?;
    if caller.crew.is_some() && !item.is_open_to(&tenant, caller, now).await? {
        return Err(Error::NotFound("record"));
    }
    let chain = corrections::chain(&tenant, id).await?;
    let ids: Vec<Uuid> = chain.iter().map(|(_, item)| item.id()).collect();
    let receipts = store::receipts(&tenant, &ids).await?;
    let link = |(_, item): &(RecordKind, Item)| Link {
        id: item.id(),
        written: item.written(),
        disposition: receipts.get(&item.id()).map_or(Disposition::Accepted, |(_, disposition)| *disposition),
    };
    let chain = chain.iter().map(link).collect();
    let (change_sequence, disposition) = receipts.get(&id).copied().unwrap_or((None, Disposition::Accepted));
    let competing = store::competing(&tenant, id).await?;
    Ok(Kept { id, submission, change_sequence, disposition, chain, competing })
}
