//! What two readers said of the same strips.

use std::iter::Sum;

use super::{Kappa, KappaError};
use crate::acceptance::Reading;

/// How many readings there are.
const KINDS: usize = Reading::ALL.len();

/// How often two readers gave which pair of readings.
///
/// ```
/// use lapwatch_domain::acceptance::Reading::{Cold, Hot, Sound};
/// use lapwatch_domain::readers::PairedReadings;
/// let both = [(Cold, Cold), (Cold, Sound), (Sound, Sound), (Sound, Sound), (Hot, Hot), (Hot, Hot)];
/// let pairs: PairedReadings = both.into_iter().collect();
/// let kappa = pairs.kappa()?;
/// assert!((kappa.observed - 5.0 / 6.0).abs() < 1e-12);
/// assert!((kappa.value - 0.75).abs() < 1e-12);
/// let worst = &pairs.confusions()[0];
/// assert_eq!((worst.first, worst.second, worst.strips), (Cold, Sound, 1));
/// # Ok::<(), lapwatch_domain::readers::KappaError>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Hash)]
pub struct PairedReadings {
    /// Rows are the first reader's.
    counts: [[usize; KINDS]; KINDS],
}

/// How far two readers agree about one reading.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CategoryAgreement {
    /// The reading.
    pub reading: Reading,
    /// How many strips the first reader read so.
    pub first: usize,
    /// How many the second.
    pub second: usize,
    /// How many both.
    pub both: usize,
    /// Of the times that either read a strip so, the share in which the other did too: 2·both/(first + second), 0 to 1.
    pub share: f64,
    /// Kappa of this reading against all others taken together.
    pub kappa: Result<Kappa, KappaError>,
}

/// A pair of different readings of the same strips.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Confusion {
    /// What the first reader said.
    pub first: Reading,
    /// What the second reader said.
    pub second: Reading,
    /// Of how many strips.
    pub strips: usize,
}

impl PairedReadings {
    /// Adds so many strips that the first reader read as `first` and the second as `second`.
    pub const fn add(&mut self, first: Reading, second: Reading, strips: usize) {
        self.counts[first as usize][second as usize] += strips;
    }

    /// How many strips the first reader read as `first` and the second as `second`.
    #[must_use]
    pub const fn count(&self, first: Reading, second: Reading) -> usize {
        self.counts[first as usize][second as usize]
    }

    /// How many strips both read.
    #[must_use]
    pub fn strips(&self) -> usize {
        self.counts.iter().flatten().sum()
    }

    /// Agreement beyond chance.
    ///
    /// # Errors
    /// [`KappaError::NoStrips`] when no strip was read by both; [`KappaError::OneReading`] when both gave all of them
    /// one and the same reading.
    pub fn kappa(&self) -> Result<Kappa, KappaError> {
        Kappa::of(&self.counts).ok_or_else(|| self.why_none())
    }

    fn why_none(&self) -> KappaError {
        let used = Reading::ALL.iter().find(|reading| self.count(**reading, **reading) > 0);
        used.map_or(KappaError::NoStrips, |reading| KappaError::OneReading(*reading))
    }

    /// Agreement about each reading that either reader gave, in the order of [`Reading`].
    #[must_use]
    pub fn categories(&self) -> Vec<CategoryAgreement> {
        Reading::ALL.iter().filter_map(|reading| self.category(*reading)).collect()
    }

    fn category(&self, reading: Reading) -> Option<CategoryAgreement> {
        let kind = reading as usize;
        let first: usize = self.counts[kind].iter().sum();
        let second: usize = self.counts.iter().map(|row| row[kind]).sum();
        let both = self.counts[kind][kind];
        let neither = self.strips() + both - first - second;
        let against_the_rest = [[both, first - both], [second - both, neither]];
        (first + second > 0).then(|| CategoryAgreement {
            reading,
            first,
            second,
            both,
            share: 2.0 * both as f64 / (first + second) as f64,
            kappa: Kappa::of(&against_the_rest).ok_or_else(|| self.why_none()),
        })
    }

    /// The pairs of different readings that occurred, the most frequent first, and in the order of [`Reading`] among
    /// equals.
    #[must_use]
    pub fn confusions(&self) -> Vec<Confusion> {
        let pairs =
            Reading::ALL.iter().flat_map(|first| Reading::ALL.iter().map(move |second| (*first, *second)));
        let mut found: Vec<Confusion> = pairs
            .filter(|(first, second)| first != second)
            .map(|(first, second)| Confusion { first, second, strips: self.count(first, second) })
            .filter(|confusion| confusion.strips > 0)
            .collect();
        found.sort_by_key(|confusion| std::cmp::Reverse(confusion.strips));
        found
    }

    /// How many strips one reader read as cold and the other as hot.
    #[must_use]
    pub const fn opposite(&self) -> usize {
        self.count(Reading::Cold, Reading::Hot) + self.count(Reading::Hot, Reading::Cold)
    }
}

/// All strips of several sessions in one table.
impl Sum for PairedReadings {
    fn sum<I: Iterator<Item = Self>>(sessions: I) -> Self {
        sessions.fold(Self::default(), |mut all, session| {
            for (row, added) in all.counts.iter_mut().zip(session.counts) {
                row.iter_mut().zip(added).for_each(|(count, more)| *count += more);
            }
            all
        })
    }
}

impl FromIterator<(Reading, Reading)> for PairedReadings {
    fn from_iter<I: IntoIterator<Item = (Reading, Reading)>>(pairs: I) -> Self {
        let mut all = Self::default();
        pairs.into_iter().for_each(|(first, second)| all.add(first, second, 1));
        all
    }
}
