//! Who read the same strips: from readings of trials to tables of two readers.

use std::collections::BTreeMap;

use super::PairedReadings;
use crate::acceptance::Reading;

/// What one person read of a trial's strips.
///
/// `R` names a reader, and is ordered; `P` is the period that the reading belongs to, such as a month.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StripReadings<R, P> {
    /// Who read.
    pub reader: R,
    /// When.
    pub period: P,
    /// The readings, in the order of the strips; `None` for a strip that this person did not read.
    pub strips: Vec<Option<Reading>>,
}

/// Two readers with what both read, period by period.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ReaderPair<R, P> {
    /// The reader whose name comes first in order: so a pair is one, whoever of them read a trial first.
    pub first: R,
    /// The other.
    pub second: R,
    /// How many trials both read.
    pub trials: usize,
    /// Their tables, in the order of the periods: the sessions that [`pool`](super::pool) takes.
    pub sessions: Vec<(P, PairedReadings)>,
}

/// Every two people who read strips of the same trials, in the order of their names.
///
/// Each of `trials` holds all readings of one trial's strips, in the order they were made. Who read it again counts with
/// the last reading; a pair's trial belongs to the later of its two periods. Strips that either of the two did not
/// read are left out; a trial of which they have no strip in common does not count.
///
/// ```
/// use lapwatch_domain::acceptance::Reading::{Cold, Sound};
/// use lapwatch_domain::readers::{StripReadings, pair_up};
/// let by = |reader, period, strips: [Option<_>; 3]| StripReadings { reader, period, strips: strips.to_vec() };
/// let trial = vec![
///     by("Sedge", 5, [Some(Cold), Some(Sound), Some(Sound)]),
///     by("Reed", 6, [Some(Cold), Some(Cold), None]),
/// ];
/// let pairs = pair_up([trial]);
/// assert_eq!((pairs[0].first, pairs[0].second, pairs[0].trials), ("Reed", "Sedge", 1));
/// let (month, table) = pairs[0].sessions[0];
/// assert_eq!((month, table.strips(), table.count(Cold, Sound)), (6, 2, 1));
/// ```
#[must_use]
pub fn pair_up<R: Ord + Clone, P: Ord + Clone>(
    trials: impl IntoIterator<Item = Vec<StripReadings<R, P>>>,
) -> Vec<ReaderPair<R, P>> {
    let mut pairs: BTreeMap<(R, R), (usize, BTreeMap<P, PairedReadings>)> = BTreeMap::new();
    for readings in trials {
        // In the order of names, each with the last reading.
        let last: BTreeMap<R, StripReadings<R, P>> =
            readings.into_iter().map(|reading| (reading.reader.clone(), reading)).collect();
        let last: Vec<StripReadings<R, P>> = last.into_values().collect();
        for (index, first) in last.iter().enumerate() {
            for second in &last[index + 1..] {
                let table = in_common(first, second);
                if table.strips() == 0 {
                    continue;
                }
                let (count, sessions) =
                    pairs.entry((first.reader.clone(), second.reader.clone())).or_default();
                *count += 1;
                let session = sessions.entry(first.period.clone().max(second.period.clone())).or_default();
                *session = [*session, table].into_iter().sum();
            }
        }
    }
    pairs
        .into_iter()
        .map(|((first, second), (trials, sessions))| ReaderPair {
            first,
            second,
            trials,
            sessions: sessions.into_iter().collect(),
        })
        .collect()
}

fn in_common<R, P>(first: &StripReadings<R, P>, second: &StripReadings<R, P>) -> PairedReadings {
    first.strips.iter().zip(&second.strips).filter_map(|(first, second)| first.zip(*second)).collect()
}
