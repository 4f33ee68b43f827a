//! Two people read the same strips: how far do they agree, and what do they take for what?
//!
//! Everything this crate computes rests on readings, and a reading is a person's judgement. Let two people read the
//! same strips without seeing each other's notes, now and then, and count ([`PairedReadings`]). Agreement alone
//! flatters: where nine of ten strips are sound, two people who say "sound" without looking agree on most of them.
//! Cohen's kappa takes out what chance would give,
//!
//! > κ = (observed − chance) / (1 − chance),
//!
//! 1 when they always agree, 0 when no more often than by chance, below 0 when less ([`Kappa`]). It comes with an
//! interval, which is wide for a few dozen strips; with the largest value that the readers' own shares of each reading
//! allow; reading by reading ([`CategoryAgreement`]); and with the pairs of readings that were confused
//! ([`Confusion`]). Several sessions are pooled session by session ([`pool`]): put into one table, sessions of
//! different mixes of strips would show agreement where there is only the mix. Where several people read the same
//! trials over the months, [`pair_up`] finds every two of them and their sessions.
//!
//! This is not the agreement of a trial with its unit's history; that is in [`carried`](crate::carried).
//!
//! # Why kappa is not weighted here
//!
//! Weighted kappa forgives a confusion of neighbours. Cold, sound and hot are in order of temperature, but
//!
//! - four of the seven readings (narrow, contaminated, unclear, not counted) have no place in that order, and leaving
//!   their strips out would select by what the readers said;
//! - neighbours are not forgivable: a cold strip read as sound is a seam that leaks, and half a mistake only on paper;
//! - weights are a choice, and the number follows the choice.
//!
//! What weights are meant to bring out is shown as it is: the confusions, and among them the strips that one read as
//! cold and the other as hot, which turn a set point the wrong way ([`PairedReadings::opposite`]).

mod kappa;
mod pairs;
mod sessions;
mod table;
#[cfg(test)]
mod tests;

pub use kappa::{Kappa, KappaError};
pub use pairs::{ReaderPair, StripReadings, pair_up};
pub use sessions::{Differences, PooledKappa, pool};
pub use table::{CategoryAgreement, Confusion, PairedReadings};
