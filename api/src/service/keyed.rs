//! Requests that carry a key of their client: whatever they make, they make once.

use chrono::{DateTime, Utc};
use uuid::Uuid;

use super::{Error, Result};
use crate::model::{KeyedRequest, Made, Principal};
use crate::storage::{Tenant, keyed};

/// Notes in the transaction that makes the thing `id` that its request did so, and answers `None`; where the same request
/// came before, answers what it made then. One that runs at the same time is waited for.
///
/// # Errors
/// [`Error::KeyReused`] when the key was sent with another request; [`Error::Storage`].
pub(super) async fn claim(
    tenant: &Tenant<'_>,
    caller: &Principal,
    request: Option<&KeyedRequest>,
    id: Uuid,
    now: DateTime<Utc>,
) -> Result<Option<Made>> {
    let Some(request) = request else { return Ok(None) };
    if keyed::insert(tenant, caller.id, request, Made { id, at: now }).await? {
        return Ok(None);
    }
    let before = keyed::get(tenant, caller.id, &request.key).await?;
    let (digest, made) = before.ok_or_else(|| Error::Internal("a key is taken by nobody".to_owned()))?;
    if digest == request.digest { Ok(Some(made)) } else { Err(Error::KeyReused) }
}
