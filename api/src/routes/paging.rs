//! Pages of lists that are ordered by time and id, the latest first.

use chrono::{DateTime, TimeZone, Utc};
use uuid::Uuid;

use super::Reply;
use crate::problem::{Code, Problem};

/// The page that a query asks for.
#[derive(Debug)]
pub(super) struct Asked {
    /// It begins behind this time and id.
    pub(super) after: Option<(DateTime<Utc>, Uuid)>,
    limit: u16,
}

impl Asked {
    /// The page behind `cursor`, of at most `limit` items, 50 if it does not say.
    pub(super) fn read(limit: Option<u16>, cursor: Option<&str>) -> Reply<Self> {
        let limit = limit.unwrap_or(50);
        if !(1..=200).contains(&limit) {
            return Err(Problem::new(Code::BadRequest, "`limit` lies between 1 and 200."));
        }
        Ok(Self { after: cursor.map(read_cursor).transpose()?, limit })
    }

    /// So many rows are read: one more than asked tells whether there is a next page.
    pub(super) fn rows(&self) -> i64 {
        i64::from(self.limit) + 1
    }

    /// Leaves the page of what was read; answers the cursor of the next.
    pub(super) fn cut<T>(
        &self,
        rows: &mut Vec<T>,
        place: impl Fn(&T) -> (DateTime<Utc>, Uuid),
    ) -> Option<String> {
        let more = rows.len() > usize::from(self.limit);
        rows.truncate(usize::from(self.limit));
        rows.last().filter(|_| more).map(|last| write_cursor(place(last)))
    }
}

fn write_cursor((at, id): (DateTime<Utc>, Uuid)) -> String {
    format!("{}.{}", at.timestamp_micros(), id.simple())
}

fn read_cursor(cursor: &str) -> Reply<(DateTime<Utc>, Uuid)> {
    cursor
        .split_once('.')
        .and_then(|(micros, id)| {
            let at = Utc.timestamp_micros(micros.parse().ok()?).single()?;
            Some((at, Uuid::try_parse(id).ok()?))
        })
        .ok_or_else(|| {
            Problem::new(Code::BadRequest, "`cursor` is not one that this list gave; start without one.")
        })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_cursor_leads_back_to_its_place() {
        let place = (Utc.timestamp_micros(1_764_000_000_123_456).unwrap(), Uuid::from_u128(5));
        assert_eq!(read_cursor(&write_cursor(place)).unwrap(), place);
        assert!(read_cursor("elsewhere").is_err());
    }
}
