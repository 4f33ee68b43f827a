//! Crews on that roof: some weld sweeps, some ask what to weld next.

use lapwatch_domain::acceptance::{Coupon, Criteria, Mode, Scorching, Specimen};
use lapwatch_domain::edges::{EdgeEvidence, Observation};
use lapwatch_domain::membrane::{MaterialClass, Sheet, SheetCondition, WeldMethod};
use lapwatch_domain::policy::{Ceilings, Policy};
use lapwatch_domain::quantity::{
    Quantity, Speed, SpeedUnit, Temperature, TemperatureDifference, TemperatureDifferenceUnit,
    TemperatureUnit,
};
use lapwatch_domain::trial::{Evaluation, Purpose, Surroundings, TrialInput, evaluate};

use crate::roof::{Dice, Roof};

/// 50 °F and 100 °F.
pub(crate) const FIFTY_F: f64 = 50.0 / 1.8;
pub(crate) const HUNDRED_F: f64 = 100.0 / 1.8;
pub(crate) const UNIT_MAXIMUM_C: f64 = 620.0;
pub(crate) const STRIPS: usize = 3;

/// How a crew chooses its settings.
#[derive(Debug, Clone, Copy)]
pub(crate) enum Habit {
    /// Rising steps, up to the first coupon of which every strip scorched.
    Sweep { step_k: f64 },
    /// What the service says, from a start that knows nothing of the unit; as far up at a time as given.
    Asks { largest_step_up_k: f64 },
    /// The same, begun at yesterday's set point.
    AsksFromSetPoint { largest_step_up_k: f64 },
}

pub(crate) fn celsius(value: f64) -> Temperature {
    Temperature::new(value, TemperatureUnit::Celsius).expect("above absolute zero")
}

fn number(temperature: Temperature) -> f64 {
    temperature.value_in(TemperatureUnit::Celsius)
}

/// The coupons of a sweep.
pub(crate) fn sweep(roof: &Roof, step_k: f64, dice: &mut Dice) -> Vec<Observation> {
    let mut welded = Vec::new();
    let mut setting = dice.uniform(330.0, 370.0);
    while setting <= UNIT_MAXIMUM_C {
        let seen = roof.weld(setting, STRIPS, dice);
        welded.push(seen);
        if seen.hot == STRIPS {
            break;
        }
        setting += step_k;
    }
    welded
}

/// A trial as its crew makes it, with the answer to all of it.
pub(crate) fn trial(roof: &Roof, habit: Habit, dice: &mut Dice) -> Evaluation {
    match habit {
        Habit::Sweep { step_k } => {
            let welded = sweep(roof, step_k, dice);
            evaluate(&input(&welded, &Policy::default(), None))
        }
        Habit::Asks { largest_step_up_k } => asks(roof, largest_step_up_k, None, dice),
        Habit::AsksFromSetPoint { largest_step_up_k } => {
            let middle = 0.5 * (roof.lower_c + roof.upper_c) + dice.uniform(-20.0, 20.0);
            asks(roof, largest_step_up_k, Some(celsius(middle.round())), dice)
        }
    }
}

fn asks(roof: &Roof, step_up_k: f64, begin: Option<Temperature>, dice: &mut Dice) -> Evaluation {
    let step_up = TemperatureDifference::new(step_up_k, TemperatureDifferenceUnit::Kelvin).expect("finite");
    let policy = Policy { largest_step_up: step_up, ..Policy::default() };
    let mut welded = Vec::new();
    loop {
        let answer = evaluate(&input(&welded, &policy, begin));
        match answer.next_coupon.temperature() {
            Some(setting) => welded.push(roof.weld(number(setting), STRIPS, dice)),
            None => return answer,
        }
    }
}

pub(crate) fn input(
    welded: &[Observation],
    policy: &Policy,
    set_point_before: Option<Temperature>,
) -> TrialInput {
    let sheet = Sheet { class: MaterialClass::Pvc, condition: SheetCondition::New };
    TrialInput {
        purpose: Purpose::Sweep,
        method: WeldMethod::Automatic,
        unit_maximum: celsius(UNIT_MAXIMUM_C),
        display_step: TemperatureDifference::new(5.0, TemperatureDifferenceUnit::Kelvin).expect("finite"),
        temperature_unit: TemperatureUnit::Celsius,
        ceilings: Ceilings::default(),
        set_point_before,
        upper_sheet: sheet,
        lower_sheet: sheet,
        criteria: Criteria::default(),
        policy: *policy,
        coupons: welded.iter().map(coupon).collect(),
        supply: None,
        wind: None,
        speed: Speed::new(3.05, SpeedUnit::MetrePerMinute).expect("positive"),
        speed_unit: SpeedUnit::MetrePerMinute,
        dwell: None,
        surroundings: Surroundings::default(),
    }
}

fn coupon(seen: &Observation) -> Coupon {
    let opened = Specimen { mode: Some(Mode::InterfaceOpened), ..Specimen::default() };
    let torn = Specimen { mode: Some(Mode::FilmTear), ..Specimen::default() };
    let charred = Specimen { scorching: vec![Scorching::Char], ..torn.clone() };
    let specimens = [vec![opened; seen.cold], vec![torn; seen.sound], vec![charred; seen.hot]].concat();
    Coupon { set_temperature: seen.temperature, speed: None, specimens }
}

/// Posterior mean of an edge in °C: also of an open one, whose answer gives a bound instead.
pub(crate) fn centre(edge: &EdgeEvidence) -> f64 {
    if let Some(found) = edge.estimate {
        return number(found.mean);
    }
    let weights = edge.profile.values().iter().map(|ln| f64::from(*ln).exp());
    let places = (0..edge.profile.len()).map(|index| number(edge.profile.temperature(index)));
    let (sum, moment) = weights.zip(places).fold((0.0, 0.0), |(s, m), (w, t)| (s + w, m + w * t));
    moment / sum
}
