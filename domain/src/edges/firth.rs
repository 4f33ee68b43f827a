//! An independent cross-check of an edge.

use super::{Edge, EdgeEvidence, Observation};
use crate::numerics::binomial::{Group, Link, Penalty, fit, half_point};
use crate::quantity::Temperature;

/// Kelvin to the unit of the regression: of the size of a scatter, so that coefficients are moderate.
const KELVIN_PER_UNIT: f64 = 20.0;

/// How far the cross-check and the posterior mean may lie apart before it is said, in standard deviations of the posterior.
///
/// Chosen by simulation (`domain/benches/simulation.md`): on roofs that behave as the model assumes they lie further apart
/// for at most one edge in a hundred.
pub const DISAGREEMENT_SD: f64 = 0.5;

/// What the cross-check says of an edge.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum CrossCheck {
    /// Half of the strips fail at this temperature.
    HalfPoint(Temperature),
    /// Failures do not become more frequent in the direction in which they should: there is no such temperature.
    WrongWay,
}

/// Where half of the strips would fail by a Firth-penalized logistic fit, which shares nothing with the posterior: no grid, no
/// prior of the scatter, strips of one coupon taken as independent. `None` where the strips of fewer than two steps say
/// something about the edge, or the fit does not settle.
///
/// Firth's penalty keeps the fit finite where cold and sound steps are separated, which they usually are (Heinze and
/// Schemper, *A solution to the problem of separation in logistic regression*, Statistics in Medicine 21, 2002).
///
/// ```
/// use lapwatch_domain::edges::{CrossCheck, Edge, Observation, cross_check};
/// use lapwatch_domain::quantity::{Quantity, Temperature, TemperatureUnit};
///
/// let celsius = |value| Temperature::new(value, TemperatureUnit::Celsius).expect("above absolute zero");
/// let seen = |value, cold, sound| Observation { temperature: celsius(value), cold, sound, hot: 0 };
/// let separated = [seen(400.0, 3, 0), seen(440.0, 3, 0), seen(480.0, 0, 3), seen(520.0, 0, 3)];
/// let Some(CrossCheck::HalfPoint(found)) = cross_check(&separated, Edge::Lower) else { panic!("it settles") };
/// assert!((found.value_in(TemperatureUnit::Celsius) - 460.0).abs() < 1e-6);
/// ```
#[must_use]
pub fn cross_check(observations: &[Observation], edge: Edge) -> Option<CrossCheck> {
    let mut tallies: Vec<_> = observations.iter().filter_map(|seen| edge.tally(seen)).collect();
    tallies.sort_by_key(|tally| (tally.temperature, tally.beyond, tally.short));
    let (first, last) = (tallies.first()?.temperature.celsius(), tallies.last()?.temperature.celsius());
    let middle = 0.5 * (first + last);
    let groups: Vec<Group> = tallies
        .iter()
        .map(|tally| Group {
            covariates: vec![1.0, (tally.temperature.celsius() - middle) / KELVIN_PER_UNIT],
            successes: tally.beyond as f64,
            trials: (tally.beyond + tally.short) as f64,
        })
        .collect();
    let found = fit(&groups, Link::Logit, Penalty::Jeffreys).ok()?;
    if found.coefficients[1] <= 0.0 {
        return Some(CrossCheck::WrongWay);
    }
    let place = middle + KELVIN_PER_UNIT * half_point(&found);
    // A slope of next to nothing puts the half point anywhere.
    Some(Temperature::from_celsius(place))
        .filter(|found| found.celsius().is_finite())
        .map_or(Some(CrossCheck::WrongWay), |found| Some(CrossCheck::HalfPoint(found)))
}

impl EdgeEvidence {
    /// What the cross-check says, when it contradicts the posterior of a bracketed edge: by more than [`DISAGREEMENT_SD`], or
    /// because it runs the wrong way.
    #[must_use]
    pub fn contradiction(&self, observations: &[Observation]) -> Option<CrossCheck> {
        let estimate = self.estimate?;
        cross_check(observations, self.edge).filter(|found| match found {
            CrossCheck::WrongWay => true,
            CrossCheck::HalfPoint(half) => {
                (*half - estimate.mean).abs().kelvin() > DISAGREEMENT_SD * estimate.sd.kelvin()
            }
        })
    }
}
