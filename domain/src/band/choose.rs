//! The set point inside its limits.

use super::find::ceiling;
use super::shares::Shares;
use super::{Band, Limit, NoSetPoint, SetPoint, SetPointBasis};
use crate::acceptance::JudgedTrial;
use crate::edges::{EdgeClass, TrialEvidence};
use crate::policy::{Ceilings, Policy};
use crate::quantity::{Quantity, Temperature, TemperatureDifference, TemperatureUnit};

/// Distance between the temperatures among which the best is first looked for, in kelvin.
const SCAN_KELVIN: f64 = 10.0;
/// Temperatures this close are taken as equal, in kelvin: the rounding of a conversion from °F.
const ROUNDING_KELVIN: f64 = 1e-6;

/// Between what a set point must lie, and why.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Limits {
    pub(crate) low: Temperature,
    pub(crate) high: Temperature,
    low_because: Limit,
    high_because: Limit,
}

impl Limits {
    /// Between the coolest and the hottest all-sound step; a reserve inside them on a side where no strip failed; never
    /// above a ceiling.
    pub(crate) fn new(
        judged: &JudgedTrial,
        evidence: &TrialEvidence,
        (ceilings, unit_maximum): (&Ceilings, Temperature),
        policy: &Policy,
    ) -> Result<Self, NoSetPoint> {
        let (coolest, hottest) = judged.all_sound_range().ok_or(NoSetPoint::NothingSound)?;
        let (top, top_because) = ceiling(ceilings, unit_maximum);
        if top < coolest {
            return Err(NoSetPoint::CeilingBelowSound);
        }
        let reserve = policy.open_edge_reserve;
        let mut limits = Self {
            low: coolest,
            high: hottest,
            low_because: Limit::CoolestSound,
            high_because: Limit::HottestSound,
        };
        if evidence.lower.class == EdgeClass::OpenBelow {
            (limits.low, limits.low_because) = (coolest + reserve, Limit::LowerReserve);
        }
        if evidence.upper.class == EdgeClass::OpenAbove {
            (limits.high, limits.high_because) = (hottest - reserve, Limit::UpperReserve);
        }
        if top < limits.high {
            (limits.high, limits.high_because) = (top, top_because);
        }
        if limits.low > limits.high {
            // Reserves that do not fit into the range meet in its middle.
            let high = hottest.min(top);
            let middle = coolest + (high - coolest) * 0.5;
            (limits.low, limits.high) = (middle, middle);
        }
        Ok(limits)
    }

    /// Between two temperatures, whichever limits they are.
    pub(crate) fn between(
        (low, low_because): (Temperature, Limit),
        (high, high_because): (Temperature, Limit),
    ) -> Self {
        Self { low, high, low_because, high_because }
    }

    pub(crate) fn contain(&self, temperature: Temperature) -> bool {
        let rounding = TemperatureDifference::from_kelvin(ROUNDING_KELVIN);
        temperature >= self.low - rounding && temperature <= self.high + rounding
    }
}

/// What the crew can set.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Display {
    pub(crate) step: TemperatureDifference,
    pub(crate) unit: TemperatureUnit,
}

impl Display {
    /// The step as a number on the display's scale; 1 when what was configured is no step.
    pub(crate) fn step_number(&self) -> f64 {
        let step = self.step.value_in(self.unit.difference_unit());
        if step.is_finite() && step > 1e-3 { step } else { 1.0 }
    }

    /// The whole number of display steps inside the limits that is nearest to `wanted`; `wanted` itself when there is
    /// none inside.
    pub(crate) fn round(&self, wanted: Temperature, limits: &Limits) -> Temperature {
        let steps = wanted.value_in(self.unit) / self.step_number();
        let candidates = [steps.round(), steps.floor(), steps.ceil()];
        let settings = candidates.into_iter().filter_map(|count| self.setting(count));
        settings.into_iter().find(|setting| limits.contain(*setting)).unwrap_or(wanted)
    }

    /// The whole number of display steps nearest to `wanted`.
    pub(crate) fn nearest(&self, wanted: Temperature) -> Temperature {
        self.setting((wanted.value_in(self.unit) / self.step_number()).round()).unwrap_or(wanted)
    }

    /// The setting of this many display steps.
    pub(crate) fn setting(&self, steps: f64) -> Option<Temperature> {
        Temperature::new(steps * self.step_number(), self.unit).ok()
    }
}

/// The set point with the least weighted sum of shares inside the limits.
pub(crate) fn set_point(limits: &Limits, shares: &Shares, policy: &Policy) -> Temperature {
    let (low, high) = (limits.low.celsius(), limits.high.celsius());
    let (cold_weight, hot_weight) = weights(policy);
    let sum = |t: f64| cold_weight * shares.cold(t) + hot_weight * shares.hot(t);
    let slope = |t: f64| hot_weight * shares.hot_rise(t) - cold_weight * shares.cold_fall(t);
    let count = ((high - low) / SCAN_KELVIN).ceil().clamp(1.0, 1000.0);
    let places: Vec<f64> =
        (0..=count as usize).map(|index| low + (high - low) * index as f64 / count).collect();
    let sums: Vec<f64> = places.iter().map(|t| sum(*t)).collect();
    let best = sums.iter().enumerate().min_by(|a, b| a.1.total_cmp(b.1)).map_or(0, |(index, _)| index);
    let (before, after) = (places[best.saturating_sub(1)], places[(best + 1).min(places.len() - 1)]);
    Temperature::from_celsius(lowest_between(before, after, slope).clamp(low, high))
}

/// The weights of the two shares; equal ones when what was configured is no pair of weights.
fn weights(policy: &Policy) -> (f64, f64) {
    let (cold, hot) = (policy.cold_weight, policy.hot_weight);
    let usable = cold.is_finite() && hot.is_finite() && cold >= 0.0 && hot >= 0.0 && cold + hot > 0.0;
    if usable { (cold, hot) } else { (1.0, 1.0) }
}

/// The lowest place of a valley between `low` and `high`, given its slope, by the Illinois variant of the secant rule:
/// an end where the slope points outwards.
fn lowest_between(mut low: f64, mut high: f64, slope: impl Fn(f64) -> f64) -> f64 {
    let (mut at_low, mut at_high) = (slope(low), slope(high));
    if at_low >= 0.0 {
        return low;
    }
    if at_high <= 0.0 {
        return high;
    }
    let mut last_moved_low = None;
    for _ in 0..60 {
        if high - low < 1e-6 {
            break;
        }
        let place = low - at_low * (high - low) / (at_high - at_low);
        let place = if place > low && place < high { place } else { 0.5 * (low + high) };
        let value = slope(place);
        if value.abs() < 1e-13 {
            return place;
        }
        let moves_low = value < 0.0;
        if moves_low {
            (low, at_low) = (place, value);
            at_high *= if last_moved_low == Some(true) { 0.5 } else { 1.0 };
        } else {
            (high, at_high) = (place, value);
            at_low *= if last_moved_low == Some(false) { 0.5 } else { 1.0 };
        }
        last_moved_low = Some(moves_low);
    }
    0.5 * (low + high)
}

/// The complete recommendation computed from a trial.
pub(crate) fn recommend(
    limits: &Limits,
    shares: &Shares,
    band: Option<&Band>,
    (display, policy): (Display, &Policy),
) -> SetPoint {
    let computed = set_point(limits, shares, policy);
    let rounding = TemperatureDifference::from_kelvin(1e-4);
    let held = [
        ((computed - limits.low).abs() < rounding, limits.low_because),
        ((computed - limits.high).abs() < rounding, limits.high_because),
    ];
    let point = SetPoint {
        computed,
        to_set: computed,
        basis: SetPointBasis::Computed,
        margin_below: None,
        margin_above: None,
        cold_share: 0.0,
        hot_share: 0.0,
        limited_by: held.into_iter().filter(|(holds, _)| *holds).map(|(_, limit)| limit).collect(),
    };
    point.set_to(display.round(computed, limits), shares, band)
}

impl SetPoint {
    /// The recommendation with the set point in use, which the trial has confirmed, in place of the computed one; as it
    /// was when the one in use lies outside the limits.
    pub(crate) fn confirming(
        self,
        in_use: Temperature,
        limits: &Limits,
        shares: &Shares,
        band: Option<&Band>,
    ) -> Self {
        if limits.contain(in_use) {
            Self { basis: SetPointBasis::Confirmed, ..self.set_to(in_use, shares, band) }
        } else {
            self
        }
    }

    fn set_to(self, to_set: Temperature, shares: &Shares, band: Option<&Band>) -> Self {
        Self {
            to_set,
            margin_below: band.map(|band| to_set - band.low),
            margin_above: band.map(|band| band.high - to_set),
            cold_share: shares.cold(to_set.celsius()),
            hot_share: shares.hot(to_set.celsius()),
            ..self
        }
    }
}
