//! Cursors of the change feed.

use std::fmt;
use std::str::FromStr;

use base64::Engine as _;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use uuid::Uuid;

use crate::model::Place;

/// A place in the change feed of one organization, as callers keep it: opaque, and fit for an address.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Cursor {
    /// The organization.
    pub organization: Uuid,
    /// The place.
    pub place: Place,
}

/// Bytes of a cursor: organization, epoch, number.
const LENGTH: usize = 16 + 16 + 8;

impl fmt::Display for Cursor {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let mut bytes = Vec::with_capacity(LENGTH);
        bytes.extend_from_slice(self.organization.as_bytes());
        bytes.extend_from_slice(self.place.epoch.as_bytes());
        bytes.extend_from_slice(&self.place.seq.to_be_bytes());
        f.write_str(&URL_SAFE_NO_PAD.encode(bytes))
    }
}

/// A text that no feed gave as a cursor.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct NotACursor;

impl FromStr for Cursor {
    type Err = NotACursor;

    fn from_str(text: &str) -> Result<Self, NotACursor> {
        let bytes = URL_SAFE_NO_PAD.decode(text).map_err(|_| NotACursor)?;
        let bytes: [u8; LENGTH] = bytes.try_into().map_err(|_| NotACursor)?;
        let uuid = |from: usize| Uuid::from_slice(&bytes[from..from + 16]).map_err(|_| NotACursor);
        let seq = bytes[32..].try_into().map(i64::from_be_bytes).map_err(|_| NotACursor)?;
        Ok(Self { organization: uuid(0)?, place: Place { epoch: uuid(16)?, seq } })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_cursor_leads_back_to_its_place() {
        for seq in [0, 1, 18_391, i64::MAX] {
            let place = Place { epoch: Uuid::from_u128(7), seq };
            let cursor = Cursor { organization: Uuid::from_u128(5), place };
            assert_eq!(cursor.to_string().parse(), Ok(cursor));
        }
    }

    #[test]
    fn anything_else_is_none() {
        let cursor =
            Cursor { organization: Uuid::max(), place: Place { epoch: Uuid::max(), seq: 3 } }.to_string();
        for text in ["", "7", "now", &cursor[1..], &format!("{cursor}AA"), &format!("{cursor}=")] {
            assert_eq!(text.parse::<Cursor>(), Err(NotACursor), "{text}");
        }
    }
}
