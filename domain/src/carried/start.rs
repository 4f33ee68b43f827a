//! Where a unit should begin today, from its history.

use super::{COOLEST_CELSIUS, Forecast, NotCarried, Today, sentences};
use crate::band::{Band, Display, Limit, Limits, SetPoint, Shares, between, ceiling, recommend};
use crate::drift::Knowledge;
use crate::edges::{CarriedEvidence, Edge, stand_alone};
use crate::heat::{Conditions, HeatShare, Known, equivalent};
use crate::membrane::{Compatibility, Sheet, compatible};
use crate::policy::{Ceilings, Policy};
use crate::quantity::{Quantity, Speed, SpeedUnit, Temperature, TemperatureDifference, TemperatureUnit};
use crate::trial::{Purpose, check_step};

/// A set point is looked for so far above what the unit reaches, in kelvin: that it would lie there is the reason to go slower.
const BEYOND_UNIT_KELVIN: f64 = 150.0;
/// Nobody is advised to go slower than this share of the speed that was meant.
const SLOWEST_SHARE: f64 = 0.4;

/// What is to be welded today, and with what.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StartInput<'a> {
    /// Sheet temperature, speed, time.
    pub today: Today,
    /// What the trial will be for: a check of the set point, or a search for both edges.
    pub purpose: Purpose,
    /// The two sheets.
    pub sheets: [Sheet; 2],
    /// The highest temperature the unit can be set to.
    pub unit_maximum: Temperature,
    /// The step of the unit's display, on the scale `temperature_unit`.
    pub display_step: TemperatureDifference,
    /// The scale on which the crew works.
    pub temperature_unit: TemperatureUnit,
    /// The unit in which the crew reads speeds.
    pub speed_unit: SpeedUnit,
    /// Temperatures never to be exceeded.
    pub ceilings: Ceilings,
    /// What the organization has decided about advice.
    pub policy: &'a Policy,
}

/// The steps to begin with.
#[derive(Debug, Clone, PartialEq)]
pub struct StartingSteps {
    /// The settings to weld coupons at, from cool to hot, none above a ceiling.
    pub steps: Vec<Temperature>,
    /// The set point that is expected; a trial has to find it sound before anybody works with it.
    pub set_point: SetPoint,
    /// The band that is expected, if there is one.
    pub band: Option<Band>,
    /// Where the lower and the upper edge are expected, with standard deviations.
    pub expected: [Known; 2],
    /// How many trials this is carried from.
    pub trials: usize,
    /// When the latest of them was performed.
    pub latest: chrono::DateTime<chrono::Utc>,
    /// A lower speed, where the set point would otherwise lie at the unit's limit.
    pub slower: Option<Slower>,
    /// All of it in plain sentences.
    pub explanation: Vec<String>,
}

/// Advice to weld slower.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Slower {
    /// At this speed
    pub speed: Speed,
    /// the set point is expected here, with a step of the check left below every ceiling.
    pub set_point: Temperature,
}

/// The steps to begin with today, from what the unit's history knows.
///
/// A check gets three: below, at and above the expected set point. A search for edges begins one standard deviation below the
/// expected lower edge and goes up to one above the upper, in steps of at most [`Policy::largest_step_up`].
///
/// # Errors
/// Why the history does not tell; then a full sweep is to be made ([`full_sweep`]).
pub fn starting_steps(
    knowledge: Option<&Knowledge>,
    input: &StartInput<'_>,
) -> Result<StartingSteps, NotCarried> {
    if compatible(input.sheets[0].class, input.sheets[1].class) == Compatibility::NotWeldable {
        return Err(NotCarried::IncompatibleSheets);
    }
    let knowledge = knowledge.ok_or(NotCarried::NoHistory)?;
    let forecast = Forecast::new(knowledge, &input.today)?;
    let shares = shares(&forecast, input).ok_or(NotCarried::NotKnown)?;
    let top = ceiling(&input.ceilings, input.unit_maximum);
    let band =
        between((Temperature::from_celsius(COOLEST_CELSIUS), Limit::CoolestStep), top, &shares, input.policy);
    let with = (input.display(), input.policy);
    let set_point = recommend(&everywhere(top.0), &shares, band.as_ref(), with);
    let free = recommend(&everywhere(input.beyond()), &shares, None, with).computed;
    let slower = input.slower(knowledge, free, top.0);
    if band.is_none() && slower.is_none() {
        return Err(NotCarried::NotKnown);
    }
    let expected = forecast.edges();
    let mut found = StartingSteps {
        steps: if input.purpose.checks() {
            input.around(set_point.to_set, top.0)
        } else {
            input.across(&expected, top.0)
        },
        set_point,
        band,
        expected,
        trials: forecast.trials,
        latest: forecast.latest,
        slower,
        explanation: Vec::new(),
    };
    found.explanation = explain(&found, input);
    Ok(found)
}

/// Where to begin when the history does not tell, and the advice in a sentence.
#[must_use]
pub fn full_sweep(input: &StartInput<'_>) -> (Temperature, String) {
    let top = ceiling(&input.ceilings, input.unit_maximum).0;
    let first = input.display().round(input.policy.first_temperature.min(top), &everywhere(top));
    let unit = input.temperature_unit;
    let step = input.policy.largest_step_up.value_in(unit.difference_unit());
    let sentence = format!(
        "Make a full sweep, starting at {}, at most {step:.0} {} up from coupon to coupon.",
        sentences::show(first, unit),
        unit.symbol()
    );
    (first, sentence)
}

/// The settings of a check: a step below, at, and a step above a set point, from cool to hot, rounded to the display's step;
/// none above the ceiling.
///
/// ```
/// use lapwatch_domain::carried::steps_around;
/// use lapwatch_domain::quantity::{TemperatureUnit::Celsius, parse};
/// let (set_point, display) = (parse(515.0, "Cel")?, parse(5.0, "K")?);
/// let all = steps_around(set_point, parse(600.0, "Cel")?, display, Celsius);
/// assert_eq!(all, [parse(495.0, "Cel")?, parse(515.0, "Cel")?, parse(535.0, "Cel")?]);
/// // 535 °C would lie above the ceiling.
/// assert_eq!(steps_around(set_point, parse(520.0, "Cel")?, display, Celsius), all[..2]);
/// # Ok::<(), lapwatch_domain::quantity::QuantityError>(())
/// ```
#[must_use]
pub fn steps_around(
    set_point: Temperature,
    ceiling: Temperature,
    display_step: TemperatureDifference,
    unit: TemperatureUnit,
) -> Vec<Temperature> {
    let step = check_step(unit);
    let limits = everywhere(ceiling);
    let display = Display { step: display_step, unit };
    let steps = [set_point - step, set_point, set_point + step];
    let mut steps: Vec<Temperature> = (steps.into_iter())
        .filter(|setting| limits.contain(*setting))
        .map(|setting| display.round(setting, &limits))
        .collect();
    steps.dedup();
    steps
}

/// From where edges are sought up to a ceiling.
pub(super) fn everywhere(ceiling: Temperature) -> Limits {
    let bottom = Temperature::from_celsius(COOLEST_CELSIUS).min(ceiling);
    Limits::between((bottom, Limit::CoolestStep), (ceiling, Limit::UnitMaximum))
}

/// Shares of failing strips as they are expected before any strip.
fn shares(forecast: &Forecast, input: &StartInput<'_>) -> Option<Shares> {
    let nothing = stand_alone(&[], input.beyond(), &input.policy.edge_prior);
    let [lower, upper] = [Edge::Lower, Edge::Upper].map(|edge| forecast.before_strips(edge));
    CarriedEvidence::new(&nothing, [&lower, &upper]).map(|edges| Shares::carried(&edges))
}

impl Purpose {
    /// Whether such a trial checks a set point instead of looking for edges.
    fn checks(self) -> bool {
        matches!(self, Self::Confirmation | Self::Recheck)
    }
}

impl StartInput<'_> {
    fn display(&self) -> Display {
        Display { step: self.display_step, unit: self.temperature_unit }
    }

    fn beyond(&self) -> Temperature {
        self.unit_maximum + TemperatureDifference::from_kelvin(BEYOND_UNIT_KELVIN)
    }

    /// Below, at and above a set point, without what lies above the ceiling.
    fn around(&self, set_point: Temperature, ceiling: Temperature) -> Vec<Temperature> {
        steps_around(set_point, ceiling, self.display_step, self.temperature_unit)
    }

    /// From below the lower edge to above the upper edge, evenly.
    fn across(&self, [lower, upper]: &[Known; 2], ceiling: Temperature) -> Vec<Temperature> {
        let display = self.display();
        let count =
            |temperature: Temperature| temperature.value_in(self.temperature_unit) / display.step_number();
        // Half a thousandth of a display step, for what was converted from °F.
        let highest = (count(ceiling) + 5e-4).floor();
        let first = count(lower.mean - lower.sd).floor().min(highest);
        let last = count(upper.mean + upper.sd).ceil().clamp(first, highest);
        let step_up = self.policy.largest_step_up.value_in(self.temperature_unit.difference_unit());
        let apart = (step_up / display.step_number() + 5e-4).floor().max(1.0);
        let intervals = ((last - first) / apart).ceil();
        (0..=intervals as usize)
            .map(|index| first + (index as f64 * (last - first) / intervals.max(1.0)).round())
            .filter_map(|steps| display.setting(steps))
            .take(self.policy.maximum_coupons)
            .collect()
    }

    /// A speed at which the set point leaves room for the step above it, should it leave none at the speed meant.
    fn slower(&self, knowledge: &Knowledge, set_point: Temperature, ceiling: Temperature) -> Option<Slower> {
        let room = ceiling - check_step(self.temperature_unit);
        if set_point <= room {
            return None;
        }
        let mean = knowledge.heat_shares().iter().map(|(share, weight)| share.ratio() * weight).sum();
        let (share, here) = (HeatShare::new(mean).ok()?, self.today.conditions()?);
        let at = |speed| equivalent(set_point, here, Conditions { speed, ..here }, share).set_point;
        let meant = here.speed.value_in(self.speed_unit);
        let speed = |number: f64| Speed::new(number, self.speed_unit).ok();
        let (mut low, mut high) = (SLOWEST_SHARE * meant, meant);
        if at(speed(low)?) > room {
            return None;
        }
        for _ in 0..40 {
            let middle = 0.5 * (low + high);
            if at(speed(middle)?) > room { high = middle } else { low = middle }
        }
        let notches = self.speed_unit.notches();
        let slower = speed((low * notches + 1e-9).floor() / notches)?;
        self.today.dwell.check(slower).ok()?;
        let to_set = self.display().round(at(slower), &everywhere(ceiling));
        Some(Slower { speed: slower, set_point: to_set })
    }
}

impl Today {
    /// Sheet temperature and speed, if both are known.
    fn conditions(&self) -> Option<Conditions> {
        self.sheet.map(|sheet| Conditions { sheet, speed: self.speed })
    }
}

fn explain(found: &StartingSteps, input: &StartInput<'_>) -> Vec<String> {
    let unit = input.temperature_unit;
    let show = |temperature| sentences::show(temperature, unit);
    let numbers: Vec<String> = found.steps.iter().map(|step| format!("{:.0}", step.value_in(unit))).collect();
    let mut explanation = vec![
        format!("Weld coupons at {} {}.", numbers.join(", "), unit.symbol()),
        sentences::origin(found.trials, found.latest, input.today.at),
    ];
    explanation.extend(sentences::moved_by_sheets(&input.today.offsets, unit));
    explanation.extend([
        sentences::expected(&found.expected, unit),
        match &found.band {
            Some(band) => format!("The band is expected from {} to {}.", show(band.low), show(band.high)),
            None => "No band is expected in which few enough strips fail.".to_owned(),
        },
        format!(
            "The set point is expected at {}; the trial has to confirm it.",
            show(found.set_point.to_set)
        ),
    ]);
    if let Some(slower) = &found.slower {
        let speed = slower.speed.value_in(input.speed_unit);
        explanation.push(format!(
            "At this speed the set point would lie at the limit. Weld slower: at {speed:.1} {} it is expected at {}.",
            input.speed_unit.symbol(),
            show(slower.set_point)
        ));
    }
    explanation
}
