//! From history entries to series.
use super::*;
/// The unit's series, one per material class, in the order of [`MaterialClass::ALL`].
///
/// `history` and `resets` (service events with effect on heat) may come in any order; entries are taken by time, those of
/// the same time by trial id.
#[must_use]
pub fn unit_series(
    history: &[HistoryEntry<'_>],
    resets: &[DateTime<Utc>],
    quiet: &[Quiet],
    settings: &ChartSettings,
) -> Vec<UnitSeries> {
    todo!()
}
