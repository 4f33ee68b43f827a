//! From numbers and times to places in a drawing, and the ticks of axes.

use chrono::{DateTime, Datelike, Days, NaiveDate, NaiveTime, TimeZone, Utc, Weekday};
use chrono_tz::Tz;

use super::Px;

/// A straight map from one range of numbers to another.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::console) struct Linear {
    from: (f64, f64),
    to: (f64, f64),
}

impl Linear {
    /// Maps `from.0` to `to.0` and `from.1` to `to.1`; `from` must not be empty.
    pub(in crate::console) fn new(from: (f64, f64), to: (f64, f64)) -> Self {
        Self { from, to }
    }

    /// The place of `value`.
    pub(in crate::console) fn place(&self, value: f64) -> Px {
        let share = (value - self.from.0) / (self.from.1 - self.from.0);
        Px(self.to.0 + share * (self.to.1 - self.to.0))
    }

    /// The place of `value`, held inside the range.
    pub(in crate::console) fn held(&self, value: f64) -> Px {
        let (low, high) = if self.from.0 < self.from.1 { self.from } else { (self.from.1, self.from.0) };
        self.place(value.clamp(low, high))
    }

    /// Whether `value` lies inside the range.
    pub(in crate::console) fn has(&self, value: f64) -> bool {
        (value - self.from.0) * (value - self.from.1) <= 0.0
    }

    /// Round numbers inside the range, about `count` of them.
    pub(in crate::console) fn ticks(&self, count: f64) -> Vec<f64> {
        let (low, high) = if self.from.0 < self.from.1 { self.from } else { (self.from.1, self.from.0) };
        let rough = (high - low) / count;
        let magnitude = 10_f64.powf(rough.log10().floor());
        let step = [1.0, 2.0, 5.0, 10.0]
            .into_iter()
            .map(|factor| factor * magnitude)
            .find(|step| *step >= rough)
            .unwrap_or(magnitude * 10.0);
        let mut ticks = Vec::new();
        let mut tick = (low / step).ceil() * step;
        while tick <= high {
            ticks.push(tick);
            tick += step;
        }
        ticks
    }
}

/// A horizontal axis of time.
#[derive(Debug, Clone, Copy)]
pub(super) struct TimeAxis {
    from: DateTime<Utc>,
    to: DateTime<Utc>,
    scale: Linear,
}

/// A date on the axis.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct DateTick {
    /// Where.
    pub(super) x: Px,
    /// The date as people write it.
    pub(super) label: String,
}

impl TimeAxis {
    /// The axis from one instant to a later one over places `left` to `right`.
    pub(super) fn new(from: DateTime<Utc>, to: DateTime<Utc>, left: f64, right: f64) -> Self {
        let length_s = seconds(from, to).max(1.0);
        Self { from, to, scale: Linear::new((0.0, length_s), (left, right)) }
    }

    /// The place of an instant.
    pub(super) fn place(&self, at: DateTime<Utc>) -> Px {
        self.scale.place(seconds(self.from, at))
    }

    /// The place of an instant, held inside the axis.
    pub(super) fn held(&self, at: DateTime<Utc>) -> Px {
        self.scale.held(seconds(self.from, at))
    }

    /// Whether an instant lies on the axis.
    pub(super) fn has(&self, at: DateTime<Utc>) -> bool {
        (self.from..=self.to).contains(&at)
    }

    /// Local midnights worth a tick: of months, of Mondays, or of days, by the axis' length.
    pub(super) fn ticks(&self, zone: Tz) -> Vec<DateTick> {
        let days = (self.to - self.from).num_days();
        let mut date = self.from.with_timezone(&zone).date_naive();
        let last = self.to.with_timezone(&zone).date_naive();
        let mut ticks: Vec<DateTick> = Vec::new();
        let mut year = None;
        while date <= last {
            let at = midnight(zone, date);
            let wanted = match days {
                ..=12 => true,
                13..=110 => date.weekday() == Weekday::Mon,
                111..=800 => date.day() == 1,
                _ => date.day() == 1 && date.month0().is_multiple_of(3),
            };
            if wanted && self.has(at) {
                let monthly = days > 110;
                let label = match (monthly, year == Some(date.year())) {
                    (true, true) => date.format("%b").to_string(),
                    (true, false) => date.format("%b %Y").to_string(),
                    (false, _) => date.format("%-d %b").to_string(),
                };
                year = Some(date.year());
                ticks.push(DateTick { x: self.place(at), label });
            }
            let Some(next) = date.checked_add_days(Days::new(1)) else { break };
            date = next;
        }
        ticks
    }
}

/// Where a local day begins; in a zone that skips midnight, an hour later.
fn midnight(zone: Tz, date: NaiveDate) -> DateTime<Utc> {
    let start = date.and_time(NaiveTime::MIN);
    let local = zone.from_local_datetime(&start).earliest();
    local.map_or_else(|| start.and_utc(), |local| local.with_timezone(&Utc))
}

fn seconds(from: DateTime<Utc>, to: DateTime<Utc>) -> f64 {
    #[expect(clippy::cast_precision_loss, reason = "a chart spans years, not the age of the universe")]
    let seconds = (to - from).num_seconds() as f64;
    seconds
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ticks_are_round_and_inside() {
        let axis = Linear::new((383.0, 561.0), (300.0, 0.0));
        assert_eq!(axis.ticks(6.0), [400.0, 450.0, 500.0, 550.0]);
        assert_eq!(axis.place(383.0), Px(300.0));
        assert_eq!(axis.held(900.0), Px(0.0));
    }

    #[test]
    fn dates_are_ticked_by_month_over_a_year_and_by_week_over_a_season() {
        let at = |month, day| Utc.with_ymd_and_hms(2026, month, day, 12, 0, 0).unwrap();
        let zone = chrono_tz::America::Chicago;
        let labels = |from, to| -> Vec<String> {
            TimeAxis::new(from, to, 0.0, 900.0).ticks(zone).into_iter().map(|tick| tick.label).collect()
        };
        assert_eq!(labels(at(1, 20), at(6, 20)), ["Feb 2026", "Mar", "Apr", "May", "Jun"]);
        assert_eq!(labels(at(11, 1), at(11, 25)), ["2 Nov", "9 Nov", "16 Nov", "23 Nov"]);
        assert_eq!(labels(at(11, 23), at(11, 25)), ["24 Nov", "25 Nov"]);
    }

    #[test]
    fn a_tick_stands_at_the_sites_midnight() {
        let at = |hour| Utc.with_ymd_and_hms(2026, 11, 24, hour, 0, 0).unwrap();
        let axis = TimeAxis::new(at(0), at(12), 0.0, 720.0);
        let ticks = axis.ticks(chrono_tz::America::Chicago);
        assert_eq!(ticks, [DateTick { x: Px(360.0), label: "24 Nov".into() }]);
    }
}
