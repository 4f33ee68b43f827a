//! Numbers and times as people read them: on the crew's scales, in the site's time zone.

use std::fmt;

use askama::filters::HtmlSafe;
use chrono::{DateTime, Datelike, NaiveDate, SecondsFormat, Utc};
use chrono_tz::Tz;
use lapwatch_domain::quantity::{
    Quantity, Speed, SpeedUnit, Temperature, TemperatureDifference, TemperatureUnit,
};

/// Between a number and its unit: no line break.
const JOIN: char = '\u{a0}';

/// The scales a crew works on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Scale {
    /// Of temperatures.
    pub(super) temperature: TemperatureUnit,
    /// Of speeds.
    pub(super) speed: SpeedUnit,
}

impl Default for Scale {
    fn default() -> Self {
        Self { temperature: TemperatureUnit::Celsius, speed: SpeedUnit::MetrePerMinute }
    }
}

impl Scale {
    /// How the temperature unit is written.
    pub(super) fn symbol(self) -> &'static str {
        self.temperature.symbol()
    }

    /// A temperature's number.
    pub(super) fn value(self, temperature: Temperature) -> f64 {
        temperature.value_in(self.temperature)
    }

    /// A difference's number.
    pub(super) fn difference_value(self, difference: TemperatureDifference) -> f64 {
        difference.value_in(self.temperature.difference_unit())
    }

    /// A temperature to the whole degree: `455 °C`.
    pub(super) fn temperature(self, temperature: Temperature) -> String {
        format!("{}{JOIN}{}", whole(self.value(temperature)), self.symbol())
    }

    /// A difference to the whole degree, with its sign only if it is negative.
    pub(super) fn difference(self, difference: TemperatureDifference) -> String {
        format!("{}{JOIN}{}", whole(self.difference_value(difference)), self.symbol())
    }

    /// A difference to the whole degree, always with its sign: `+21 °C`.
    pub(super) fn signed(self, difference: TemperatureDifference) -> String {
        let value = whole(self.difference_value(difference));
        let sign = if value.starts_with('−') || value == "0" { "" } else { "+" };
        format!("{sign}{value}{JOIN}{}", self.symbol())
    }

    /// A speed: `3.0 m/min`.
    pub(super) fn speed(self, speed: Speed) -> String {
        let unit = match self.speed {
            SpeedUnit::MetrePerMinute => "m/min",
            SpeedUnit::FootPerMinute => "ft/min",
        };
        format!("{:.1}{JOIN}{unit}", speed.value_in(self.speed))
    }
}

/// A whole number with a true minus sign and without a minus before zero.
pub(super) fn whole(value: f64) -> String {
    let rounded = value.round();
    if rounded < 0.0 { format!("−{:.0}", -rounded) } else { format!("{:.0}", rounded.abs()) }
}

/// Wall-clock time at a site.
#[derive(Debug, Clone, Copy)]
pub(super) struct Local {
    /// The site's zone.
    pub(super) zone: Tz,
    /// The present.
    pub(super) now: DateTime<Utc>,
}

impl Local {
    /// A day and time of day with the zone: `today 07:12 CST`, `Mon 23 Nov 07:12 CST`.
    pub(super) fn time(&self, at: DateTime<Utc>) -> When {
        let local = at.with_timezone(&self.zone);
        let text = format!(
            "{} {}{JOIN}{}",
            self.day_words(local.date_naive()),
            local.format("%H:%M"),
            self.abbreviation(at)
        );
        When { stamp: at.to_rfc3339_opts(SecondsFormat::Secs, true), text }
    }

    /// The day alone: `today`, `Mon 23 Nov`.
    pub(super) fn day(&self, at: DateTime<Utc>) -> When {
        let date = at.with_timezone(&self.zone).date_naive();
        When { stamp: date.to_string(), text: self.day_words(date) }
    }

    /// The local date.
    pub(super) fn date(&self, at: DateTime<Utc>) -> NaiveDate {
        at.with_timezone(&self.zone).date_naive()
    }

    /// Two instants as a range: `today 07:12–11:40 CST`, or two full times when they are on different days.
    pub(super) fn range(&self, from: DateTime<Utc>, to: DateTime<Utc>) -> String {
        let end = self.time(to).text;
        if self.date(from) == self.date(to) {
            let start = from.with_timezone(&self.zone);
            let day = self.day_words(start.date_naive());
            let clock = end.strip_prefix(&day).unwrap_or(&end).trim_start();
            format!("{day} {}–{clock}", start.format("%H:%M"))
        } else {
            format!("{} to {end}", self.time(from).text)
        }
    }

    fn day_words(&self, date: NaiveDate) -> String {
        let today = self.date(self.now);
        match (date - today).num_days() {
            0 => "today".into(),
            -1 => "yesterday".into(),
            1 => "tomorrow".into(),
            _ if date.year() == today.year() => date.format("%a %-d %b").to_string(),
            _ => date.format("%a %-d %b %Y").to_string(),
        }
    }

    /// The zone's abbreviation; zones without one have their offset.
    fn abbreviation(&self, at: DateTime<Utc>) -> String {
        let text = at.with_timezone(&self.zone).format("%Z").to_string();
        if text.starts_with(['+', '-']) { format!("UTC{}", text.replace('-', "−")) } else { text }
    }
}

/// A time as people read it, with the form that programs read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct When {
    stamp: String,
    /// The words.
    pub(super) text: String,
}

impl fmt::Display for When {
    /// Both parts are made of dates, digits and zone names only, so there is nothing to escape.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "<time datetime=\"{}\">{}</time>", self.stamp, self.text)
    }
}

impl HtmlSafe for When {}

#[cfg(test)]
mod tests {
    use chrono::TimeZone;
    use chrono_tz::America;

    use super::*;

    fn local() -> Local {
        Local { zone: America::Chicago, now: Utc.with_ymd_and_hms(2026, 11, 25, 14, 0, 0).unwrap() }
    }

    #[test]
    fn days_near_now_have_names_and_the_zone_is_told() {
        let at = |day, hour| Utc.with_ymd_and_hms(2026, 11, day, hour, 12, 0).unwrap();
        assert_eq!(local().time(at(25, 13)).text, "today 07:12\u{a0}CST");
        // 01:12 UTC is still the evening before in Chicago.
        assert_eq!(local().time(at(25, 1)).text, "yesterday 19:12\u{a0}CST");
        assert_eq!(local().time(at(26, 15)).text, "tomorrow 09:12\u{a0}CST");
        assert_eq!(local().time(at(20, 13)).text, "Fri 20 Nov 07:12\u{a0}CST");
        let summer = Utc.with_ymd_and_hms(2025, 7, 3, 12, 0, 0).unwrap();
        assert_eq!(local().time(summer).text, "Thu 3 Jul 2025 07:00\u{a0}CDT");
        assert_eq!(local().range(at(25, 13), at(25, 17)), "today 07:12–11:12\u{a0}CST");
    }

    #[test]
    fn a_zone_without_a_name_shows_its_offset() {
        let zone = America::Sao_Paulo;
        let shown = Local { zone, ..local() }.time(local().now).text;
        assert!(shown.ends_with("UTC−03"), "{shown}");
    }

    #[test]
    fn temperatures_and_differences_convert_each_in_its_own_way() {
        let fahrenheit = Scale { temperature: TemperatureUnit::Fahrenheit, ..Scale::default() };
        let hot = Temperature::new(450.0, TemperatureUnit::Celsius).unwrap();
        let cooler = Temperature::new(440.0, TemperatureUnit::Celsius).unwrap();
        assert_eq!(fahrenheit.temperature(hot), "842\u{a0}°F");
        assert_eq!(fahrenheit.difference(hot - cooler), "18\u{a0}°F");
        assert_eq!(Scale::default().signed(cooler - hot), "−10\u{a0}°C");
        assert_eq!(Scale::default().signed(hot - cooler), "+10\u{a0}°C");
        assert_eq!(whole(-0.3), "0");
    }
}
