//! Text members: bounded, without control characters.

use serde::de::{Error as _, Unexpected};
use serde::{Deserialize, Deserializer, Serialize};
use utoipa::{PartialSchema, ToSchema};

/// 1 to 500 characters without control characters. PostgreSQL cannot hold NUL, and no screen can show the others.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Text(pub String);

/// Longest text, in characters.
const LONGEST: usize = 500;

impl<'de> Deserialize<'de> for Text {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let text = String::deserialize(deserializer)?;
        let length = text.chars().count();
        if length == 0 || length > LONGEST {
            return Err(D::Error::invalid_length(length, &"a text of 1 to 500 characters"));
        }
        if text.chars().any(|c| c.is_control() && c != '\n' && c != '\t') {
            let expected = "text without control characters such as U+0000; remove them";
            return Err(D::Error::invalid_value(Unexpected::Other("a control character"), &expected));
        }
        Ok(Self(text))
    }
}

impl PartialSchema for Text {
    fn schema() -> utoipa::openapi::RefOr<utoipa::openapi::Schema> {
        utoipa::openapi::ObjectBuilder::new()
            .schema_type(utoipa::openapi::schema::Type::String)
            .description(Some("1 to 500 characters without control characters other than line feed and tab."))
            .min_length(Some(1))
            .max_length(Some(LONGEST))
            .into()
    }
}

impl ToSchema for Text {}
