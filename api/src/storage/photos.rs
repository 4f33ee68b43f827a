//! What is known of photos: whose they are, which bytes are kept, which are on their way.

use chrono::{DateTime, Utc};
use tokio_postgres::Row;
use tokio_postgres::types::ToSql;
use uuid::Uuid;

use super::access::coded;
use super::{Error, Result, Tenant};
use crate::model::{Photo, PhotoContent, PictureFacts, RecordKind, Sha256, Upload};

/// Adds a photo of a record of this kind.
pub async fn insert(tenant: &Tenant<'_>, photo: &Photo, subject: RecordKind) -> Result<()> {
    let params: [&(dyn ToSql + Sync); 8] = [
        &photo.id,
        &photo.subject_id,
        &subject.code(),
        &photo.coupon.map(i16::from),
        &photo.sha256.as_slice(),
        &photo.taken_at,
        &photo.taken_by,
        &photo.caption,
    ];
    tenant.execute(include_str!("photos/insert.sql"), &params).await?;
    Ok(())
}

/// A photo with its bytes' description, once they are kept.
pub type Kept = (Photo, Option<PhotoContent>);

/// One photo, withdrawn or not.
pub async fn photo(tenant: &Tenant<'_>, id: Uuid) -> Result<Option<Kept>> {
    tenant.row(include_str!("photos/photo.sql"), &[&id]).await?.as_ref().map(kept_from).transpose()
}

/// Photos of these records that count, in order of taking.
pub async fn photos(tenant: &Tenant<'_>, subjects: &[Uuid]) -> Result<Vec<Kept>> {
    tenant.rows(include_str!("photos/photos.sql"), &[&subjects]).await?.iter().map(kept_from).collect()
}

/// The records whose photos belong to any of these trials: themselves and, of one that was sent piece by piece, its pieces.
pub async fn subjects_of_trials(tenant: &Tenant<'_>, trials: &[Uuid]) -> Result<Vec<Uuid>> {
    let rows = tenant.rows(include_str!("photos/subjects_of_trials.sql"), &[&trials]).await?;
    Ok(rows.iter().map(|row| row.get("id")).collect())
}

/// Photos, each with its record, that have these bytes and count.
pub async fn told_of(tenant: &Tenant<'_>, sha256: &Sha256) -> Result<Vec<(Uuid, Uuid)>> {
    let rows = tenant.rows(include_str!("photos/told_of.sql"), &[&sha256.as_slice()]).await?;
    Ok(rows.iter().map(|row| (row.get("id"), row.get("subject_id"))).collect())
}

/// Notes that bytes are kept; `false` when they were before.
pub async fn insert_content(tenant: &Tenant<'_>, content: &PhotoContent) -> Result<bool> {
    let params: [&(dyn ToSql + Sync); 6] = [
        &content.sha256.as_slice(),
        &content.facts.form.code(),
        &signed(content.size_bytes)?,
        &i32::try_from(content.facts.width).map_err(beyond)?,
        &i32::try_from(content.facts.height).map_err(beyond)?,
        &content.stored_at,
    ];
    Ok(tenant.execute(include_str!("photos/insert_content.sql"), &params).await? == 1)
}

/// What is known of kept bytes.
pub async fn content(tenant: &Tenant<'_>, sha256: &Sha256) -> Result<Option<PhotoContent>> {
    let row = tenant.row(include_str!("photos/content.sql"), &[&sha256.as_slice()]).await?;
    row.as_ref().map(content_from).transpose()
}

/// Kept bytes that no photo which counts refers to, stored before `until`, the oldest first; at most so many.
pub async fn unclaimed(tenant: &Tenant<'_>, until: DateTime<Utc>, limit: i64) -> Result<Vec<PhotoContent>> {
    let rows = tenant.rows(include_str!("photos/unclaimed.sql"), &[&until, &limit]).await?;
    rows.iter().map(content_from).collect()
}

/// Forgets kept bytes; `false` when they are not there. Their row stays locked, so that nobody is told of them meanwhile.
pub async fn forget_content(tenant: &Tenant<'_>, sha256: &Sha256) -> Result<bool> {
    Ok(tenant.execute(include_str!("photos/forget_content.sql"), &[&sha256.as_slice()]).await? == 1)
}

/// Begins an upload.
pub async fn insert_upload(tenant: &Tenant<'_>, upload: &Upload) -> Result<()> {
    let params: [&(dyn ToSql + Sync); 8] = [
        &upload.id,
        &upload.sha256.as_slice(),
        &signed(upload.size_bytes)?,
        &signed(upload.received_bytes)?,
        &upload.crew_id,
        &upload.begun_at,
        &upload.latest_at,
        &upload.finished_at,
    ];
    tenant.execute(include_str!("photos/insert_upload.sql"), &params).await?;
    Ok(())
}

/// An upload.
pub async fn upload(tenant: &Tenant<'_>, id: Uuid) -> Result<Option<Upload>> {
    tenant.row(include_str!("photos/upload.sql"), &[&id]).await?.as_ref().map(upload_from).transpose()
}

/// An upload that nobody else touches until this transaction ends.
pub async fn lock_upload(tenant: &Tenant<'_>, id: Uuid) -> Result<Option<Upload>> {
    tenant.row(include_str!("photos/lock_upload.sql"), &[&id]).await?.as_ref().map(upload_from).transpose()
}

/// Unfinished uploads whose latest bytes came before `until`, the oldest first; of one crew, or of all; at most so many.
pub async fn unfinished_uploads(
    tenant: &Tenant<'_>,
    crew: Option<Uuid>,
    until: DateTime<Utc>,
    limit: i64,
) -> Result<Vec<Upload>> {
    let rows = tenant.rows(include_str!("photos/unfinished_uploads.sql"), &[&crew, &until, &limit]).await?;
    rows.iter().map(upload_from).collect()
}

/// Adds bytes to an upload that is locked, behind those that have come.
pub async fn add_part(tenant: &Tenant<'_>, upload: &Upload, bytes: &[u8], now: DateTime<Utc>) -> Result<()> {
    let first = signed(upload.received_bytes)?;
    tenant.execute(include_str!("photos/insert_part.sql"), &[&upload.id, &first, &bytes]).await?;
    set_received(tenant, upload.id, upload.received_bytes + bytes.len() as u64, now, None).await
}

/// The bytes that have come.
pub async fn parts(tenant: &Tenant<'_>, upload: Uuid) -> Result<Vec<u8>> {
    let rows = tenant.rows(include_str!("photos/parts.sql"), &[&upload]).await?;
    Ok(rows.iter().flat_map(|row| row.get::<_, &[u8]>("bytes")).copied().collect())
}

/// Drops the parts of an upload: they are kept as a whole, or were not what they should be.
pub async fn drop_parts(tenant: &Tenant<'_>, upload: &Upload, now: DateTime<Utc>, whole: bool) -> Result<()> {
    tenant.execute(include_str!("photos/drop_parts.sql"), &[&upload.id]).await?;
    let received = if whole { upload.size_bytes } else { 0 };
    set_received(tenant, upload.id, received, now, whole.then_some(now)).await
}

async fn set_received(
    tenant: &Tenant<'_>,
    upload: Uuid,
    received: u64,
    now: DateTime<Utc>,
    finished: Option<DateTime<Utc>>,
) -> Result<()> {
    let params: [&(dyn ToSql + Sync); 4] = [&upload, &signed(received)?, &now, &finished];
    tenant.execute(include_str!("photos/set_received.sql"), &params).await?;
    Ok(())
}

/// Forgets an upload with its parts.
pub async fn forget_upload(tenant: &Tenant<'_>, id: Uuid) -> Result<()> {
    tenant.execute(include_str!("photos/forget_upload.sql"), &[&id]).await?;
    Ok(())
}

fn kept_from(row: &Row) -> Result<Kept> {
    let coupon = row.get::<_, Option<i16>>("coupon").map(u8::try_from).transpose();
    let photo = Photo {
        id: row.get("id"),
        subject_id: row.get("subject_id"),
        coupon: coupon.map_err(|_| Error::Corrupt("a coupon's number".into()))?,
        sha256: sha256_from(row)?,
        taken_at: row.get("taken_at"),
        taken_by: row.get("taken_by"),
        caption: row.get("caption"),
    };
    let kept = row.get::<_, Option<&str>>("media_type").is_some();
    Ok((photo, if kept { Some(content_from(row)?) } else { None }))
}

fn content_from(row: &Row) -> Result<PhotoContent> {
    let pixels = |name: &str| {
        u32::try_from(row.get::<_, i32>(name)).map_err(|_| Error::Corrupt("a picture's size".into()))
    };
    Ok(PhotoContent {
        sha256: sha256_from(row)?,
        size_bytes: bytes_from(row, "size_bytes")?,
        facts: PictureFacts {
            form: coded(row, "media_type")?,
            width: pixels("width_px")?,
            height: pixels("height_px")?,
        },
        stored_at: row.get("stored_at"),
    })
}

fn upload_from(row: &Row) -> Result<Upload> {
    Ok(Upload {
        id: row.get("id"),
        sha256: sha256_from(row)?,
        size_bytes: bytes_from(row, "size_bytes")?,
        received_bytes: bytes_from(row, "received_bytes")?,
        crew_id: row.get("crew_id"),
        begun_at: row.get("begun_at"),
        latest_at: row.get("latest_at"),
        finished_at: row.get("finished_at"),
    })
}

fn sha256_from(row: &Row) -> Result<Sha256> {
    row.get::<_, &[u8]>("sha256").try_into().map_err(|_| Error::Corrupt("a digest's length".into()))
}

fn bytes_from(row: &Row, name: &str) -> Result<u64> {
    u64::try_from(row.get::<_, i64>(name)).map_err(|_| Error::Corrupt("a number of bytes".into()))
}

fn signed(bytes: u64) -> Result<i64> {
    i64::try_from(bytes).map_err(beyond)
}

fn beyond(_: std::num::TryFromIntError) -> Error {
    Error::Corrupt("a number that no column holds".into())
}
