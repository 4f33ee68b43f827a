//! Crews that hold the temperature and step the speed, with units that take up heat otherwise than usual.

use lapwatch_domain::heat::{Conditions, HeatShare, equivalent};
use lapwatch_domain::policy::Policy;
use lapwatch_domain::quantity::{Quantity, Speed, SpeedUnit, TemperatureUnit};
use lapwatch_domain::trial::evaluate;

use crate::crew::{STRIPS, celsius, input};
use crate::measure::{Coverage, PRIOR_SIGMA_K};
use crate::roof::{Dice, Roof};

const HELD_C: f64 = 480.0;
/// Between 395 °C and 615 °C at the held speed of 3.05 m/min, for the usual unit.
const SPEEDS_M_PER_MIN: [f64; 7] = [5.0, 4.0, 3.5, 3.05, 2.5, 2.0, 1.5];

/// Coverage over `trials` trials, with a heat share drawn for each unit.
pub(crate) fn coverage(trials: usize, share: impl Fn(&mut Dice) -> f64, seed: u64) -> Coverage {
    let mut dice = Dice(seed);
    let mut coverage = Coverage::default();
    for _ in 0..trials {
        let share = HeatShare::new(share(&mut dice)).expect("a share that occurs");
        let roof = Roof::anywhere(PRIOR_SIGMA_K, 0.5, &mut dice);
        let speeds = SPEEDS_M_PER_MIN.map(|speed| Speed::new(speed, SpeedUnit::MetrePerMinute).unwrap());
        // What each coupon really amounts to at the held speed; the sheet is as warm as is usual.
        let held = Conditions { speed: speeds[3], ..Conditions::reference() };
        let welded = speeds.map(|speed| {
            let there = equivalent(celsius(HELD_C), Conditions { speed, ..held }, held, share).set_point;
            roof.weld(there.value_in(TemperatureUnit::Celsius), STRIPS, &mut dice)
        });
        let mut trial = input(&welded, &Policy::default(), None);
        for (coupon, speed) in trial.coupons.iter_mut().zip(speeds) {
            (coupon.set_temperature, coupon.speed) = (celsius(HELD_C), Some(speed));
        }
        let evidence = evaluate(&trial).evidence;
        coverage.add(&evidence.lower, roof.lower_c);
        coverage.add(&evidence.upper, roof.upper_c);
    }
    coverage
}

/// A share as it occurs among units.
pub(crate) fn any_share(dice: &mut Dice) -> f64 {
    (HeatShare::USUAL + HeatShare::USUAL_SD * dice.normal()).clamp(HeatShare::LOWEST, HeatShare::HIGHEST)
}
