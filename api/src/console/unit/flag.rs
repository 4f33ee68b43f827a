//! Flags in words.

use lapwatch_domain::drift::causes::CauseRanking;
use lapwatch_domain::standing::SeriesKey;

use crate::console::show::{Local, When};
use crate::console::words;
use crate::storage::derived::Flag;

/// A flag in one line.
#[derive(Debug)]
pub(in crate::console) struct FlagLine {
    /// What it is.
    pub(in crate::console) kind: &'static str,
    /// What it says.
    pub(in crate::console) sentence: String,
}

/// A flag with everything that is known of it.
#[derive(Debug)]
pub(super) struct FlagCard {
    pub(super) line: FlagLine,
    pub(super) about: Option<String>,
    pub(super) opened: When,
    pub(super) trial: String,
    pub(super) state: &'static str,
    pub(super) onset: Option<String>,
    /// Not repeated when the flag after has the same.
    pub(super) causes: Option<Causes>,
}

/// What may have caused a drift.
#[derive(Debug, PartialEq)]
pub(super) struct Causes {
    /// Only when one cause stands out; else the list says it all.
    pub(super) sentence: Option<String>,
    pub(super) ranked: Vec<RankedCause>,
    pub(super) tell_apart: Vec<&'static str>,
}

/// A cause with how well it fits.
#[derive(Debug, PartialEq)]
pub(super) struct RankedCause {
    pub(super) cause: &'static str,
    pub(super) fit: String,
}

/// All flags; causes that two neighbours share, as both edges of one drift do, are told with the last of them.
pub(super) fn cards(flags: &[&Flag], local: Local) -> Vec<FlagCard> {
    let mut cards: Vec<FlagCard> = flags.iter().map(|flag| FlagCard::of(flag, local)).collect();
    for index in 1..cards.len() {
        if cards[index - 1].causes == cards[index].causes {
            cards[index - 1].causes = None;
        }
    }
    cards
}

impl FlagCard {
    pub(super) fn of(flag: &Flag, local: Local) -> Self {
        Self {
            line: FlagLine { kind: words::flag_kind(flag.kind), sentence: flag.sentence.clone() },
            about: flag.series.as_deref().and_then(about),
            opened: local.time(flag.opened_at),
            trial: format!("/trials/{}", flag.first_trial_id),
            state: words::flag_state(flag.state),
            onset: flag.onset.map(|(first, last)| onset(local.day(first).text, local.day(last).text)),
            causes: flag.causes.as_ref().filter(|causes| !causes.ranked.is_empty()).map(Causes::of),
        }
    }
}

fn onset(first: String, last: String) -> String {
    if first == last {
        format!("It began about {first}.")
    } else {
        format!("It began between {first} and {last}.")
    }
}

/// The series in words; a flag on the unit as such needs none.
fn about(series: &str) -> Option<String> {
    match SeriesKey::from_code(series)? {
        SeriesKey::Unit => None,
        SeriesKey::Channel(channel) => Some(words::channel(channel).to_owned()),
        SeriesKey::Edge(class, edge) => {
            Some(format!("{}, {}", words::material_class(class), words::edge(edge)))
        }
    }
}

impl Causes {
    fn of(ranking: &CauseRanking) -> Self {
        Self {
            sentence: ranking.named.map(|_| ranking.sentence.clone()),
            ranked: ranking
                .ranked
                .iter()
                .map(|ranked| RankedCause { cause: words::cause(ranked.cause), fit: fit(ranked.ln_behind) })
                .collect(),
            tell_apart: ranking.tell_apart.iter().map(|needed| words::measurement(*needed)).collect(),
        }
    }
}

/// How well a cause fits beside the best, from the difference in ln likelihood.
fn fit(ln_behind: f64) -> String {
    let times = ln_behind.abs().exp();
    match times {
        ..1.05 => "fits best".to_owned(),
        ..1.5 => "fits about as well".to_owned(),
        ..10.0 => format!("fits {times:.1} times less well"),
        ..1000.0 => format!("fits {times:.0} times less well"),
        _ => "hardly fits".to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_fit_of_a_cause_is_told_in_words() {
        let words: Vec<String> = [0.0, -0.3, -1.2, -4.0, -30.0].map(fit).to_vec();
        let expected = [
            "fits best",
            "fits about as well",
            "fits 3.3 times less well",
            "fits 55 times less well",
            "hardly fits",
        ];
        assert_eq!(words, expected);
    }

    #[test]
    fn a_series_is_named_in_words() {
        assert_eq!(about("kee.upper").as_deref(), Some("KEE/PVC blend, upper edge"));
        assert_eq!(about("unit"), None);
    }
}
