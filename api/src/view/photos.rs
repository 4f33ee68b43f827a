//! Photos and their bytes.

use chrono::{DateTime, Utc};
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;

use crate::model;
use crate::storage::photos::Kept;
use crate::wire::digest;
use crate::wire::photo::Photo;
use crate::wire::records::RecordForm;

/// A photo with its bytes.
#[derive(Debug, Serialize, ToSchema)]
pub struct KeptPhoto {
    /// What is told of it.
    pub photo: Photo,
    /// Its bytes; null until they come.
    pub content: Option<PhotoContent>,
}

/// The bytes of a photo, as they are kept.
#[derive(Debug, Serialize, ToSchema)]
pub struct PhotoContent {
    /// Their SHA-256, in hexadecimal digits.
    #[schema(example = "9f86d081884c7d659a2feaa0c55ad015a3bf4f1b2b0b822cd15d6c15b0f00a08")]
    pub sha256: String,
    /// What they are, by their first bytes: `image/jpeg`, `image/png` or `image/webp`.
    #[schema(example = "image/jpeg")]
    pub media_type: &'static str,
    /// How many.
    #[schema(example = 2_415_919)]
    pub size_bytes: u64,
    /// Width, in pixels as they are stored: before the picture is turned upright.
    #[schema(example = 4032)]
    pub width_px: u32,
    /// Height, likewise.
    #[schema(example = 3024)]
    pub height_px: u32,
    /// When they came.
    pub stored_at: DateTime<Utc>,
    /// Where to read them as they were taken.
    #[schema(format = "uri-reference")]
    pub href: String,
    /// Where to read them as they are shown.
    #[schema(format = "uri-reference")]
    pub rendition_href: String,
}

/// An upload that is not finished.
#[derive(Debug, Serialize, ToSchema)]
pub struct Upload {
    /// Id.
    pub id: Uuid,
    /// The SHA-256 that its bytes are to have.
    pub sha256: String,
    /// How many there are to be.
    pub size_bytes: u64,
    /// How many have come.
    pub received_bytes: u64,
    /// The crew that its sender acts for.
    pub crew_id: Option<Uuid>,
    /// When it began.
    pub begun_at: DateTime<Utc>,
    /// When the latest bytes came.
    pub latest_at: DateTime<Utc>,
}

/// Which photos are taken.
#[derive(Debug, Serialize, ToSchema)]
pub struct PhotoLimits {
    /// Most bytes.
    pub size_bytes: usize,
    /// Most pixels.
    pub pixels: u64,
    /// What they may be.
    pub media_types: Vec<&'static str>,
}

/// The bytes of a picture.
#[derive(Debug, ToSchema)]
#[schema(value_type = String, format = Binary)]
pub struct PictureBytes(#[expect(dead_code, reason = "it stands in the contract only")] Vec<u8>);

impl From<&Kept> for KeptPhoto {
    fn from((photo, content): &Kept) -> Self {
        Self { photo: Photo::show(photo), content: content.as_ref().map(PhotoContent::from) }
    }
}

impl From<&model::PhotoContent> for PhotoContent {
    fn from(content: &model::PhotoContent) -> Self {
        let sha256 = digest::show(&content.sha256);
        let href = format!("/v1/photo-contents/{sha256}");
        Self {
            sha256,
            media_type: content.facts.form.code(),
            size_bytes: content.size_bytes,
            width_px: content.facts.width,
            height_px: content.facts.height,
            stored_at: content.stored_at,
            rendition_href: format!("{href}/rendition"),
            href,
        }
    }
}

impl From<&model::Upload> for Upload {
    fn from(upload: &model::Upload) -> Self {
        Self {
            id: upload.id,
            sha256: digest::show(&upload.sha256),
            size_bytes: upload.size_bytes,
            received_bytes: upload.received_bytes,
            crew_id: upload.crew_id,
            begun_at: upload.begun_at,
            latest_at: upload.latest_at,
        }
    }
}
