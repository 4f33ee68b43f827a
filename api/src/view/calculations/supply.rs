//! What a cord leaves of a unit's voltage and reach.

use lapwatch_domain::caution::Caution as Known;
use lapwatch_domain::quantity::{CurrentUnit, Quantity};
use lapwatch_domain::supply;
use serde::Serialize;
use utoipa::ToSchema;

use crate::model::calculations::{Heater, Supply};
use crate::service::calculations::SupplyFound;
use crate::view::evaluation::Caution;
use crate::view::{apart, on, ratio, whole};
use crate::wire::Measurement;

/// What arrives at the machine, how hot it can still get, and which cord would do.
#[derive(Debug, Serialize, ToSchema)]
pub struct SupplyAnswer {
    /// What arrives under load; null when neither a voltage under load nor a cord was sent.
    pub at_machine: Option<AtMachine>,
    /// What the heater reaches with that; null unless asked for and known.
    pub reach: Option<HeaterReach>,
    /// Which cord would do; null unless asked for.
    pub cord: Option<CordAdvice>,
    /// Short cautions.
    pub cautions: Vec<Caution>,
    /// The same in plain sentences.
    pub explanation: Vec<String>,
}

/// What arrives at the machine under load.
#[derive(Debug, Serialize, ToSchema)]
pub struct AtMachine {
    /// The voltage.
    pub voltage: Measurement,
    /// `measured_under_load`, or `computed_from_idle`, `computed_from_source`, `computed_from_rated` through the cord.
    #[schema(example = "computed_from_rated")]
    pub basis: &'static str,
    /// Share of the source's voltage that is lost on the way; null when nothing is known of the source.
    pub drop_share: Option<f64>,
    /// Heating power over the rated one.
    pub power_share: f64,
    /// The current that the machine draws.
    pub current: Measurement,
}

/// How hot the unit can still get: an estimate, too low if the blower slows with the same sag.
#[derive(Debug, Serialize, ToSchema)]
pub struct HeaterReach {
    /// What the unit can reach.
    pub reachable: Measurement,
    /// How far the set point lies below it; below zero when it lies above.
    pub reserve: Measurement,
    /// Whether that is less than was asked for.
    pub is_short: bool,
}

/// Which cord would do, by voltage alone.
#[derive(Debug, Serialize, ToSchema)]
pub struct CordAdvice {
    /// `enough`; `none_listed` when not even the thickest listed size is; `no_cord` when the set point would lie too close to
    /// what the unit reaches even without one.
    #[schema(example = "enough")]
    pub code: &'static str,
    /// The size: the thinnest that is enough, or the thickest listed; null with `no_cord`.
    #[schema(example = "4 mm²")]
    pub size: Option<&'static str>,
    /// What would arrive with it, or without any.
    pub at_machine: AtMachine,
    /// The advice in plain sentences.
    pub sentence: String,
}

impl SupplyAnswer {
    /// The answer in the units of the question.
    pub fn of(asked: &Supply, found: &SupplyFound) -> Self {
        let reach = asked.heater.zip(found.headroom);
        let cord = found.cord.map(|advice| CordAdvice::of(asked, &advice));
        let overvoltage = found.at_machine.is_some_and(|at_machine| at_machine.is_overvoltage());
        let explanation = [
            overvoltage.then(|| Known::Overvoltage.text().to_owned()),
            Some(arrival(asked, found.at_machine.as_ref())),
            asked.supply.unexplained_drop(asked.rating).and_then(unexplained),
            reach.filter(|_| !overvoltage).map(|(heater, headroom)| reached(&heater, &headroom)),
            cord.as_ref().map(|cord| cord.sentence.clone()),
        ];
        let short = reach.is_some_and(|(_, headroom)| headroom.is_short);
        let cautions = [(overvoltage, Known::Overvoltage), (short, Known::SupplySag), (true, Known::Cords)];
        Self {
            at_machine: found.at_machine.map(|at_machine| AtMachine::of(asked, &at_machine)),
            reach: reach.map(|(heater, headroom)| HeaterReach {
                reachable: on(heater.unit, headroom.reachable),
                reserve: apart(heater.unit, headroom.reserve),
                is_short: headroom.is_short,
            }),
            cord,
            cautions: cautions
                .into_iter()
                .filter(|(applies, _)| *applies)
                .map(|(_, caution)| Caution::from(caution))
                .collect(),
            explanation: explanation.into_iter().flatten().collect(),
        }
    }
}

impl AtMachine {
    fn of(asked: &Supply, at_machine: &supply::AtMachine) -> Self {
        Self {
            voltage: Measurement::of(at_machine.voltage, asked.unit),
            basis: at_machine.basis.code(),
            drop_share: at_machine.drop_share.map(ratio),
            power_share: ratio(at_machine.power_share),
            current: Measurement::of(at_machine.current, CurrentUnit::Ampere),
        }
    }
}

impl CordAdvice {
    fn of(asked: &Supply, advice: &supply::CordAdvice) -> Self {
        let (code, size, at_machine) = match advice {
            supply::CordAdvice::Enough { size, at_machine } => ("enough", Some(size.name()), at_machine),
            supply::CordAdvice::NoneListed { thickest, at_machine } => {
                ("none_listed", Some(thickest.name()), at_machine)
            }
            supply::CordAdvice::NoCord { at_source } => ("no_cord", None, at_source),
        };
        Self {
            code,
            size,
            at_machine: AtMachine::of(asked, at_machine),
            sentence: advice.sentence(asked.rating),
        }
    }
}

fn arrival(asked: &Supply, at_machine: Option<&supply::AtMachine>) -> String {
    let Some(at_machine) = at_machine else {
        return "Nothing is known of the voltage at the machine: measure it there under load, or send the cord."
            .to_owned();
    };
    let measured = at_machine.basis == supply::VoltageBasis::Measured;
    format!(
        "{} {} {} the machine under load{}",
        whole(at_machine.voltage.value_in(asked.unit)),
        lapwatch_domain::quantity::Unit::code(asked.unit),
        if measured { "was measured at" } else { "should arrive at" },
        if measured { "." } else { "; a voltage measured there is worth more than this estimate." },
    )
}

/// What a drop beyond that of the cord means.
fn unexplained(share: f64) -> Option<String> {
    let percent = whole(share.abs() * 100.0);
    if share >= supply::LARGE_UNEXPLAINED_DROP {
        Some(format!(
            "{percent} % of the voltage is lost beyond what this cord explains: a thicker cord does not mend that. Unplug, \
             feel plugs and joints for heat, unroll the reel, and have the supply checked."
        ))
    } else if share <= -supply::LARGE_UNEXPLAINED_DROP {
        Some(format!(
            "{percent} % less of the voltage is lost than this cord takes: check both voltages, and its size and length."
        ))
    } else {
        None
    }
}

fn reached(heater: &Heater, headroom: &supply::Headroom) -> String {
    let symbol = heater.unit.symbol();
    let reachable = whole(headroom.reachable.value_in(heater.unit));
    let set_point = whole(heater.set_point.value_in(heater.unit));
    if headroom.is_short {
        format!(
            "With that the heater reaches about {reachable} {symbol}, too little for a set point of {set_point} \
             {symbol} with its reserve: weld slower at a lower set point, or mend the supply, and test again."
        )
    } else {
        format!("With that the heater reaches about {reachable} {symbol}: enough for {set_point} {symbol}.")
    }
}
