//! How far two people agree who read the same strips.

use lapwatch_domain::acceptance::Reading;
use lapwatch_domain::readers::PairedReadings;
use serde::Deserialize;
use utoipa::ToSchema;

use crate::model::Finding;
use crate::wire::Reader;

/// Most sessions in one question.
const MOST_SESSIONS: usize = 200;
/// Most strips read alike in one entry: far more than anybody reads.
const MOST_STRIPS: u32 = 100_000;

/// Strips that two people read without knowing of each other, in one session or several.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({
    "sessions": [{ "readings": [
        { "first": "sound", "second": "sound", "strips": 21 },
        { "first": "cold", "second": "cold", "strips": 9 },
        { "first": "cold", "second": "sound", "strips": 3 },
        { "first": "hot", "second": "hot", "strips": 6 },
    ] }],
}))]
pub struct ReaderQuestion {
    /// The sessions, 1 to 200, in the order of time.
    #[schema(min_items = 1, max_items = 200)]
    pub sessions: Vec<Session>,
}

/// One session.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(as = ReadingSession)]
pub struct Session {
    /// What both read, an entry for each pair of readings, or for each strip; at most 1000.
    #[schema(max_items = 1000)]
    pub readings: Vec<ReadingPair>,
}

/// Strips on which the two gave these readings.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ReadingPair {
    /// The first reader's: `cold`, `sound`, `hot`, `narrow`, `contaminated`, `unclear` or `not_counted`.
    #[schema(example = "cold")]
    pub first: String,
    /// The second reader's.
    #[schema(example = "sound")]
    pub second: String,
    /// How many strips; default 1.
    #[schema(maximum = 100_000)]
    pub strips: Option<u32>,
}

impl ReaderQuestion {
    /// The sessions as tables.
    ///
    /// # Errors
    /// Every broken rule with its pointer.
    pub fn read(&self) -> Result<Vec<PairedReadings>, Vec<Finding>> {
        let mut reader = Reader::default();
        let count = self.sessions.len();
        let detail = "Send 1 to 200 sessions.";
        reader.require((1..=MOST_SESSIONS).contains(&count), "/sessions", "wrong_count", detail);
        let sessions: Vec<Option<PairedReadings>> = self
            .sessions
            .iter()
            .take(MOST_SESSIONS)
            .enumerate()
            .map(|(index, session)| session.read(&mut reader, &format!("/sessions/{index}/readings")))
            .collect();
        reader.findings.into_result(sessions.into_iter().collect())
    }
}

impl Session {
    fn read(&self, r: &mut Reader, pointer: &str) -> Option<PairedReadings> {
        let fits = self.readings.len() <= 1000;
        r.require(fits, pointer, "wrong_count", "A session has at most 1000 entries.");
        let mut table = PairedReadings::default();
        let mut sound = fits;
        for (index, pair) in self.readings.iter().take(1000).enumerate() {
            let at = format!("{pointer}/{index}");
            let first: Option<Reading> = r.coded(&format!("{at}/first"), &pair.first);
            let second: Option<Reading> = r.coded(&format!("{at}/second"), &pair.second);
            let strips = pair.strips.unwrap_or(1);
            let plausible = strips <= MOST_STRIPS;
            let detail = "At most 100000 strips in one entry.";
            r.require(plausible, &format!("{at}/strips"), "out_of_range", detail);
            match first.zip(second).filter(|_| plausible) {
                Some((first, second)) => table.add(first, second, strips as usize),
                None => sound = false,
            }
        }
        sound.then_some(table)
    }
}
