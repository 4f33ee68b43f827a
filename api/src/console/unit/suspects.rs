//! Seams to look at, those together that are suspect for one reason.

use crate::console::show::Local;
use crate::console::words;
use crate::service::trials::Suspect;

/// Spans that are suspect for one reason.
#[derive(Debug)]
pub(in crate::console) struct SuspectGroup {
    /// Why, and what to probe and cut.
    pub(in crate::console) sentence: String,
    /// How soon.
    pub(in crate::console) urgency: &'static str,
    /// Address of the trial that gives the reason.
    pub(in crate::console) evidence: String,
    /// Address of the last good trial before, if there is one.
    pub(in crate::console) last_good: Option<String>,
    /// Where and when it was welded.
    pub(in crate::console) spans: Vec<(String, String)>,
}

/// The spans in the order given, neighbours together that share reason, urgency and evidence.
pub(in crate::console) fn suspect_groups(suspects: &[Suspect], local: Local) -> Vec<SuspectGroup> {
    let key = |suspect: &Suspect| {
        let span = &suspect.span;
        (span.sentence.clone(), span.urgency, span.evidence, span.last_good)
    };
    suspects
        .chunk_by(|a, b| key(a) == key(b))
        .map(|suspects| {
            let (sentence, urgency, evidence, last_good) = key(&suspects[0]);
            SuspectGroup {
                sentence,
                urgency: words::urgency(urgency),
                evidence: format!("/trials/{evidence}"),
                last_good: last_good.map(|trial| format!("/trials/{trial}")),
                spans: suspects.iter().map(|suspect| span(suspect, local)).collect(),
            }
        })
        .collect()
}

fn span(suspect: &Suspect, local: Local) -> (String, String) {
    let place = if suspect.place.is_empty() { "Place not recorded" } else { &suspect.place };
    (place.to_owned(), local.range(suspect.span.from, suspect.span.to))
}
