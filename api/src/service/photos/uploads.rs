//! Photos that arrive in parts, over a line that breaks.

use bytes::Bytes;
use chrono::{DateTime, TimeDelta, Utc};
use uuid::Uuid;

use super::contents;
use crate::config::PHOTO_LIMIT_BYTES;
use crate::model::{Principal, Sha256, Upload};
use crate::service::records::repeating;
use crate::service::{Error, Result, Service, open, open_to_read};
use crate::storage::{Tenant, photos as store};

/// Begins an upload. When the bytes are kept already there is nothing to send.
///
/// # Errors
/// [`Error::NoPhoto`] when so many bytes are not taken; [`Error::Storage`].
pub async fn begin(
    service: &Service,
    caller: &Principal,
    (sha256, size_bytes): (Sha256, u64),
    now: DateTime<Utc>,
) -> Result<Upload> {
    if size_bytes == 0 || size_bytes > PHOTO_LIMIT_BYTES as u64 {
        return Err(Error::NoPhoto(format!("A photo takes 1 to {PHOTO_LIMIT_BYTES} bytes.")));
    }
    let mut client = service.store.client().await?;
    let tenant = open(&mut client, caller).await?;
    let kept = store::content(&tenant, &sha256).await?.filter(|kept| kept.size_bytes == size_bytes);
    let upload = Upload {
        id: Uuid::new_v4(),
        sha256,
        size_bytes,
        received_bytes: if kept.is_some() { size_bytes } else { 0 },
        crew_id: caller.crew,
        begun_at: now,
        latest_at: now,
        finished_at: kept.map(|_| now),
    };
    store::insert_upload(&tenant, &upload).await?;
    tenant.commit().await?;
    Ok(upload)
}

/// How far an upload has come. One whose bytes are all there, but were not kept because something failed, is finished now.
///
/// # Errors
/// [`Error::NotFound`]; as [`finish_if_whole`].
pub async fn state(service: &Service, caller: &Principal, id: Uuid, now: DateTime<Utc>) -> Result<Upload> {
    let mut client = service.store.client().await?;
    let tenant = open_to_read(&mut client, caller).await?;
    let upload = own(caller, store::upload(&tenant, id).await?)?;
    drop(tenant);
    drop(client);
    finish_if_whole(service, caller, upload, now).await
}

/// Adds bytes behind the `from` that have come; answers how far it has come now.
///
/// # Errors
/// [`Error::NotFound`]; [`Error::WrongOffset`] when others have come; [`Error::NoPhoto`] when they are more than was said;
/// [`Error::Storage`].
pub async fn append(
    service: &Service,
    caller: &Principal,
    (id, from): (Uuid, u64),
    bytes: &[u8],
    now: DateTime<Utc>,
) -> Result<Upload> {
    repeating(async || {
        let mut client = service.store.client().await?;
        let tenant = open(&mut client, caller).await?;
        let upload = locked(&tenant, caller, id).await?;
        if upload.received_bytes != from {
            return Err(Error::WrongOffset(upload.received_bytes));
        }
        let received_bytes = from + bytes.len() as u64;
        if received_bytes > upload.size_bytes {
            let detail = format!("{} bytes were announced, and these are more.", upload.size_bytes);
            return Err(Error::NoPhoto(detail));
        }
        if !bytes.is_empty() {
            store::add_part(&tenant, &upload, bytes, now).await?;
            tenant.commit().await?;
        }
        Ok(Upload { received_bytes, latest_at: now, ..upload })
    })
    .await
}

/// Keeps the photo once all bytes have come. Bytes that turn out to be no such photo are dropped: the upload begins again.
///
/// # Errors
/// As [`contents::keep`].
pub async fn finish_if_whole(
    service: &Service,
    caller: &Principal,
    upload: Upload,
    now: DateTime<Utc>,
) -> Result<Upload> {
    if upload.received_bytes < upload.size_bytes || upload.finished_at.is_some() {
        return Ok(upload);
    }
    let _turn = service.photos.turn().await?;
    let bytes = come(service, caller, upload.id).await?;
    let kept = match contents::keep(service, caller, &upload.sha256, bytes, now).await {
        Err(Error::NoPhoto(why)) => Err(Error::NoPhoto(why)),
        outcome => Ok(outcome?),
    };
    let mut client = service.store.client().await?;
    let tenant = open(&mut client, caller).await?;
    let upload = locked(&tenant, caller, upload.id).await?;
    // Two that saw the last byte come both arrive here: the second finds it done.
    if upload.finished_at.is_none() {
        store::drop_parts(&tenant, &upload, now, kept.is_ok()).await?;
        tenant.commit().await?;
    }
    kept?;
    Ok(Upload { received_bytes: upload.size_bytes, finished_at: Some(now), ..upload })
}

/// The bytes of an upload that have come.
async fn come(service: &Service, caller: &Principal, id: Uuid) -> Result<Bytes> {
    let mut client = service.store.client().await?;
    let tenant = open_to_read(&mut client, caller).await?;
    Ok(Bytes::from(store::parts(&tenant, id).await?))
}

/// Ends an upload whose bytes are not wanted any more.
///
/// # Errors
/// [`Error::NotFound`]; [`Error::Storage`].
pub async fn abandon(service: &Service, caller: &Principal, id: Uuid) -> Result<()> {
    let mut client = service.store.client().await?;
    let tenant = open(&mut client, caller).await?;
    let upload = locked(&tenant, caller, id).await?;
    store::forget_upload(&tenant, upload.id).await?;
    Ok(tenant.commit().await?)
}

/// Unfinished uploads whose latest bytes came at least so many days ago, or as many as they are kept for; the oldest first.
///
/// # Errors
/// [`Error::Storage`].
pub async fn unfinished(
    service: &Service,
    caller: &Principal,
    days: Option<u16>,
    limit: i64,
    now: DateTime<Utc>,
) -> Result<Vec<Upload>> {
    let mut client = service.store.client().await?;
    let tenant = open_to_read(&mut client, caller).await?;
    let age = days.map_or(service.photos.keep, |days| TimeDelta::days(i64::from(days)));
    // What came at this very moment is among those that came no days ago.
    let until = now - age + TimeDelta::microseconds(1);
    Ok(store::unfinished_uploads(&tenant, caller.crew, until, limit).await?)
}

async fn locked(tenant: &Tenant<'_>, caller: &Principal, id: Uuid) -> Result<Upload> {
    own(caller, store::lock_upload(tenant, id).await?)
}

fn own(caller: &Principal, upload: Option<Upload>) -> Result<Upload> {
    upload.filter(|upload| caller.acts_for(upload.crew_id)).ok_or(Error::NotFound("upload"))
}
