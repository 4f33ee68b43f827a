//! What another person read of a trial's strips.

use chrono::{DateTime, Utc};
use lapwatch_domain::acceptance::Reading;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use super::records::RecordForm;
use super::{Reader, Text, trial};
use crate::model::{self, Finding, RecordKind};

/// What another person read of a trial's strips, without knowing how they had been read. The trial stands as it was;
/// second readings show how far people agree, and are meant for training.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct SecondReading {
    /// Always `second_reading/1` for this form; needed in envelopes only.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "second_reading/1")]
    pub schema: Option<String>,
    /// Id, made by the client.
    pub id: Uuid,
    /// The trial; it is there already.
    pub trial_id: Uuid,
    /// Who read, by the name that trials give in `read_by`: names are compared letter by letter.
    #[schema(value_type = Text, example = "Reed")]
    pub read_by: Text,
    /// When.
    pub read_at: DateTime<Utc>,
    /// The readings, a list for each coupon of the trial, with an entry for each of its strips: `cold`, `sound`, `hot`,
    /// `narrow`, `contaminated`, `unclear`, `not_counted`, or null for a strip that this person did not read.
    #[schema(min_items = 1, max_items = 60, example = json!([["cold", "cold", "sound"], ["sound", null, "sound"]]))]
    pub coupons: Vec<Vec<Option<String>>>,
    /// Remarks.
    #[schema(value_type = Option<Text>)]
    pub remarks: Option<Text>,
    /// The reading whose place this one takes; nothing is edited in place.
    pub supersedes: Option<Uuid>,
    /// When it was written down; needed with `supersedes`: of several corrections the one written last counts.
    pub recorded_at: Option<DateTime<Utc>>,
}

impl RecordForm for SecondReading {
    type Record = model::SecondReading;

    fn read(self, _now: DateTime<Utc>) -> Result<model::SecondReading, Vec<Finding>> {
        let mut reader = Reader::default();
        reader.schema(self.schema.as_deref(), RecordKind::SecondReading);
        reader.time("/read_at", self.read_at);
        reader.writing(self.id, self.supersedes, self.recorded_at);
        let fits = self.coupons.len() <= trial::MOST_COUPONS
            && self.coupons.iter().all(|coupon| coupon.len() <= trial::MOST_SPECIMENS);
        let detail = "A trial has at most 60 coupons of at most 20 strips.";
        reader.require(fits, "/coupons", "wrong_count", detail);
        let coupons = if fits { read_coupons(&mut reader, &self.coupons) } else { None };
        let read = coupons.iter().flatten().flatten().any(Option::is_some);
        reader.require(
            coupons.is_none() || read,
            "/coupons",
            "required",
            "Send the reading of one strip at least.",
        );
        reader.findings.into_result(coupons.map(|coupons| model::SecondReading {
            id: self.id,
            trial_id: self.trial_id,
            read_by: self.read_by.0,
            read_at: self.read_at,
            coupons,
            remarks: self.remarks.map(|text| text.0),
            supersedes: self.supersedes,
            recorded_at: self.recorded_at,
        }))
    }

    fn show(reading: &model::SecondReading) -> Self {
        let code = |strip: &Option<Reading>| strip.map(|reading| reading.code().to_owned());
        Self {
            schema: None,
            id: reading.id,
            trial_id: reading.trial_id,
            read_by: Text(reading.read_by.clone()),
            read_at: reading.read_at,
            coupons: reading.coupons.iter().map(|coupon| coupon.iter().map(code).collect()).collect(),
            remarks: reading.remarks.clone().map(Text),
            supersedes: reading.supersedes,
            recorded_at: reading.recorded_at,
        }
    }
}

/// The readings; each that is not known is named.
fn read_coupons(reader: &mut Reader, coupons: &[Vec<Option<String>>]) -> Option<Vec<Vec<Option<Reading>>>> {
    let mut strip = |pointer: &str, given: &Option<String>| match given {
        Some(code) => reader.coded(pointer, code).map(Some),
        None => Some(None),
    };
    let coupons: Vec<Vec<Option<Option<Reading>>>> = coupons
        .iter()
        .enumerate()
        .map(|(coupon, strips)| {
            let strips = strips.iter().enumerate();
            strips.map(|(index, given)| strip(&format!("/coupons/{coupon}/{index}"), given)).collect()
        })
        .collect();
    coupons.into_iter().map(|strips| strips.into_iter().collect()).collect()
}
