//! Values that no real trial has.

use super::TrialInput;
use crate::coded::coded_enum;
use crate::quantity::{Quantity, Speed, Temperature, TemperatureDifference};

/// Hotter than any hot-air welder, in °C (common practice, no source).
const TOO_HOT_CELSIUS: f64 = 1000.0;
/// Cooler than any weld of these sheets, in °C (common practice, no source).
const TOO_COOL_CELSIUS: f64 = 50.0;
/// The coarsest display step, in kelvin.
const COARSEST_DISPLAY_KELVIN: f64 = 50.0;
/// More strips than are ever cut from one coupon.
const MOST_STRIPS: usize = 50;
/// More coupons than are ever welded in one trial.
const MOST_COUPONS: usize = 100;
/// Rounding that a conversion from °F may leave, in kelvin.
const ROUNDING_KELVIN: f64 = 0.01;

/// Where in a trial something is implausible.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Place {
    /// The unit's highest set temperature.
    UnitMaximum,
    /// The unit's display step.
    DisplayStep,
    /// The set point before the trial.
    SetPointBefore,
    /// The list of coupons.
    Coupons,
    /// The set temperature of the coupon with this index.
    SetTemperature(usize),
    /// The specimens of the coupon with this index.
    Specimens(usize),
}

coded_enum! {
    /// What is implausible about a value.
    pub enum ImplausibleKind {
        /// Hotter than any hot-air welder.
        TooHot = "too_hot",
        /// Cooler than any weld.
        TooCool = "too_cool",
        /// Above what this unit can be set to.
        AboveUnitMaximum = "above_unit_maximum",
        /// Not a sensible display step.
        DisplayStep = "display_step",
        /// More strips than are ever cut from a coupon.
        TooManyStrips = "too_many_strips",
        /// More coupons than are ever welded in a trial.
        TooManyCoupons = "too_many_coupons",
    }
}

/// A value that no real trial has.
#[derive(Debug, Clone, PartialEq)]
pub struct Implausible {
    /// Where it is.
    pub place: Place,
    /// What is wrong.
    pub kind: ImplausibleKind,
    /// What to do, in one plain sentence.
    pub advice: String,
}

impl TrialInput {
    /// Looks for values that no real trial has: settings beyond 1000 °C, below 50 °C or above the unit's maximum, a
    /// display step that is none, more strips or coupons than anybody welds.
    ///
    /// [`evaluate`](super::evaluate) does not fail on what is refused here; its answer would only mean nothing.
    ///
    /// # Errors
    /// Every implausible value found, in the order of the record.
    pub fn check(&self) -> Result<(), Vec<Implausible>> {
        let mut found = Vec::new();
        found.extend(self.implausible_setting(Place::UnitMaximum, self.unit_maximum));
        let step = self.display_step;
        if !(step.kelvin() > 0.0 && step.kelvin() <= COARSEST_DISPLAY_KELVIN) {
            let advice =
                "Give the step of the unit's display, above zero and at most 50 K (90 °F).".to_owned();
            found.push(Implausible { place: Place::DisplayStep, kind: ImplausibleKind::DisplayStep, advice });
        }
        if let Some(in_use) = self.set_point_before {
            found.extend(self.implausible_setting(Place::SetPointBefore, in_use));
        }
        if self.coupons.len() > MOST_COUPONS {
            let advice =
                format!("A trial has at most {MOST_COUPONS} coupons; send further ones as another trial.");
            found.push(Implausible { place: Place::Coupons, kind: ImplausibleKind::TooManyCoupons, advice });
        }
        for (index, coupon) in self.coupons.iter().enumerate() {
            found.extend(self.implausible_setting(Place::SetTemperature(index), coupon.set_temperature));
            if coupon.specimens.len() > MOST_STRIPS {
                let advice = format!("A coupon has at most {MOST_STRIPS} specimens; check the record.");
                let kind = ImplausibleKind::TooManyStrips;
                found.push(Implausible { place: Place::Specimens(index), kind, advice });
            }
        }
        if found.is_empty() { Ok(()) } else { Err(found) }
    }

    fn implausible_setting(&self, place: Place, setting: Temperature) -> Option<Implausible> {
        let show = |celsius: f64| self.show(Temperature::from_celsius(celsius));
        let rounding = TemperatureDifference::from_kelvin(ROUNDING_KELVIN);
        let (kind, advice) = if setting.celsius() > TOO_HOT_CELSIUS {
            let limit = show(TOO_HOT_CELSIUS);
            (
                ImplausibleKind::TooHot,
                format!("No hot-air welder reaches more than {limit}; check number and unit."),
            )
        } else if setting.celsius() < TOO_COOL_CELSIUS {
            let limit = show(TOO_COOL_CELSIUS);
            (ImplausibleKind::TooCool, format!("No sheet is welded below {limit}; check number and unit."))
        } else if setting > self.unit_maximum + rounding {
            let limit = self.show(self.unit_maximum);
            let advice = format!(
                "This unit cannot be set above {limit}; check the number, the unit or its registration."
            );
            (ImplausibleKind::AboveUnitMaximum, advice)
        } else {
            return None;
        };
        Some(Implausible { place, kind, advice })
    }

    /// A temperature as the crew reads it.
    pub(super) fn show(&self, temperature: Temperature) -> String {
        let unit = self.temperature_unit;
        format!("{:.0} {}", temperature.value_in(unit), unit.symbol())
    }

    /// A speed as the crew reads it.
    pub(super) fn show_speed(&self, speed: Speed) -> String {
        let unit = self.speed_unit;
        format!("{:.1} {}", speed.value_in(unit), unit.symbol())
    }

    /// A difference of temperatures as the crew reads it.
    pub(super) fn show_difference(&self, difference: TemperatureDifference) -> String {
        let unit = self.temperature_unit;
        format!("{:.0} {}", difference.value_in(unit.difference_unit()), unit.symbol())
    }
}
