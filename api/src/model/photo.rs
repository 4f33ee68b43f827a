//! Photos: what is told of them, and their bytes.

use chrono::{DateTime, Utc};
use lapwatch_domain::coded_enum;
use uuid::Uuid;

/// SHA-256 of a photo's bytes, as they were taken: its address.
pub type Sha256 = [u8; 32];

/// That a photo belongs to a record.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Photo {
    /// Id.
    pub id: Uuid,
    /// The record.
    pub subject_id: Uuid,
    /// Of which coupon of it, counted from 1, when it is a trial.
    pub coupon: Option<u8>,
    /// Its bytes.
    pub sha256: Sha256,
    /// When it was taken.
    pub taken_at: DateTime<Utc>,
    /// Who took it.
    pub taken_by: Option<String>,
    /// What it shows.
    pub caption: Option<String>,
}

coded_enum! {
    /// A form of picture that is kept: those that every browser shows.
    pub enum PictureForm {
        /// JPEG.
        Jpeg = "image/jpeg",
        /// PNG.
        Png = "image/png",
        /// WebP.
        Webp = "image/webp",
    }
}

/// What can be said of a picture without looking at every pixel.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct PictureFacts {
    /// Its form, by its first bytes.
    pub form: PictureForm,
    /// Width, in pixels as they are stored: a phone held upright says beside them how to turn them.
    pub width: u32,
    /// Height, likewise.
    pub height: u32,
}

/// Bytes that are kept.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PhotoContent {
    /// Their digest.
    pub sha256: Sha256,
    /// How many.
    pub size_bytes: u64,
    /// What they are.
    pub facts: PictureFacts,
    /// Since when.
    pub stored_at: DateTime<Utc>,
}

/// Bytes that are on their way, in parts.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Upload {
    /// Id.
    pub id: Uuid,
    /// The digest that they are to have.
    pub sha256: Sha256,
    /// How many there are to be.
    pub size_bytes: u64,
    /// How many have come.
    pub received_bytes: u64,
    /// The crew that the sender acts for.
    pub crew_id: Option<Uuid>,
    /// When it began.
    pub begun_at: DateTime<Utc>,
    /// When the latest of them came.
    pub latest_at: DateTime<Utc>,
    /// When they were whole and kept.
    pub finished_at: Option<DateTime<Utc>>,
}
