//! How far people agree who read the same trials' strips.

use lapwatch_domain::readers::{PairedReadings, ReaderPair, pool};
use serde::Serialize;
use utoipa::ToSchema;

use super::calculations::ReaderAnswer;
use crate::service::readings::ReaderName;

/// Two people who read the same strips. Whose name comes first in order is the first of the two.
#[derive(Debug, Serialize, ToSchema)]
pub struct PairAgreement {
    /// The first reader; null where trials do not say who read them.
    #[schema(example = "Reed")]
    pub first: Option<String>,
    /// The second reader.
    #[schema(example = "Sedge")]
    pub second: Option<String>,
    /// How many trials both read.
    #[schema(example = 12)]
    pub trials: usize,
    /// How many strips both read.
    #[schema(example = 171)]
    pub strips: usize,
    /// The months (UTC) in which they did, one for each session of `agreement`.
    #[schema(example = json!(["2026-09", "2026-10"]))]
    pub months: Vec<String>,
    /// How far they agree; null where that is not defined, because both gave every strip one and the same reading.
    pub agreement: Option<ReaderAnswer>,
}

impl From<&ReaderPair<ReaderName, String>> for PairAgreement {
    fn from(pair: &ReaderPair<ReaderName, String>) -> Self {
        let tables: Vec<PairedReadings> = pair.sessions.iter().map(|(_, table)| *table).collect();
        Self {
            first: pair.first.clone(),
            second: pair.second.clone(),
            trials: pair.trials,
            strips: tables.iter().map(PairedReadings::strips).sum(),
            months: pair.sessions.iter().map(|(month, _)| month.clone()).collect(),
            agreement: pool(&tables).ok().map(|pooled| ReaderAnswer::of(&tables, &pooled)),
        }
    }
}
