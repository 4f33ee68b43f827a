//! Local days and times in a zone that changes its clocks.

use chrono::{DateTime, Duration, LocalResult, NaiveDate, NaiveDateTime, NaiveTime, TimeZone, Utc};
use chrono_tz::Tz;

/// The instant at which the clocks of `zone` show `local`.
///
/// When clocks go back and show it twice, the first of the two. When they go forward and never show it, the instant
/// at which they jump: nothing that is due then is due a whole hour late.
#[must_use]
pub fn local_instant(local: NaiveDateTime, zone: Tz) -> DateTime<Utc> {
    match zone.from_local_datetime(&local) {
        LocalResult::Single(instant) | LocalResult::Ambiguous(instant, _) => instant.with_timezone(&Utc),
        LocalResult::None => end_of_gap(local, zone),
    }
}

/// The instant at which the local day begins: the first at which the zone's calendar shows it.
#[must_use]
pub fn local_day_start(day: NaiveDate, zone: Tz) -> DateTime<Utc> {
    local_instant(day.and_time(NaiveTime::MIN), zone)
}

/// The first instant after the gap that swallows `local`. Gaps are whole minutes today and at most a day long (a zone
/// that crosses the date line skips one).
fn end_of_gap(local: NaiveDateTime, zone: Tz) -> DateTime<Utc> {
    (1..=2 * 24 * 60)
        .filter_map(|minutes| zone.from_local_datetime(&(local + Duration::minutes(minutes))).earliest())
        .next()
        .map_or_else(|| Utc.from_utc_datetime(&local), |instant| instant.with_timezone(&Utc))
}
