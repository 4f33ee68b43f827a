//! What is told of photos. Their bytes travel apart.

use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use super::records::RecordForm;
use super::{Reader, Text, digest};
use crate::model::{self, Finding, RecordKind};

/// Most coupons that a trial has.
const MOST_COUPONS: u8 = 60;

/// That a photo belongs to a record. Its bytes are sent apart, before or after (`/v1/photo-contents`, `/v1/uploads`).
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Photo {
    /// Always `photo/1` for this form; needed in envelopes only.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "photo/1")]
    pub schema: Option<String>,
    /// Id, made by the client.
    pub id: Uuid,
    /// The record that it belongs to: a trial, an open trial or a coupon of one, a second reading, a service event, a day plan, a
    /// day event, a production span, a seam check or a decision.
    pub subject_id: Uuid,
    /// Of which coupon of the trial, 1 for the first in its list.
    #[schema(minimum = 1, maximum = 60, example = 3)]
    pub coupon: Option<u8>,
    /// SHA-256 of the photo's bytes, as they were taken, in hexadecimal digits.
    #[schema(example = "9f86d081884c7d659a2feaa0c55ad015a3bf4f1b2b0b822cd15d6c15b0f00a08")]
    pub sha256: String,
    /// When it was taken.
    pub taken_at: DateTime<Utc>,
    /// Who took it.
    #[schema(value_type = Option<Text>)]
    pub taken_by: Option<Text>,
    /// What it shows.
    #[schema(value_type = Option<Text>, example = "Strip 2 peeled along the weld")]
    pub caption: Option<Text>,
}

impl RecordForm for Photo {
    type Record = model::Photo;

    fn read(self, _now: DateTime<Utc>) -> Result<model::Photo, Vec<Finding>> {
        let mut reader = Reader::default();
        reader.schema(self.schema.as_deref(), RecordKind::Photo);
        let other = self.id != self.subject_id;
        reader.require(other, "/subject_id", "names_itself", "A photo belongs to another record.");
        let counted = self.coupon.is_none_or(|coupon| (1..=MOST_COUPONS).contains(&coupon));
        let detail = "Count the coupons of the trial from 1.";
        reader.require(counted, "/coupon", "out_of_range", detail);
        reader.time("/taken_at", self.taken_at);
        let sha256 = digest::read(&self.sha256);
        reader.require(sha256.is_some(), "/sha256", "wrong_form", digest::FORM);
        let photo = sha256.map(|sha256| model::Photo {
            id: self.id,
            subject_id: self.subject_id,
            coupon: self.coupon,
            sha256,
            taken_at: self.taken_at,
            taken_by: self.taken_by.map(|text| text.0),
            caption: self.caption.map(|text| text.0),
        });
        reader.findings.into_result(photo)
    }

    fn show(photo: &model::Photo) -> Self {
        Self {
            schema: None,
            id: photo.id,
            subject_id: photo.subject_id,
            coupon: photo.coupon,
            sha256: digest::show(&photo.sha256),
            taken_at: photo.taken_at,
            taken_by: photo.taken_by.clone().map(Text),
            caption: photo.caption.clone().map(Text),
        }
    }
}
