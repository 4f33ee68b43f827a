//! Two settings are equivalent when the sheet's surface reaches the same temperature.

use super::surface::{surface_share, surface_share_inverse, surface_share_slope};
use super::{Conditions, HeatShare, REFERENCE_SPEED_M_PER_MIN, metres_per_minute};
use crate::quantity::{Quantity, Speed, SpeedUnit, Temperature, TemperatureDifference};

/// A temperature carried to other conditions, and how it moves with them.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Carried {
    /// The equivalent setting: the same surface temperature at the new conditions.
    pub set_point: Temperature,
    /// What the sheet's surface reaches at both settings.
    pub surface: Temperature,
    /// ∂T/∂Ta at the new conditions, kelvins per kelvin of sheet temperature: −(1 − φ)/φ.
    pub per_sheet: f64,
    /// ∂T/∂v at the new conditions: what one metre a minute more asks for, (T − Ta)·S/2v with S = βφ′/φ.
    pub per_metre_per_minute: TemperatureDifference,
    /// ∂T/∂φ, in kelvins per .01 of the heat share: multiplied by its standard deviation, the uncertainty that carrying
    /// adds. It is common to everything carried with the same unit.
    pub per_hundredth_of_share: TemperatureDifference,
}

/// The setting that is equivalent at `to` to `set_point` at `from`: T₂ = Ta₂ + (Ts − Ta₂)/φ(β₂).
#[must_use]
pub fn equivalent(set_point: Temperature, from: Conditions, to: Conditions, share: HeatShare) -> Carried {
    let there = carry(set_point.celsius(), from, to, share);
    let surface = from.sheet.celsius() + share.at(from.speed) * (set_point.celsius() - from.sheet.celsius());
    let speed = metres_per_minute(to.speed);
    let beta = share.beta * (REFERENCE_SPEED_M_PER_MIN / speed).sqrt();
    let sensitivity = beta * surface_share_slope(beta) / surface_share(beta);
    let step = 1e-5;
    let nudged = |by: f64| {
        let ratio = share.ratio + by;
        carry(set_point.celsius(), from, to, HeatShare { ratio, beta: surface_share_inverse(ratio) })
    };
    Carried {
        set_point: Temperature::from_celsius(there),
        surface: Temperature::from_celsius(surface),
        per_sheet: share.per_sheet(to.speed),
        per_metre_per_minute: TemperatureDifference::from_kelvin(
            (there - to.sheet.celsius()) * sensitivity / (2.0 * speed),
        ),
        per_hundredth_of_share: TemperatureDifference::from_kelvin(
            0.01 * (nudged(step) - nudged(-step)) / (2.0 * step),
        ),
    }
}

/// The speed at which a nozzle held at `held` heats the sheet's surface as `set_point` does at `conditions`, the sheet
/// being the same: φ(β₂) = φ(β₁)·(T − Ta)/(T_held − Ta), v₂ = v₁·(β₁/β₂)². The other way round of [`equivalent`].
///
/// `None` when there is no such speed: the surface would have to become hotter than the air, or cooler than the sheet.
///
/// ```
/// use lapwatch_domain::heat::{Conditions, HeatShare, equivalent, equivalent_speed};
/// use lapwatch_domain::quantity::{Quantity, SpeedUnit, Temperature, parse};
/// let here = Conditions { sheet: parse(20.0, "Cel")?, speed: parse(3.0, "m/min")? };
/// let share = HeatShare::default();
/// // Where 520 °C is wanted at 3 m/min, a nozzle held at 480 °C goes slower.
/// let slower = equivalent_speed(parse(520.0, "Cel")?, here, parse(480.0, "Cel")?, share).expect("a speed");
/// assert!((slower.value_in(SpeedUnit::MetrePerMinute) - 2.41).abs() < 0.01);
/// let back = equivalent(parse(480.0, "Cel")?, Conditions { speed: slower, ..here }, here, share).set_point;
/// let wanted: Temperature = parse(520.0, "Cel")?;
/// assert!((back - wanted).abs() < parse(1e-6, "K")?);
/// assert_eq!(equivalent_speed(parse(480.0, "Cel")?, here, parse(30.0, "Cel")?, share), None);
/// # Ok::<(), lapwatch_domain::quantity::QuantityError>(())
/// ```
#[must_use]
pub fn equivalent_speed(
    set_point: Temperature,
    conditions: Conditions,
    held: Temperature,
    share: HeatShare,
) -> Option<Speed> {
    let excess = |temperature: Temperature| (temperature - conditions.sheet).kelvin();
    let wanted = share.at(conditions.speed) * excess(set_point) / excess(held);
    if !(wanted > 0.0 && wanted < 1.0) {
        return None;
    }
    let ratio = share.beta / surface_share_inverse(wanted);
    Speed::new(REFERENCE_SPEED_M_PER_MIN * ratio * ratio, SpeedUnit::MetrePerMinute).ok()
}

fn carry(set_point: f64, from: Conditions, to: Conditions, share: HeatShare) -> f64 {
    let (start, slope) = line(from, to, share);
    start + slope * set_point
}

/// For one heat share the map is a straight line: its value in °C at 0 °C, and its slope φ(β₁)/φ(β₂).
pub(crate) fn line(from: Conditions, to: Conditions, share: HeatShare) -> (f64, f64) {
    let (here, there) = (share.at(from.speed), share.at(to.speed));
    let (sheet_here, sheet_there) = (from.sheet.celsius(), to.sheet.celsius());
    (sheet_there + (sheet_here * (1.0 - here) - sheet_there) / there, here / there)
}
