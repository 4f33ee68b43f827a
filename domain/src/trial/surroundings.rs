//! What was measured around a trial.

use crate::quantity::{Percent, Temperature, TemperatureDifference};
use crate::supply::{AtMachine, Headroom, Rating, Reach, Supply, USUAL_INLET_TEMPERATURE, at_machine};
use crate::weather::{Condensation, Instruments, condensation};

/// What was measured around a trial and is known of its supply. Nothing of it is required. It leads to cautions; edges,
/// band and set point depend on nothing of it but the sheet's temperature, and on that only where coupons were welded
/// at different speeds. What is missing, or is such that nothing can be computed from it (air of 70 °C, a supply of
/// 0 V), leads to none.
///
/// ```
/// use lapwatch_domain::quantity::parse;
/// use lapwatch_domain::supply::LEAST_RESERVE;
/// use lapwatch_domain::trial::Surroundings;
/// let nothing_known = Surroundings::default();
/// assert_eq!(nothing_known.headroom(parse(620.0, "Cel")?, parse(480.0, "Cel")?, LEAST_RESERVE), None);
/// # Ok::<(), lapwatch_domain::quantity::QuantityError>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Surroundings {
    /// Temperature of the sheet.
    pub sheet: Option<Temperature>,
    /// Temperature of the air.
    pub air: Option<Temperature>,
    /// Relative humidity of the air.
    pub humidity: Option<Percent>,
    /// The unit's plate.
    pub rating: Option<Rating>,
    /// Voltages and cord.
    pub supply: Supply,
}

impl Surroundings {
    /// How the sheet stands to the dew point, with usual [`Instruments`]; `None` unless sheet, air and humidity are
    /// known and within what the calculation allows.
    #[must_use]
    pub fn condensation(&self, least: TemperatureDifference) -> Option<Condensation> {
        condensation(self.sheet?, (self.air?, self.humidity?), &Instruments::default(), least).ok()
    }

    /// The voltage at the machine; `None` unless the plate, and the voltage under load or the cord, are known.
    #[must_use]
    pub fn at_machine(&self) -> Option<AtMachine> {
        at_machine(self.rating?, &self.supply).ok().flatten()
    }

    /// How far a set point lies below what the heater can reach on this supply, taking `unit_maximum` as what it
    /// reaches at its rated voltage, and air of [`USUAL_INLET_TEMPERATURE`] when none was measured; `None` when the
    /// voltage at the machine is unknown.
    #[must_use]
    pub fn headroom(
        &self,
        unit_maximum: Temperature,
        set_point: Temperature,
        least: TemperatureDifference,
    ) -> Option<Headroom> {
        let reach = Reach::new(self.air.unwrap_or(USUAL_INLET_TEMPERATURE), unit_maximum).ok()?;
        Some(reach.headroom(&self.at_machine()?, set_point, least))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::caution::Caution;
    use crate::quantity::{Voltage, parse};
    use crate::supply::{Cord, CordSize};
    use crate::trial::tests::sweep;
    use crate::trial::{TrialInput, evaluate};

    fn celsius(value: f64) -> Option<Temperature> {
        Some(Temperature::from_celsius(value))
    }

    fn cautions(surroundings: Surroundings) -> Vec<Caution> {
        evaluate(&TrialInput { surroundings, ..sweep() }).cautions
    }

    fn on(supply: Supply) -> Surroundings {
        let rating = Rating::new(parse(230.0, "V").unwrap(), parse(4.6, "kW").unwrap()).unwrap();
        Surroundings { rating: Some(rating), supply, ..Surroundings::default() }
    }

    fn volts(value: f64) -> Option<Voltage> {
        Some(parse(value, "V").unwrap())
    }

    /// The worked sweep sets 475 °C on a unit of 620 °C: 20 + 600·(V/230)² is 20 K above that at 204.6 V.
    #[test]
    fn a_sagging_supply_is_named_when_it_takes_the_reserve() {
        let sags = |supply: Supply| cautions(on(supply)).contains(&Caution::SupplySag);
        let loaded = |value: f64| Supply { loaded: volts(value), ..Supply::default() };
        assert!(!sags(loaded(205.0)) && sags(loaded(204.0)));
        let cord = |metres: f64| Cord::new(CordSize::SquareMm2_5, parse(metres, "m").unwrap()).ok();
        let through = |metres: f64| Supply { cord: cord(metres), ..Supply::default() };
        assert!(!sags(through(50.0)) && sags(through(90.0)));
        // The measurement counts, not the cord.
        assert!(!sags(Supply { loaded: volts(225.0), ..through(90.0) }));
        assert!(!sags(Supply::default()) && !sags(loaded(0.0)));
        let plate_unknown = Surroundings { rating: None, ..on(loaded(180.0)) };
        assert!(!cautions(plate_unknown).contains(&Caution::SupplySag));
        // Two phases for one, or the wrong plate.
        let over = |value: f64| cautions(on(loaded(value))).contains(&Caution::Overvoltage);
        assert!(over(400.0) && over(254.0) && !over(252.0) && !over(230.0));
        // Near the top of a unit on full voltage it is the unit's limit, not the supply.
        let top = TrialInput { unit_maximum: Temperature::from_celsius(585.0), ..sweep() };
        let policy = crate::policy::Policy {
            least_heater_reserve: TemperatureDifference::from_kelvin(200.0),
            ..crate::policy::Policy::default()
        };
        let warned = |volts: f64| {
            let input = TrialInput { surroundings: on(loaded(volts)), policy, ..top.clone() };
            evaluate(&input).cautions.contains(&Caution::SupplySag)
        };
        assert!(!warned(230.0) && warned(229.0));
    }

    #[test]
    fn a_sheet_near_the_dew_point_is_named() {
        let near = |sheet: Option<Temperature>, air: Option<Temperature>, humidity: Option<f64>| {
            let humidity = humidity.map(|share| parse(share, "%").unwrap());
            cautions(Surroundings { sheet, air, humidity, ..Surroundings::default() })
                .contains(&Caution::NearDewPoint)
        };
        // The dew point of 20 °C and 50 % is 9.3 °C.
        assert!(
            near(celsius(12.2), celsius(20.0), Some(50.0)) && near(celsius(5.0), celsius(20.0), Some(50.0))
        );
        assert!(!near(celsius(12.3), celsius(20.0), Some(50.0)));
        // All three have to be known, and such that there is a dew point.
        assert!(!near(None, celsius(20.0), Some(50.0)) && !near(celsius(5.0), None, Some(50.0)));
        assert!(!near(celsius(5.0), celsius(20.0), None) && !near(celsius(5.0), celsius(20.0), Some(0.0)));
    }
}
