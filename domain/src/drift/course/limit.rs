//! The levels at which a margin is used up, and when an edge gets there.

use chrono::{DateTime, Utc};

use crate::numerics::normal;
use crate::quantity::{Percent, Temperature, TemperatureDifference};

/// When an edge reaches a limit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TimeToLimit {
    /// The edge moves away from the limit, or has moved once and stands.
    NotApproaching,
    /// It may be approaching, but when it arrives cannot be said within reason yet.
    TooEarly,
    /// More likely than not it was there at the last trial already.
    Reached,
    /// It arrives between these instants with 95 %, the middle one as likely late as early.
    Between {
        /// Earliest.
        earliest: DateTime<Utc>,
        /// As likely before as after.
        middle: DateTime<Utc>,
        /// Latest.
        latest: DateTime<Utc>,
    },
}

impl TimeToLimit {
    /// `not_approaching`, `too_early`, `reached` or `between`.
    #[must_use]
    pub const fn code(self) -> &'static str {
        match self {
            Self::NotApproaching => "not_approaching",
            Self::TooEarly => "too_early",
            Self::Reached => "reached",
            Self::Between { .. } => "between",
        }
    }

    /// Earliest, middle and latest, where they can be said.
    #[must_use]
    pub const fn span(self) -> Option<(DateTime<Utc>, DateTime<Utc>, DateTime<Utc>)> {
        match self {
            Self::Between { earliest, middle, latest } => Some((earliest, middle, latest)),
            Self::NotApproaching | Self::TooEarly | Self::Reached => None,
        }
    }

    /// What has this [`code`](Self::code) and [`span`](Self::span).
    #[must_use]
    pub fn from_parts(
        code: &str,
        span: Option<(DateTime<Utc>, DateTime<Utc>, DateTime<Utc>)>,
    ) -> Option<Self> {
        let plain = [Self::NotApproaching, Self::TooEarly, Self::Reached];
        match span {
            Some((earliest, middle, latest)) if code == "between" => {
                Some(Self::Between { earliest, middle, latest })
            }
            Some(_) => None,
            None => plain.into_iter().find(|plain| plain.code() == code),
        }
    }
}

/// The levels at which the margin of a set point is used up: where the lower and where the upper edge would have to
/// stand for `share` of the strips to be cold, or hot, at that set point.
///
/// `working` is the set point at reference conditions, `scatter` the standard deviation of strips about an edge: the edges lie
/// z·scatter to either side, with Φ(−z) = `share`.
///
/// ```
/// use lapwatch_domain::drift::limit_levels;
/// use lapwatch_domain::quantity::{Quantity, TemperatureUnit, parse};
/// let (lower, upper) = limit_levels(parse(480.0, "Cel")?, parse(17.0, "K")?, parse(10.0, "%")?);
/// assert!((lower.value_in(TemperatureUnit::Celsius) - (480.0 - 1.28155 * 17.0)).abs() < 1e-3);
/// assert!((upper.value_in(TemperatureUnit::Celsius) - (480.0 + 1.28155 * 17.0)).abs() < 1e-3);
/// # Ok::<(), lapwatch_domain::quantity::QuantityError>(())
/// ```
#[must_use]
pub fn limit_levels(
    working: Temperature,
    scatter: TemperatureDifference,
    share: Percent,
) -> (Temperature, Temperature) {
    let reach = scatter * -normal::quantile(share.ratio());
    (working - reach, working + reach)
}
