//! Which cord would do.

use super::{AtMachine, Cord, CordSize, Rating, Reach, Supply, SupplyError, at_machine};
use crate::quantity::{
    CurrentUnit, Length, Percent, Quantity, ResistanceUnit, Temperature, TemperatureDifference, Voltage,
    VoltageUnit,
};

/// Largest share of the voltage to lose in a cord when nobody has decided otherwise: 3 %. An informational note of
/// the NEC recommends it for branch circuits, as quoted by several public sources; it is no requirement.
pub const USUAL_DROP_LIMIT: Percent = Percent::constant(3.0);

/// What the cord has to achieve.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum CordGoal {
    /// No more than this share of the source's voltage is lost on the way; above 0 and below 100 %.
    Drop(Percent),
    /// The set point stays reachable with a reserve.
    Reach {
        /// What the unit reaches at its rated voltage.
        reach: Reach,
        /// The set point.
        set_point: Temperature,
        /// How far it is to lie below what the unit reaches; zero or above.
        reserve: TemperatureDifference,
    },
}

/// Which cord would do, for what.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CordQuestion {
    /// The unit's plate.
    pub rating: Rating,
    /// Voltage of the source, measured without load or nominal; `None`: the rated voltage.
    pub source: Option<Voltage>,
    /// The way from the source to the machine.
    pub length: Length,
    /// Temperature of the conductors, [`USUAL_CONDUCTOR_TEMPERATURE`](super::USUAL_CONDUCTOR_TEMPERATURE) if unknown.
    pub conductor: Temperature,
    /// The thinnest size that local codes and the cord's maker let carry the unit's current. Nothing thinner is
    /// advised, and only sizes of the same system are.
    pub at_least: CordSize,
    /// What the cord has to achieve.
    pub goal: CordGoal,
}

/// The answer: by voltage alone.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum CordAdvice {
    /// This is the thinnest listed size that does.
    Enough {
        /// The size.
        size: CordSize,
        /// What arrives with it.
        at_machine: AtMachine,
    },
    /// No cord does: the set point would lie too close to what the unit reaches if the machine stood at the source.
    NoCord {
        /// What there is at the source.
        at_source: AtMachine,
    },
    /// No listed size does.
    NoneListed {
        /// The thickest one listed.
        thickest: CordSize,
        /// What would arrive with it.
        at_machine: AtMachine,
    },
}

impl CordAdvice {
    /// The advice in plain sentences, for the unit that was asked about.
    #[must_use]
    pub fn sentence(&self, rating: Rating) -> String {
        let (voltage, at_machine) = match self {
            Self::NoCord { at_source } => (
                "No cord gets there: the set point lies too close to what the unit reaches on this supply. Weld slower, at a lower set point."
                    .to_owned(),
                at_source,
            ),
            Self::Enough { size, at_machine } => {
                (format!("For the voltage, a cord of {} or thicker is enough.", size.name()), at_machine)
            }
            Self::NoneListed { thickest, at_machine } => {
                let thickest = thickest.name();
                let way_out = "bring the source nearer, or find a stronger one.";
                (format!("At this length not even a cord of {thickest} is enough: {way_out}"), at_machine)
            }
        };
        // Up, never down, and never less than on full voltage: who chooses a cord by it must not choose a thin one.
        let rated =
            rating.voltage().value_in(VoltageUnit::Volt) / rating.resistance().value_in(ResistanceUnit::Ohm);
        let amperes = at_machine.current.value_in(CurrentUnit::Ampere).max(rated).ceil();
        format!("{voltage} What may carry {amperes:.0} A is for local codes and the cord's maker to say.")
    }
}

/// The thinnest listed size, of the system that `at_least` belongs to, that reaches the goal.
///
/// # Errors
/// [`SupplyError::DropLimit`] unless the limit is above 0 and below 100 %; [`SupplyError::NegativeReserve`];
/// [`SupplyError::CordLength`], [`SupplyError::ConductorTemperature`], [`SupplyError::Voltage`] as [`Cord::new`],
/// [`Cord::at`] and [`at_machine`].
///
/// ```
/// use lapwatch_domain::quantity::parse;
/// use lapwatch_domain::supply::*;
/// let question = CordQuestion {
///     rating: Rating::new(parse(240.0, "V")?, parse(4.6, "kW")?)?,
///     source: None,
///     length: parse(100.0, "[ft_i]")?,
///     conductor: USUAL_CONDUCTOR_TEMPERATURE,
///     at_least: CordSize::Awg14,
///     goal: CordGoal::Drop(USUAL_DROP_LIMIT),
/// };
/// assert!(matches!(thinnest(&question)?, CordAdvice::Enough { size: CordSize::Awg10, .. }));
/// let far = CordQuestion { length: parse(500.0, "[ft_i]")?, ..question };
/// assert!(matches!(thinnest(&far)?, CordAdvice::NoneListed { thickest: CordSize::Awg6, .. }));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn thinnest(question: &CordQuestion) -> Result<CordAdvice, SupplyError> {
    match question.goal {
        CordGoal::Drop(limit) if !(limit.ratio() > 0.0 && limit.ratio() < 1.0) => {
            return Err(SupplyError::DropLimit);
        }
        CordGoal::Reach { reserve, .. } if reserve < TemperatureDifference::ZERO => {
            return Err(SupplyError::NegativeReserve);
        }
        CordGoal::Drop(_) | CordGoal::Reach { .. } => {}
    }
    if let CordGoal::Reach { .. } = question.goal {
        let at_source = question.arrives_over(question.at_least, Length::millimetres(0.0))?;
        if !question.goal.is_met(&at_source) {
            return Ok(CordAdvice::NoCord { at_source });
        }
    }
    let mut thickest = (question.at_least, question.arrives(question.at_least)?);
    for &size in CordSize::ALL {
        if size.system() != question.at_least.system() || size < question.at_least {
            continue;
        }
        let at_machine = question.arrives(size)?;
        if question.goal.is_met(&at_machine) {
            return Ok(CordAdvice::Enough { size, at_machine });
        }
        thickest = (size, at_machine);
    }
    let (thickest, at_machine) = thickest;
    Ok(CordAdvice::NoneListed { thickest, at_machine })
}

impl CordQuestion {
    /// What arrives through a cord of that size.
    fn arrives(&self, size: CordSize) -> Result<AtMachine, SupplyError> {
        self.arrives_over(size, self.length)
    }

    fn arrives_over(&self, size: CordSize, length: Length) -> Result<AtMachine, SupplyError> {
        let cord = Cord::new(size, length)?.at(self.conductor)?;
        let supply = Supply { source: self.source, cord: Some(cord), ..Supply::default() };
        Ok(at_machine(self.rating, &supply)?.expect("a cord is known"))
    }
}

impl CordGoal {
    fn is_met(self, at: &AtMachine) -> bool {
        match self {
            Self::Drop(limit) => at.drop_share.is_some_and(|share| share <= limit.ratio()),
            Self::Reach { reach, set_point, reserve } => !reach.headroom(at, set_point, reserve).is_short,
        }
    }
}
