//! What a person does about held items, and which digests a client asks about.

use json_patch::Patch;
use serde::Deserialize;
use utoipa::ToSchema;

use super::{Reader, Text, digest};
use crate::model::Finding;

/// Most digests of one question.
pub const MOST_DIGESTS: usize = 10_000;

/// Acceptance of a held item.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({
    "patch": [{ "op": "replace", "path": "/unit_id", "value": "0197b0d2-7f00-7000-8000-000000000001" }],
    "reason": "The phone had the serial number of the welder beside it.",
}))]
pub struct Release {
    /// A JSON Patch (RFC 6902) that corrects it; absent: as it is.
    #[schema(value_type = Option<Vec<Object>>)]
    pub patch: Option<Patch>,
    /// Why; needed with a correction.
    #[schema(value_type = Option<Text>)]
    pub reason: Option<Text>,
}

impl Release {
    /// The correction and the reason.
    ///
    /// # Errors
    /// Every broken rule with its pointer.
    pub fn read(self) -> Result<(Option<Patch>, Option<String>), Vec<Finding>> {
        let mut reader = Reader::default();
        let detail = "Say why: a correction must be understood years later.";
        reader.require(self.patch.is_none() || self.reason.is_some(), "/reason", "required", detail);
        reader.findings.into_result(Some((self.patch, self.reason.map(|text| text.0))))
    }
}

/// A held item is put aside for good.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Discard {
    /// Why.
    #[schema(value_type = Text, example = "A test of the app.")]
    pub reason: Text,
}

/// Items that a client is about to send.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({ "digests": ["9f86d081884c7d659a2feaa0c55ad015a3bf4f1b2b0b822cd15d6c15b0f00a08"] }))]
pub struct DigestQuestion {
    /// SHA-256 of the bytes of each, in hexadecimal digits; at most 10,000.
    #[schema(max_items = 10000)]
    pub digests: Vec<String>,
}

impl DigestQuestion {
    /// The digests.
    ///
    /// # Errors
    /// Every broken rule with its pointer.
    pub fn read(&self) -> Result<Vec<[u8; 32]>, Vec<Finding>> {
        let mut reader = Reader::default();
        let fits = self.digests.len() <= MOST_DIGESTS;
        reader.require(fits, "/digests", "wrong_count", "Ask about at most 10000 digests at a time.");
        let asked = self.digests.iter().take(MOST_DIGESTS).enumerate();
        let digests: Vec<Option<[u8; 32]>> = asked
            .map(|(index, text)| {
                let read = digest::read(text);
                reader.require(read.is_some(), &format!("/digests/{index}"), "wrong_form", digest::FORM);
                read
            })
            .collect();
        reader.findings.into_result(digests.into_iter().collect())
    }
}
