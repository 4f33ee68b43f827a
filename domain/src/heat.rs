//! Heat: carrying a temperature from one speed and sheet temperature to another.
//!
//! Hot air heats the surface of the sheet while the nozzle passes over it. For the short time that takes, the sheet is
//! as good as infinitely thick, and its surface reaches (Carslaw and Jaeger, *Conduction of Heat in Solids*, 2.7;
//! Incropera, *Fundamentals of Heat and Mass Transfer*, ch. 5)
//!
//! > Ts = Ta + φ(β)·(T − Ta), φ(β) = 1 − erfcx(β), β = h·√t / √(k·ρ·c)
//!
//! with T the air's temperature at the nozzle, Ta the *sheet's* temperature (not the air's), h the heat transfer
//! coefficient, t the heated length over the speed, and k, ρ, c the sheet's conductivity, density and heat capacity. The
//! weld is made by the surface temperature; so two settings are equivalent if they give the same Ts.
//!
//! Only one number about a machine and its sheet is unknown: φ at the reference speed, the [`HeatShare`]. It is *one*
//! unknown per unit, shared by all its trials. Whoever adds its uncertainty to every trial as if independent averages it
//! away and finds drift in every spring. The speed's effect depends on it little; the sheet temperature's effect,
//! −(1 − φ)/φ, depends on it much (−4.6 to −1.5 K per K over the range that occurs).
//!
//! Wind is not in the model.

use std::f64::consts::FRAC_2_SQRT_PI;

use crate::numerics::erfcx;
use crate::quantity::{Length, LengthUnit, Quantity, Speed, SpeedUnit, Temperature, TemperatureDifference};

/// Reference sheet temperature, °C.
pub(crate) const REFERENCE_SHEET_C: f64 = 20.0;
/// Reference speed, m/min (10 ft/min is 3.048).
pub(crate) const REFERENCE_SPEED_M_PER_MIN: f64 = 3.05;
/// Largest αt/L² for which the infinitely thick sheet is a fair picture (the surface is then 0.11 % off; 4 % at 0.5).
pub const GREATEST_FOURIER_NUMBER: f64 = 0.2;

/// φ(β) = 1 − erfcx(β): the share of the air's excess temperature that the sheet's surface takes on. β ≥ 0, a ratio.
#[must_use]
pub fn surface_share(beta: f64) -> f64 {
    // Below, 1 − erfcx loses digits to cancellation; the series of erfcx about zero has none to lose.
    if beta < 1e-3 {
        beta * (FRAC_2_SQRT_PI - beta * (1.0 - beta * FRAC_2_SQRT_PI * 2.0 / 3.0))
    } else {
        1.0 - erfcx(beta)
    }
}

/// φ′(β) = 2/√π − 2β·erfcx(β).
#[must_use]
pub fn surface_share_slope(beta: f64) -> f64 {
    FRAC_2_SQRT_PI - 2.0 * beta * erfcx(beta)
}

/// The β for which φ(β) = `share`, for `share` from 0 to below 1; NaN outside.
///
/// Newton's method from the left: φ is concave, so each step stays on that side and convergence is certain.
#[must_use]
pub fn surface_share_inverse(share: f64) -> f64 {
    if !(0.0..1.0).contains(&share) {
        return f64::NAN;
    }
    let mut beta = share / FRAC_2_SQRT_PI;
    for _ in 0..80 {
        let step = (share - surface_share(beta)) / surface_share_slope(beta);
        beta += step;
        if step.abs() <= 1e-14 * beta {
            break;
        }
    }
    beta
}

/// φ of one unit at the reference speed of 3.05 m/min, with the β it comes from.
///
/// Between 0.02 and 0.9; what occurs with roofing welders is [`HeatShare::LOWEST`] to [`HeatShare::HIGHEST`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HeatShare {
    ratio: f64,
    beta: f64,
}

impl HeatShare {
    /// The lowest φ that is considered.
    pub const LOWEST: f64 = 0.18;
    /// The φ of a unit that nothing is known about.
    pub const USUAL: f64 = 0.27;
    /// The highest φ that is considered.
    pub const HIGHEST: f64 = 0.40;

    /// The heat share with this φ.
    ///
    /// # Errors
    /// [`HeatError::ShareOutOfRange`] unless 0.02 ≤ φ ≤ 0.9.
    pub fn new(ratio: f64) -> Result<Self, HeatError> {
        if (0.02..=0.9).contains(&ratio) {
            Ok(Self { ratio, beta: surface_share_inverse(ratio) })
        } else {
            Err(HeatError::ShareOutOfRange)
        }
    }

    /// φ at the reference speed.
    #[must_use]
    pub fn ratio(self) -> f64 {
        self.ratio
    }

    /// β at the reference speed.
    #[must_use]
    pub fn beta(self) -> f64 {
        self.beta
    }

    /// φ at another speed: β₂ = β₁·√(v₁/v₂).
    #[must_use]
    pub fn at(self, speed: Speed) -> f64 {
        self.at_speed_ratio(metres_per_minute(speed) / REFERENCE_SPEED_M_PER_MIN)
    }

    pub(crate) fn at_speed_ratio(self, speed_ratio: f64) -> f64 {
        if speed_ratio == 1.0 { self.ratio } else { surface_share(self.beta / speed_ratio.sqrt()) }
    }

    /// Kelvins that the set point moves per kelvin of sheet temperature, at this speed: −(1 − φ)/φ.
    #[must_use]
    pub fn per_sheet(self, speed: Speed) -> f64 {
        let share = self.at(speed);
        -(1.0 - share) / share
    }
}

impl Default for HeatShare {
    /// [`HeatShare::USUAL`].
    fn default() -> Self {
        Self { ratio: Self::USUAL, beta: surface_share_inverse(Self::USUAL) }
    }
}

/// Why a temperature cannot be carried.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum HeatError {
    /// φ is outside 0.02 to 0.9.
    #[error("the heat share must be from 0.02 to 0.9")]
    ShareOutOfRange,
    /// The heat goes through the sheet while the nozzle is over it; the surface no longer heats as assumed.
    #[error(
        "the nozzle stays over the sheet too long for this calculation (as in hand welding): find the band anew"
    )]
    DwellTooLong,
    /// A property of the sheet is not a positive number.
    #[error("conductivity, density, heat capacity, heat transfer, length and thickness must be above zero")]
    NotPositive,
}

impl HeatError {
    /// Stable code.
    #[must_use]
    pub const fn code(self) -> &'static str {
        match self {
            Self::ShareOutOfRange => "heat_share_out_of_range",
            Self::DwellTooLong => "dwell_too_long",
            Self::NotPositive => "sheet_property_not_positive",
        }
    }
}

/// A sheet temperature and a speed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Conditions {
    /// Temperature of the sheet itself.
    pub sheet: Temperature,
    /// Speed over the sheet.
    pub speed: Speed,
}

impl Conditions {
    /// The conditions that histories are brought to: a sheet at 20 °C, 3.05 m/min.
    #[must_use]
    pub fn reference() -> Self {
        Self {
            sheet: Temperature::from_celsius(REFERENCE_SHEET_C),
            speed: speed_of(REFERENCE_SPEED_M_PER_MIN),
        }
    }
}

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

fn carry(set_point: f64, from: Conditions, to: Conditions, share: HeatShare) -> f64 {
    let surface = from.sheet.celsius() + share.at(from.speed) * (set_point - from.sheet.celsius());
    to.sheet.celsius() + (surface - to.sheet.celsius()) / share.at(to.speed)
}

/// The heat properties of a sheet and a nozzle, in SI units as tables print them; all above zero.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SheetHeat {
    /// Thermal conductivity k, W/(m·K); about .17 for plasticized PVC.
    pub conductivity_w_per_m_k: f64,
    /// Density ρ, kg/m³; about 1300.
    pub density_kg_per_m3: f64,
    /// Specific heat c, J/(kg·K); about 1300.
    pub heat_capacity_j_per_kg_k: f64,
    /// Heat transfer coefficient from the air to the surface h, W/(m²·K); about 250.
    pub transfer_w_per_m2_k: f64,
}

impl SheetHeat {
    /// β = h·√t/√(kρc) for a heated length passed at a speed.
    #[must_use]
    pub fn beta(self, heated: Length, speed: Speed) -> f64 {
        let effusivity_squared =
            self.conductivity_w_per_m_k * self.density_kg_per_m3 * self.heat_capacity_j_per_kg_k;
        self.transfer_w_per_m2_k * (dwell_s(heated, speed) / effusivity_squared).sqrt()
    }

    /// αt/L²: how far heat has got through a sheet of this thickness while the nozzle was over it.
    #[must_use]
    pub fn fourier_number(self, heated: Length, speed: Speed, thickness: Length) -> f64 {
        let diffusivity =
            self.conductivity_w_per_m_k / (self.density_kg_per_m3 * self.heat_capacity_j_per_kg_k);
        let metres = thickness.value_in(LengthUnit::Metre);
        diffusivity * dwell_s(heated, speed) / (metres * metres)
    }

    /// The heat share φ at the reference speed that these properties give.
    ///
    /// # Errors
    /// [`HeatError::NotPositive`] when a property, the length or the thickness is not above zero;
    /// [`HeatError::DwellTooLong`] when αt/L² at `slowest` exceeds [`GREATEST_FOURIER_NUMBER`];
    /// [`HeatError::ShareOutOfRange`] as [`HeatShare::new`].
    pub fn share(self, heated: Length, slowest: Speed, thickness: Length) -> Result<HeatShare, HeatError> {
        let numbers = [
            self.conductivity_w_per_m_k,
            self.density_kg_per_m3,
            self.heat_capacity_j_per_kg_k,
            self.transfer_w_per_m2_k,
            heated.value_in(LengthUnit::Metre),
            thickness.value_in(LengthUnit::Metre),
        ];
        if !numbers.iter().all(|&number| number > 0.0 && number.is_finite()) {
            return Err(HeatError::NotPositive);
        }
        if self.fourier_number(heated, slowest, thickness) > GREATEST_FOURIER_NUMBER {
            return Err(HeatError::DwellTooLong);
        }
        HeatShare::new(surface_share(self.beta(heated, speed_of(REFERENCE_SPEED_M_PER_MIN))))
    }
}

fn dwell_s(heated: Length, speed: Speed) -> f64 {
    heated.value_in(LengthUnit::Metre) / metres_per_minute(speed) * 60.0
}

fn metres_per_minute(speed: Speed) -> f64 {
    speed.value_in(SpeedUnit::MetrePerMinute)
}

fn speed_of(metres_per_minute: f64) -> Speed {
    Speed::new(metres_per_minute, SpeedUnit::MetrePerMinute)
        .expect("the reference speed is a positive number")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::parse;

    fn conditions(sheet_f: f64, feet_per_minute: f64) -> Conditions {
        Conditions {
            sheet: parse(sheet_f, "[degF]").unwrap(),
            speed: parse(feet_per_minute, "[ft_i]/min").unwrap(),
        }
    }

    /// Computed independently with scipy's erfcx.
    #[test]
    fn surface_shares() {
        for (beta, expected) in [
            (0.05, 0.05401),
            (0.1, 0.10354),
            (0.2, 0.19098),
            (0.3, 0.26540),
            (0.4, 0.32921),
            (0.5, 0.38431),
            (0.75, 0.49306),
            (1.0, 0.57242),
            (2.0, 0.74460),
            (3.0, 0.82100),
        ] {
            assert!((surface_share(beta) - expected).abs() < 5.1e-6, "β {beta}");
            assert!((surface_share_inverse(surface_share(beta)) / beta - 1.0).abs() < 1e-12, "β {beta}");
            let step = 1e-6;
            let slope = (surface_share(beta + step) - surface_share(beta - step)) / (2.0 * step);
            assert!((surface_share_slope(beta) - slope).abs() < 1e-8, "β {beta}");
        }
        // The series below .001 joins on without a step.
        assert!((surface_share(1e-3 - 1e-9) - surface_share(1e-3)).abs() < 1.2e-9);
        assert!(surface_share_inverse(1.0).is_nan() && surface_share_inverse(-0.1).is_nan());
    }

    /// A convectively heated surface after Incropera's worked problem (h 50 W/m²K, α 4.029e-6 m²/s, k 10 W/mK,
    /// 100 s, fluid 355 K, start 393 K): printed 389.5 K at 3 mm depth; here the depth enters through the full solution,
    /// whose surface value is the φ of this module.
    #[test]
    fn a_cooled_wall_from_a_textbook() {
        let (transfer, conductivity, diffusivity, time, depth): (f64, f64, f64, f64, f64) =
            (50.0, 10.0, 4.029e-6, 100.0, 3e-3);
        let beta = transfer * (diffusivity * time).sqrt() / conductivity;
        let eta = depth / (2.0 * (diffusivity * time).sqrt());
        let share = |eta: f64| libm::erfc(eta) - libm::exp(-eta * eta) * erfcx(eta + beta);
        let at_depth = 393.0 + share(eta) * (355.0 - 393.0);
        assert!((at_depth - 389.542_824).abs() < 1e-6, "{at_depth}");
        assert!((share(0.0) - surface_share(beta)).abs() < 1e-15);
    }

    /// Recomputed independently; 1000 °F at 70 °F and 10 ft/min carried to other sheets and speeds.
    #[test]
    fn plasticized_pvc_at_ten_feet_a_minute() {
        let sheet = SheetHeat {
            conductivity_w_per_m_k: 0.17,
            density_kg_per_m3: 1300.0,
            heat_capacity_j_per_kg_k: 1300.0,
            transfer_w_per_m2_k: 250.0,
        };
        let heated: Length = parse(25.0, "mm").unwrap();
        let here = conditions(70.0, 10.0);
        let share_here = surface_share(sheet.beta(heated, here.speed));
        assert!((share_here - 0.28372).abs() < 5.1e-6, "{share_here}");
        let share = sheet.share(heated, here.speed, parse(1.5, "mm").unwrap()).unwrap();
        assert!((share.at(here.speed) - share_here).abs() < 1e-12);
        let set_point: Temperature = parse(1000.0, "[degF]").unwrap();
        let fahrenheit =
            |temperature: Temperature| temperature.value_in(crate::quantity::TemperatureUnit::Fahrenheit);
        assert!((fahrenheit(equivalent(set_point, here, here, share).surface) - 333.86).abs() < 0.02);
        for (sheet_f, feet_per_minute, expected) in [
            (70.0, 10.0, 1000.0),
            (40.0, 10.0, 1075.74),
            (95.0, 10.0, 936.88),
            (70.0, 12.0, 1067.58),
            (70.0, 8.0, 925.39),
            (40.0, 12.0, 1151.00),
        ] {
            let carried = equivalent(set_point, here, conditions(sheet_f, feet_per_minute), share);
            assert!(
                (fahrenheit(carried.set_point) - expected).abs() < 0.02,
                "{sheet_f} °F, {feet_per_minute} ft/min"
            );
        }
    }

    #[test]
    fn derivatives_are_those_of_the_map() {
        let share = HeatShare::new(0.24).unwrap();
        let (from, to) = (conditions(60.0, 9.0), conditions(85.0, 11.5));
        let set_point: Temperature = parse(480.0, "Cel").unwrap();
        let carried = equivalent(set_point, from, to, share);
        let nudge = 1e-4;
        let warmer = Conditions { sheet: to.sheet + TemperatureDifference::from_kelvin(nudge), ..to };
        let faster = Conditions { speed: speed_of(metres_per_minute(to.speed) + nudge), ..to };
        let moved =
            |to| (equivalent(set_point, from, to, share).set_point - carried.set_point).kelvin() / nudge;
        assert!((moved(warmer) - carried.per_sheet).abs() < 1e-6);
        assert!((moved(faster) - carried.per_metre_per_minute.kelvin()).abs() < 1e-2);
        let higher = HeatShare::new(0.25).unwrap();
        let change = (equivalent(set_point, from, to, higher).set_point - carried.set_point).kelvin();
        assert!((change / carried.per_hundredth_of_share.kelvin() - 1.0).abs() < 0.1, "{change}");
        let back = equivalent(carried.set_point, to, from, share).set_point;
        assert!((back - set_point).kelvin().abs() < 1e-9);
    }

    #[test]
    fn hand_welding_is_outside_the_model() {
        let sheet = SheetHeat {
            conductivity_w_per_m_k: 0.17,
            density_kg_per_m3: 1300.0,
            heat_capacity_j_per_kg_k: 1300.0,
            transfer_w_per_m2_k: 250.0,
        };
        let slow: Speed = parse(0.3, "m/min").unwrap();
        let refused = sheet.share(parse(25.0, "mm").unwrap(), slow, parse(1.2, "mm").unwrap());
        assert_eq!(refused, Err(HeatError::DwellTooLong));
        assert_eq!(refused.unwrap_err().code(), "dwell_too_long");
        assert_eq!(HeatShare::new(0.95), Err(HeatError::ShareOutOfRange));
        let nothing = SheetHeat { density_kg_per_m3: 0.0, ..sheet };
        assert_eq!(
            nothing.share(parse(25.0, "mm").unwrap(), slow, parse(1.2, "mm").unwrap()),
            Err(HeatError::NotPositive)
        );
    }
}
