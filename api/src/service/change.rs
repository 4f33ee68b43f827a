//! The organization's gap-free change feed, as it is written. Its counter row is the last thing a transaction touches: commits
//! of one organization queue behind it only for their own last statement. `feed` reads it.

use chrono::{DateTime, Utc};
use uuid::Uuid;

use super::{Result, Service, organizations};
use crate::model::ChangeKind;
use crate::storage::{Tenant, changes, configuration};

/// Appends one entry for each (kind, subject), in that order; call it last before committing.
///
/// # Errors
/// [`super::Error::Storage`].
pub async fn append(tenant: &Tenant<'_>, subjects: &[(&str, Uuid)], now: DateTime<Utc>) -> Result<()> {
    let (kinds, ids): (Vec<&str>, Vec<Uuid>) = subjects.iter().copied().unzip();
    // A reader asks for the kinds that it knows: nobody would hear of another.
    debug_assert!(
        kinds.iter().all(|kind| ChangeKind::from_code(kind).is_some()),
        "an unknown kind: {kinds:?}"
    );
    Ok(changes::append(tenant, &kinds, &ids, now).await?)
}

/// Tells of configuration that was recorded for a later time, once that has come. Answers of how much.
///
/// # Errors
/// [`super::Error::Storage`].
pub async fn tell_what_came_into_force(
    service: &Service,
    organization: Uuid,
    now: DateTime<Utc>,
) -> Result<usize> {
    let mut client = service.store.client().await?;
    let tenant = client.tenant(organization).await?;
    let came = configuration::came_into_force(&tenant, now).await?;
    if !came.is_empty() {
        let subjects: Vec<_> = came.iter().map(|(kind, id)| (kind.as_str(), *id)).collect();
        append(&tenant, &subjects, now).await?;
        tenant.commit().await?;
    }
    Ok(came.len())
}

/// Begins another epoch in every organization's feed: what readers know of the numbers given so far counts no more. Answers
/// how many organizations there are.
///
/// # Errors
/// [`super::Error::Storage`].
pub async fn new_epoch(service: &Service) -> Result<usize> {
    let organizations = organizations::all(service).await?;
    let mut client = service.store.client().await?;
    for organization in &organizations {
        let tenant = client.tenant(*organization).await?;
        changes::new_epoch(&tenant).await?;
        tenant.commit().await?;
    }
    Ok(organizations.len())
}
