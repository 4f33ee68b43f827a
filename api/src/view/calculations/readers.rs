//! How far two readers agree.

use lapwatch_domain::readers::{CategoryAgreement, Confusion, Kappa, PairedReadings, PooledKappa};
use serde::Serialize;
use utoipa::ToSchema;

use crate::view::ratio;

/// Level of the intervals.
const LEVEL: f64 = 0.95;

/// How far two people agree who read the same strips: beyond chance (Cohen's kappa), reading by reading, over time.
#[derive(Debug, Serialize, ToSchema)]
pub struct ReaderAnswer {
    /// Kappa over all sessions that have one, weighted by their strips.
    pub kappa: f64,
    /// Its 95 % interval; null when they agreed on every strip, or on none.
    pub interval: Option<KappaInterval>,
    /// Strips in the sessions that have a kappa.
    pub strips: usize,
    /// Chance that sessions which do not differ look as different as these, 0 to 1; null for fewer than two sessions.
    pub no_difference_chance: Option<f64>,
    /// The sessions, in the order they were sent.
    pub sessions: Vec<SessionAgreement>,
    /// Reading by reading, over all sessions.
    pub readings: Vec<ReadingAgreement>,
    /// What was taken for what, the most frequent first.
    pub confusions: Vec<ReadingConfusion>,
    /// Strips that one read as cold and the other as hot: the mistakes that move a set point the wrong way.
    pub opposite: usize,
    /// The same in plain sentences.
    pub explanation: Vec<String>,
}

/// A 95 % interval of kappa.
#[derive(Debug, Serialize, ToSchema)]
pub struct KappaInterval {
    /// Its lower end.
    pub low: f64,
    /// Its upper end.
    pub high: f64,
}

/// One session.
#[derive(Debug, Serialize, ToSchema)]
pub struct SessionAgreement {
    /// Strips read by both.
    pub strips: usize,
    /// Share that both read alike; null without strips.
    pub observed: Option<f64>,
    /// The share expected by chance.
    pub expected: Option<f64>,
    /// Kappa; null when it is not defined.
    pub kappa: Option<f64>,
    /// Its 95 % interval.
    pub interval: Option<KappaInterval>,
    /// The largest kappa that these two could reach with their own shares of readings.
    pub largest: Option<f64>,
    /// Why there is no kappa.
    pub undefined: Option<&'static str>,
}

/// How far two readers agree about one reading.
#[derive(Debug, Serialize, ToSchema)]
pub struct ReadingAgreement {
    /// The reading.
    #[schema(example = "cold")]
    pub reading: &'static str,
    /// Strips that the first read so.
    pub first: usize,
    /// Strips that the second read so.
    pub second: usize,
    /// Strips that both did.
    pub both: usize,
    /// Of the times that either read a strip so, the share in which the other did too.
    pub share: f64,
    /// Kappa of this reading against all others; null when it is not defined.
    pub kappa: Option<f64>,
}

/// What was taken for what.
#[derive(Debug, Serialize, ToSchema)]
pub struct ReadingConfusion {
    /// The first reader's reading.
    #[schema(example = "cold")]
    pub first: &'static str,
    /// The second reader's.
    #[schema(example = "sound")]
    pub second: &'static str,
    /// Strips.
    pub strips: usize,
}

impl ReaderAnswer {
    /// The answer to a question about these sessions.
    pub fn of(sessions: &[PairedReadings], pooled: &PooledKappa) -> Self {
        let all: PairedReadings = sessions.iter().copied().sum();
        let opposite = all.opposite();
        let mut explanation = vec![agreement(pooled)];
        if pooled.strips < FEW_STRIPS {
            explanation.push("So few strips say little about two readers: read more together.".to_owned());
        }
        explanation.extend(different_habit(&all));
        if opposite > 0 {
            explanation.push(format!(
                "{opposite} of them were cold to one and hot to the other: look at those together before anybody reads on."
            ));
        }
        Self {
            kappa: ratio(pooled.value),
            interval: pooled.interval(LEVEL).map(KappaInterval::of),
            strips: pooled.strips,
            no_difference_chance: pooled.differences.map(|differences| ratio(differences.probability)),
            sessions: sessions
                .iter()
                .zip(&pooled.sessions)
                .map(|(table, kappa)| match kappa {
                    Ok(kappa) => SessionAgreement::of(kappa),
                    Err(error) => SessionAgreement::undefined(table, error.code()),
                })
                .collect(),
            readings: all.categories().iter().map(ReadingAgreement::from).collect(),
            confusions: all.confusions().iter().map(ReadingConfusion::from).collect(),
            opposite,
            explanation,
        }
    }
}

/// Below so many strips a 95 % interval of kappa reaches some .3 to either side, by its standard error where .8 agree and .5
/// would by chance. (The choice is ours.)
const FEW_STRIPS: usize = 30;

fn agreement(pooled: &PooledKappa) -> String {
    let strips =
        if pooled.strips == 1 { "1 strip was".to_owned() } else { format!("{} strips were", pooled.strips) };
    let (size, side) = (pooled.value.abs(), if pooled.value < 0.0 { "less than" } else { "beyond" });
    format!(
        "{strips} read by both. They agree {side} chance by {size:.2} (kappa; 1 is full agreement, 0 is chance)."
    )
}

/// The reading that one of them gives most more often than the other, if any is given more often.
fn different_habit(all: &PairedReadings) -> Option<String> {
    let categories = all.categories();
    let most = categories.iter().max_by_key(|category| category.first.abs_diff(category.second))?;
    (most.first != most.second).then(|| {
        format!("The first read {} as {}, the second {}.", most.first, most.reading.code(), most.second)
    })
}

impl KappaInterval {
    fn of((low, high): (f64, f64)) -> Self {
        Self { low: ratio(low), high: ratio(high) }
    }
}

impl SessionAgreement {
    fn of(kappa: &Kappa) -> Self {
        Self {
            strips: kappa.strips,
            observed: Some(ratio(kappa.observed)),
            expected: Some(ratio(kappa.chance)),
            kappa: Some(ratio(kappa.value)),
            interval: kappa.interval(LEVEL).map(KappaInterval::of),
            largest: Some(ratio(kappa.maximum)),
            undefined: None,
        }
    }

    fn undefined(table: &PairedReadings, why: &'static str) -> Self {
        let strips = table.strips();
        Self {
            strips,
            // All strips were read alike, or there are none: nothing else leaves a kappa undefined.
            observed: (strips > 0).then_some(1.0),
            expected: (strips > 0).then_some(1.0),
            kappa: None,
            interval: None,
            largest: None,
            undefined: Some(why),
        }
    }
}

impl From<&CategoryAgreement> for ReadingAgreement {
    fn from(agreement: &CategoryAgreement) -> Self {
        Self {
            reading: agreement.reading.code(),
            first: agreement.first,
            second: agreement.second,
            both: agreement.both,
            share: ratio(agreement.share),
            kappa: agreement.kappa.ok().map(|kappa| ratio(kappa.value)),
        }
    }
}

impl From<&Confusion> for ReadingConfusion {
    fn from(confusion: &Confusion) -> Self {
        Self { first: confusion.first.code(), second: confusion.second.code(), strips: confusion.strips }
    }
}
