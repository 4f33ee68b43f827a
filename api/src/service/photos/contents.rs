//! The bytes of photos: taken in once, given back as they were, or as they are shown.

use bytes::Bytes;
use chrono::{DateTime, TimeDelta, Utc};
use uuid::Uuid;

use super::{SubjectSight, picture};
use crate::auth::digest;
use crate::model::{PhotoContent, Principal, Sha256};
use crate::service::records::repeating;
use crate::service::{Error, Result, Service, change, open, open_to_read};
use crate::storage::{Copy, photos as store};

/// Keeps the bytes of a photo; answers what is kept, and whether it was not before. Who waits for them is told.
///
/// # Errors
/// [`Error::NoPhoto`] when they are not the promised ones or no photo that is taken; [`Error::Storage`].
pub async fn keep(
    service: &Service,
    caller: &Principal,
    sha256: &Sha256,
    bytes: Bytes,
    now: DateTime<Utc>,
) -> Result<(PhotoContent, bool)> {
    if digest(&bytes) != *sha256 {
        let detail =
            "Their SHA-256 is another than the address says. Was something lost on the way? Send them again.";
        return Err(Error::NoPhoto(detail.to_owned()));
    }
    let facts = picture::facts(&bytes)?;
    let content = PhotoContent { sha256: *sha256, size_bytes: bytes.len() as u64, facts, stored_at: now };
    repeating(async || {
        let mut client = service.store.client().await?;
        let tenant = open(&mut client, caller).await?;
        // Whoever sends or throws away the same bytes waits here until this is done.
        if !store::insert_content(&tenant, &content).await? {
            let first = store::content(&tenant, sha256).await?;
            let first = first.ok_or_else(|| Error::Internal("kept bytes are not there".to_owned()))?;
            return Ok((first, false));
        }
        service.photos.store.put(caller.organization, sha256, Copy::Original, bytes.clone()).await?;
        let waiting = store::told_of(&tenant, sha256).await?;
        let entries: Vec<(&str, Uuid)> = waiting.iter().map(|(photo, _)| ("photo", *photo)).collect();
        if !entries.is_empty() {
            change::append(&tenant, &entries, now).await?;
        }
        tenant.commit().await?;
        Ok((content.clone(), true))
    })
    .await
}

/// What is known of kept bytes that the caller may see. A caller that acts for one crew sees those of its records' photos.
///
/// # Errors
/// [`Error::NotFound`]; [`Error::Storage`].
pub async fn describe(
    service: &Service,
    caller: &Principal,
    sha256: &Sha256,
    now: DateTime<Utc>,
) -> Result<PhotoContent> {
    let mut client = service.store.client().await?;
    let tenant = open_to_read(&mut client, caller).await?;
    let content = store::content(&tenant, sha256).await?.ok_or(Error::NotFound("photo"))?;
    if caller.crew.is_none() {
        return Ok(content);
    }
    let mut sight = SubjectSight::new(&tenant, caller, now);
    for (_, subject) in store::told_of(&tenant, sha256).await? {
        if sight.includes(subject).await? {
            return Ok(content);
        }
    }
    Err(Error::NotFound("photo"))
}

/// The bytes of a photo, as they were taken: with all that the camera wrote beside the picture.
///
/// # Errors
/// As [`describe`].
pub async fn original(
    service: &Service,
    caller: &Principal,
    sha256: &Sha256,
    now: DateTime<Utc>,
) -> Result<(PhotoContent, Bytes)> {
    let content = describe(service, caller, sha256, now).await?;
    Ok((content, read(service, caller, sha256).await?))
}

/// A photo as it is shown: see [`picture::rendition`]. Made when it is asked for first, and kept.
///
/// # Errors
/// As [`describe`]; [`Error::PhotoUnreadable`].
pub async fn rendition(
    service: &Service,
    caller: &Principal,
    sha256: &Sha256,
    now: DateTime<Utc>,
) -> Result<Bytes> {
    describe(service, caller, sha256, now).await?;
    let (photos, organization) = (&service.photos, caller.organization);
    if let Some(made) = photos.store.get(organization, sha256, Copy::Rendition).await? {
        return Ok(made);
    }
    let _look = photos.look().await?;
    let original = read(service, caller, sha256).await?;
    let made = tokio::task::spawn_blocking(move || picture::rendition(&original));
    let made = made.await.map_err(|error| Error::Internal(format!("making a rendition: {error}")))??;
    photos.store.put(organization, sha256, Copy::Rendition, made.clone()).await?;
    Ok(made)
}

async fn read(service: &Service, caller: &Principal, sha256: &Sha256) -> Result<Bytes> {
    let found = service.photos.store.get(caller.organization, sha256, Copy::Original).await?;
    found.ok_or_else(|| Error::Internal("the bytes of a photo are gone from their place".to_owned()))
}

/// Kept bytes that no record refers to, stored at least so many days ago, or as many as they are kept for; the oldest first.
///
/// # Errors
/// [`Error::Storage`].
pub async fn unclaimed(
    service: &Service,
    caller: &Principal,
    days: Option<u16>,
    limit: i64,
    now: DateTime<Utc>,
) -> Result<Vec<PhotoContent>> {
    let mut client = service.store.client().await?;
    let tenant = open_to_read(&mut client, caller).await?;
    let age = days.map_or(service.photos.keep, |days| TimeDelta::days(i64::from(days)));
    Ok(store::unclaimed(&tenant, now - age, limit).await?)
}

/// Throws away bytes that no record has referred to for as long as they are kept.
///
/// # Errors
/// [`Error::NotFound`]; [`Error::StillKept`]; [`Error::Storage`].
pub async fn discard(
    service: &Service,
    caller: &Principal,
    sha256: &Sha256,
    now: DateTime<Utc>,
) -> Result<()> {
    let mut client = service.store.client().await?;
    let tenant = open(&mut client, caller).await?;
    let content = store::content(&tenant, sha256).await?.ok_or(Error::NotFound("photo"))?;
    let old = content.stored_at <= now - service.photos.keep;
    if !store::forget_content(&tenant, sha256).await? {
        return Err(Error::NotFound("photo"));
    }
    // Looked at only now: a record that comes meanwhile finds the bytes gone, and asks for them again.
    if !store::told_of(&tenant, sha256).await?.is_empty() {
        return Err(Error::StillKept("A record refers to it. Withdraw that first.".to_owned()));
    }
    if !old {
        let days = service.photos.keep.num_days();
        return Err(Error::StillKept(format!(
            "A record that refers to it may be on a phone that is offline: it is kept for {days} days."
        )));
    }
    for copy in [Copy::Rendition, Copy::Original] {
        service.photos.store.delete(caller.organization, sha256, copy).await?;
    }
    Ok(tenant.commit().await?)
}
