//! The organization's gap-free change feed. Its counter row is the last thing a transaction touches: commits of one
//! organization queue behind it only for their own last statement.

use chrono::{DateTime, Utc};
use uuid::Uuid;

use super::Result;
use crate::storage::{self, Tenant};

/// Appends one entry for each (kind, subject), in that order; call it last before committing.
///
/// # Errors
/// [`super::Error::Storage`].
pub async fn append(tenant: &Tenant<'_>, subjects: &[(&str, Uuid)], now: DateTime<Utc>) -> Result<()> {
    let (kinds, ids): (Vec<&str>, Vec<Uuid>) = subjects.iter().copied().unzip();
    Ok(storage::derived::append_changes(tenant, &kinds, &ids, now).await?)
}
