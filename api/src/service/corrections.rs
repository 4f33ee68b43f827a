//! Corrections: records that take the place of others of their kind. Nothing is edited in place.

use chrono::{DateTime, Utc};
use uuid::Uuid;

use super::followup::Followup;
use super::records::accepted;
use super::{Error, Result};
use crate::model::{Correction, Principal, Record, RecordKind, Written};
use crate::storage::{Tenant, records as store};
use crate::wire::envelope::Item;

/// Of a record that is being taken in: in whose place it stands from now on; `None` if it corrects nothing.
///
/// # Errors
/// [`Error::Invalid`] when what it corrects is not there, is of another kind or was written later; [`Error::OtherCrew`] when that
/// is not the caller's to write; [`Error::Storage`].
pub(super) async fn correction<R: Record>(
    tenant: &Tenant<'_>,
    caller: &Principal,
    record: &R,
    now: DateTime<Utc>,
) -> Result<Option<Correction>> {
    let Some(Written { at, supersedes: Some(superseded) }) = record.written() else { return Ok(None) };
    let first = accepted(tenant, "/supersedes", superseded).await?;
    if first.kind != R::KIND {
        let detail = format!("That is a `{}`; a correction is of the same kind.", first.kind.code());
        return Err(Error::invalid("/supersedes", "wrong_kind", detail));
    }
    let item = Item::stored(&first)?;
    if caller.crew.is_some() && !item.is_open_to(tenant, caller, now).await? {
        return Err(Error::OtherCrew);
    }
    if item.written().is_some_and(|first| (at, record.id()) <= (first.at, superseded)) {
        let detail =
            "A correction is written down later than the record whose place it takes; check the times.";
        return Err(Error::invalid("/recorded_at", "not_later", detail));
    }
    let root_id = store::chain(tenant, superseded).await?.first().copied().unwrap_or(superseded);
    Ok(Some(Correction { record_id: record.id(), supersedes: superseded, root_id, recorded_at: at }))
}

/// Every record of the chain that a record is in, from the first to the correction written last; only itself, if nobody corrected
/// anything.
pub(super) async fn chain(tenant: &Tenant<'_>, record: Uuid) -> Result<Vec<(RecordKind, Item)>> {
    let mut chain = Vec::new();
    for link in store::chain(tenant, record).await? {
        let submission = accepted(tenant, "", link).await?;
        chain.push((submission.kind, Item::stored(&submission)?));
    }
    Ok(chain)
}

/// The others of the chain that a record is in: what it corrects, directly or not, and what corrects the same.
pub(super) async fn others(tenant: &Tenant<'_>, record: Uuid) -> Result<Vec<(RecordKind, Item)>> {
    let mut others = chain(tenant, record).await?;
    others.retain(|(_, item)| item.id() != record);
    Ok(others)
}

/// The records that begin or cease to count with a record that was taken in: those of its chain, if it corrects one.
pub(super) async fn moved_by<R: Record + ?Sized>(
    tenant: &Tenant<'_>,
    record: &R,
) -> Result<Vec<(RecordKind, Item)>> {
    match record.written().and_then(|written| written.supersedes) {
        Some(_) => others(tenant, record.id()).await,
        None => Ok(Vec::new()),
    }
}

/// What follows from records that begin or cease to count because of another: they are told of, and their units derived anew.
pub(super) async fn follow(
    tenant: &Tenant<'_>,
    others: Vec<(RecordKind, Item)>,
    now: DateTime<Utc>,
    followup: &mut Followup,
) -> Result<()> {
    for (kind, item) in others {
        followup.stored(kind.code(), item.id(), item.bears_on(tenant, now).await?);
    }
    Ok(())
}
