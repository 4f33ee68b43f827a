//! A fit as a whole.

use chrono::{DateTime, Utc};

use super::{Fades, Spread, Surface, sentences};
use crate::edges::EdgePrior;
use crate::quantity::TemperatureUnit;

/// What a fit was made from, as its maker says. Nothing is calculated with it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct MadeFrom {
    /// How many trials were looked at, whether they told anything or not.
    pub trials: usize,
    /// How many units made them.
    pub units: usize,
    /// When the first of them was performed.
    pub from: DateTime<Utc>,
    /// When the last of them was performed.
    pub to: DateTime<Utc>,
}

/// What a fleet's trials say of the numbers behind bands and charts, with what it was made from.
///
/// ```
/// use chrono::{TimeZone, Utc};
/// use lapwatch_domain::drift::ChartSettings;
/// use lapwatch_domain::edges::EdgePrior;
/// use lapwatch_domain::fleet::{Fades, Fit, MadeFrom, Spread, Surface};
/// use lapwatch_domain::quantity::TemperatureUnit;
///
/// let day = |day| Utc.with_ymd_and_hms(2026, 6, day, 7, 0, 0).unwrap();
/// let fit = Fit {
///     made_from: MadeFrom { trials: 0, units: 0, from: day(1), to: day(30) },
///     spread: Spread::fit([]),
///     surface: Surface::fit(&[], &ChartSettings::default()),
///     fades: Fades::of([]),
/// };
/// assert_eq!(fit.edge_prior(), EdgePrior::default());
/// let sentences = fit.sentences(TemperatureUnit::Celsius);
/// assert_eq!(sentences[0], "From 0 trials of 0 units, 2026-06-01 to 2026-06-30.");
/// assert!(sentences[1].contains("stays at the usual 0.5"));
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Fit {
    /// What it was made from.
    pub made_from: MadeFrom,
    /// The correlation of strips and their scatter.
    pub spread: Spread,
    /// The heat shares.
    pub surface: Surface,
    /// The rates of fades.
    pub fades: Fades,
}

impl Fit {
    /// What an evaluation of a single trial may assume of its strips: [`Spread::edge_prior`].
    #[must_use]
    pub fn edge_prior(&self) -> EdgePrior {
        self.spread.edge_prior()
    }

    /// What it was made from, then one sentence on each number: correlation, scatter, heat share of each class, rate of fades. What it
    /// found, or why the usual value stays.
    #[must_use]
    pub fn sentences(&self, unit: TemperatureUnit) -> Vec<String> {
        let mut all = vec![
            sentences::made_from(&self.made_from),
            sentences::correlation(&self.spread),
            sentences::scatter(&self.spread, unit),
        ];
        if self.surface.classes.is_empty() {
            all.push(sentences::no_class());
        }
        all.extend(self.surface.classes.iter().map(sentences::class));
        all.push(sentences::fades(&self.fades, unit));
        all
    }
}
