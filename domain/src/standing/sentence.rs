//! Flags and standings in plain sentences.

use chrono::{DateTime, Utc};

use super::{FlagFact, FlagKind, FlagState, SeriesKey, StandingReason};
use crate::drift::{Amount, Channel, TimeToLimit};
use crate::edges::Edge;
use crate::quantity::{Quantity, TemperatureDifference, TemperatureUnit};

impl FlagFact {
    /// The flag in a sentence or two, differences on the scale that the reader uses.
    #[must_use]
    pub fn sentence(&self, unit: TemperatureUnit) -> String {
        let what = match self.kind {
            FlagKind::DriftUp => format!("{} has moved up{}.", self.edge_words(), self.shift_words(unit)),
            FlagKind::DriftDown => format!("{} has moved down{}.", self.edge_words(), self.shift_words(unit)),
            FlagKind::ChannelUp => format!("{} has risen{}.", self.channel_words(), self.change_words(unit)),
            FlagKind::ChannelDown => {
                format!("{} has fallen{}.", self.channel_words(), self.change_words(unit))
            }
            FlagKind::FailedTrial => {
                "A trial found no sound set point: stop welding with this unit and repeat it.".to_owned()
            }
            FlagKind::MarginLost => {
                "The set point is sound but a neighbouring step is not: find a new set point.".to_owned()
            }
            FlagKind::Withdrawn => {
                "Two trials in a row failed: the unit is out of use until it is mended, two trials \
                                    are good, and an equipment person releases it."
                    .to_owned()
            }
            FlagKind::HeaterLimit => match self.heater_reserve {
                Some(reserve) if reserve < TemperatureDifference::ZERO => format!(
                    "The set point is {} above what the heater can reach on the voltage that was measured.",
                    words(reserve.abs(), unit)
                ),
                Some(reserve) => {
                    format!("The set point is {} below what the heater can reach.", words(reserve, unit))
                }
                None => "The set point is near what the heater can reach.".to_owned(),
            },
        };
        let margin = match self.margin_left {
            Some(margin) if self.costs_margin() => {
                format!(" At the last trial {} of margin was left.", words(margin, unit))
            }
            _ => String::new(),
        };
        let limit = self.time_to_limit.map_or_else(String::new, limit_words);
        let end =
            if self.state == FlagState::NotConfirmed { " Later trials did not confirm it." } else { "" };
        format!("{what}{margin}{limit}{end}")
    }

    fn edge_words(&self) -> String {
        match self.series {
            SeriesKey::Edge(class, Edge::Lower) => format!("The lower edge ({})", class.name()),
            SeriesKey::Edge(class, Edge::Upper) => format!("The upper edge ({})", class.name()),
            SeriesKey::Unit | SeriesKey::Channel(_) => "An edge".to_owned(),
        }
    }

    const fn channel_words(&self) -> &'static str {
        match self.series {
            SeriesKey::Channel(Channel::NozzleGap) => {
                "The temperature measured at the nozzle, against the setting,"
            }
            SeriesKey::Channel(Channel::VoltsUnderLoad) => "The voltage under load",
            SeriesKey::Channel(Channel::TimedSpeed) => "The timed speed, against the set one,",
            SeriesKey::Channel(Channel::BandWidth) => "The width of the band",
            SeriesKey::Unit | SeriesKey::Edge(..) => "Something measured beside the strips",
        }
    }

    fn change_words(&self, unit: TemperatureUnit) -> String {
        let amount = |amount: Amount, times: f64| match amount {
            Amount::Difference(difference) => words(difference.abs() * times, unit),
            Amount::Ratio(ratio) => format!("{:.0} %", 100.0 * times * ratio.abs()),
        };
        self.channel_change.map_or_else(String::new, |(by, sd)| {
            format!(" by about {} (give or take {})", amount(by, 1.0), amount(sd, 2.0))
        })
    }

    fn shift_words(&self, unit: TemperatureUnit) -> String {
        self.shift.map_or_else(String::new, |(by, sd)| {
            format!(" by about {} (give or take {})", words(by.abs(), unit), words(sd * 2.0, unit))
        })
    }
}

impl StandingReason {
    /// The reason in a plain sentence.
    #[must_use]
    pub const fn sentence(self) -> &'static str {
        match self {
            Self::NoRecentTrial => "No trial in the last 60 days.",
            Self::TooFewTrials => "Too few trials yet to tell drift from noise.",
            Self::StillLearning => "The charts are still learning this unit; small shifts may go unseen.",
            Self::SheetTemperatureMissing => {
                "Most of its last trials lack the sheet temperature: without it the charts see only large shifts."
            }
            Self::ChartsQuiet => "Nothing in its trials speaks of change.",
            Self::ChartNearLimit => "A chart is near its limit; an edge-finding trial would tell more.",
            Self::TrialFailed => "Its last trial found no sound set point.",
            Self::MarginLost => "Its last trial lost the margin on one side.",
            Self::ChannelMoved => {
                "Something measured beside the strips has moved: nozzle, voltage, speed or band width."
            }
            Self::HeaterNearLimit => "Its set point is near what the heater can reach.",
            Self::LowerEdgeUp => "Its lower edge has moved up: cold welds come sooner.",
            Self::LowerEdgeDown => "Its lower edge has moved down.",
            Self::UpperEdgeUp => "Its upper edge has moved up.",
            Self::UpperEdgeDown => "Its upper edge has moved down: scorching comes sooner.",
            Self::TwoFailuresInARow => "Two trials in a row failed.",
            Self::AwaitsService => "It waits to be mended, or for the cause to be stated.",
            Self::AwaitsTwoGoodTrials => "It waits for two good trials in a row.",
            Self::AwaitsRelease => "It waits for an equipment person to release it.",
        }
    }
}

fn limit_words(time: TimeToLimit) -> String {
    let day = |at: DateTime<Utc>| at.format("%-d %b %Y").to_string();
    match time {
        TimeToLimit::NotApproaching => " It seems to have moved once and to stand now.".to_owned(),
        TimeToLimit::TooEarly => {
            " It is too early to say whether and when it uses up the margin: an edge-finding trial tells more.".to_owned()
        }
        TimeToLimit::Reached => " It has probably used up the margin of the set point.".to_owned(),
        TimeToLimit::Between { earliest, middle, latest } => format!(
            " If it goes on like this, the margin is used up about {}, between {} and {} (95 %).",
            day(middle),
            day(earliest),
            day(latest)
        ),
    }
}

/// A difference to the whole degree, as people write it.
pub(super) fn words(difference: TemperatureDifference, unit: TemperatureUnit) -> String {
    format!("{:.0} {}", difference.value_in(unit.difference_unit()), unit.symbol())
}
