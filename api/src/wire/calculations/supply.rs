//! What a cord leaves of a unit's voltage and reach, and which cord would do.

use lapwatch_domain::quantity::{Percent, TemperatureUnit, VoltageUnit, unit_from_code};
use lapwatch_domain::supply::{self, CordSize};
use serde::Deserialize;
use utoipa::ToSchema;

use crate::model::Finding;
use crate::model::calculations as model;
use crate::wire::{Measurement, Reader, Text};

/// A unit's plate, and what is known of its supply.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({
    "cord": { "length": { "unit": "m", "value": 50 }, "size": "2.5 mm²" },
    "heater": {
        "highest_set_temperature": { "unit": "Cel", "value": 620 },
        "set_point": { "unit": "Cel", "value": 540 },
    },
    "rated_power": { "unit": "kW", "value": 4.6 },
    "rated_voltage": { "unit": "V", "value": 230 },
    "which_cord": { "at_least": "2.5 mm²" },
}))]
pub struct SupplyQuestion {
    /// Voltage on the unit's plate, 1 to 1000 V.
    pub rated_voltage: Measurement,
    /// Power on the unit's plate, 1 W to 100 kW.
    pub rated_power: Measurement,
    /// Nominal voltage of the source; default: the rated voltage.
    pub source_voltage: Option<Measurement>,
    /// Voltage measured without load; taken before the nominal one.
    pub voltage_idle: Option<Measurement>,
    /// Voltage measured under load at the machine; taken before any computed one.
    pub voltage_loaded: Option<Measurement>,
    /// The cord from the source to the machine.
    pub cord: Option<CordForm>,
    /// Ask how hot the unit can still get.
    pub heater: Option<Heater>,
    /// Ask which cord would do, at the length of `cord`.
    pub which_cord: Option<CordAdviceQuestion>,
}

/// A cord.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(as = Cord)]
pub struct CordForm {
    /// Its size, as printed on it: `12 AWG`, `12/3`, `2.5 mm²`, `3G2.5`.
    #[schema(value_type = Text, example = "2.5 mm²")]
    pub size: Text,
    /// Its length, one way.
    pub length: Measurement,
    /// Temperature of its conductors; default 75 °C, warm from load and sun.
    pub conductor_temperature: Option<Measurement>,
}

/// The heater.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Heater {
    /// What the unit reaches at its rated voltage: its highest setting where that was never measured.
    pub highest_set_temperature: Measurement,
    /// Temperature of the air that it takes in; default 20 °C.
    pub inlet_temperature: Option<Measurement>,
    /// The setting that is to be held.
    pub set_point: Measurement,
    /// How far it should lie below what the unit reaches; default 20 K.
    pub reserve: Option<Measurement>,
}

/// Which cord would do.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct CordAdviceQuestion {
    /// The thinnest size that local codes and the cord's maker let carry the unit's current: nothing thinner is advised.
    #[schema(value_type = Text, example = "2.5 mm²")]
    pub at_least: Text,
    /// Largest share of the voltage to lose on the way, `%`; default 3 %. Where `heater` is given and this is not, the
    /// cord has to leave the set point within reach instead.
    pub drop_limit: Option<Measurement>,
}

impl SupplyQuestion {
    /// The question in domain values.
    ///
    /// # Errors
    /// Every broken rule with its pointer.
    pub fn read(&self) -> Result<model::Supply, Vec<Finding>> {
        let mut reader = Reader::default();
        let question = self.convert(&mut reader);
        reader.findings.into_result(question)
    }

    fn convert(&self, r: &mut Reader) -> Option<model::Supply> {
        let unit: Option<VoltageUnit> = unit_from_code(&self.rated_voltage.unit);
        let voltage = r.positive("/rated_voltage", &self.rated_voltage);
        let power = r.positive("/rated_power", &self.rated_power);
        let rating = voltage.zip(power).and_then(|(voltage, power)| {
            let rating = supply::Rating::new(voltage, power);
            r.domain(rating, |error| match error {
                supply::SupplyError::RatedVoltage => ("/rated_voltage/value", error.code()),
                _ => ("/rated_power/value", error.code()),
            })
        });
        let source = r.supply_voltage("/source_voltage", self.source_voltage.as_ref());
        let idle = r.supply_voltage("/voltage_idle", self.voltage_idle.as_ref());
        let loaded = r.supply_voltage("/voltage_loaded", self.voltage_loaded.as_ref());
        let cord = r.present(self.cord.as_ref(), |r, cord| cord.convert(r));
        let heater = r.present(self.heater.as_ref(), |r, heater| heater.convert(r));
        let which = r.present(self.which_cord.as_ref(), |r, which| which.convert(r));
        let length_known = self.which_cord.is_none() || self.cord.is_some();
        let detail =
            "Which cord would do depends on its length: send `cord`, with the size that is there now.";
        r.require(length_known, "/cord", "required", detail);
        Some(model::Supply {
            unit: unit?,
            rating: rating?,
            supply: supply::Supply { source: source?, idle: idle?, loaded: loaded?, cord: cord? },
            heater: heater?,
            which_cord: which?,
        })
    }
}

impl CordForm {
    fn convert(&self, r: &mut Reader) -> Option<supply::Cord> {
        let size = r.cord_size("/cord/size", &self.size);
        let length = r.positive("/cord/length", &self.length);
        let conductor = r.optional("/cord/conductor_temperature", self.conductor_temperature.as_ref());
        let cord = supply::Cord::new(size?, length?);
        let cord = r.domain(cord, |error| ("/cord/length/value", error.code()))?;
        match conductor? {
            None => Some(cord),
            Some(conductor) => {
                r.domain(cord.at(conductor), |error| ("/cord/conductor_temperature/value", error.code()))
            }
        }
    }
}

impl Heater {
    fn convert(&self, r: &mut Reader) -> Option<model::Heater> {
        let unit: Option<TemperatureUnit> = unit_from_code(&self.set_point.unit);
        let highest = r.set_temperature("/heater/highest_set_temperature", &self.highest_set_temperature);
        let inlet = r.climate("/heater/inlet_temperature", self.inlet_temperature.as_ref());
        let set_point = r.set_temperature("/heater/set_point", &self.set_point);
        let reserve = r.optional("/heater/reserve", self.reserve.as_ref());
        let inlet = inlet?.unwrap_or(supply::USUAL_INLET_TEMPERATURE);
        let reach = r.domain(supply::Reach::new(inlet, highest?), |error| {
            ("/heater/highest_set_temperature/value", error.code())
        });
        Some(model::Heater {
            unit: unit?,
            reach: reach?,
            set_point: set_point?,
            reserve: reserve?.unwrap_or(supply::LEAST_RESERVE),
        })
    }
}

impl CordAdviceQuestion {
    fn convert(&self, r: &mut Reader) -> Option<(CordSize, Option<Percent>)> {
        let at_least = r.cord_size("/which_cord/at_least", &self.at_least);
        let limit = r.optional("/which_cord/drop_limit", self.drop_limit.as_ref());
        Some((at_least?, limit?))
    }
}

impl Reader {
    /// The size of a cord by what is printed on it.
    fn cord_size(&mut self, pointer: &str, printed: &Text) -> Option<CordSize> {
        let size = CordSize::from_marking(&printed.0);
        if size.is_none() {
            let known: Vec<&str> = CordSize::ALL.iter().map(|size| size.name()).collect();
            let detail = format!(
                "`{}` names no size that is known here; send one of {}, with its unit.",
                printed.0,
                known.join(", ")
            );
            self.findings.add(pointer, "unknown_cord_size", detail);
        }
        size
    }

    /// A voltage of some site's supply.
    fn supply_voltage(
        &mut self,
        pointer: &str,
        given: Option<&Measurement>,
    ) -> Option<Option<lapwatch_domain::quantity::Voltage>> {
        use lapwatch_domain::quantity::Quantity as _;
        let voltage: Option<lapwatch_domain::quantity::Voltage> = self.optional(pointer, given)?;
        let plausible =
            voltage.is_none_or(|voltage| (1.0..=1000.0).contains(&voltage.value_in(VoltageUnit::Volt)));
        let error = supply::SupplyError::Voltage;
        let detail = crate::wire::sentence(&error);
        self.require(plausible, &format!("{pointer}/value"), error.code(), &detail);
        plausible.then_some(voltage)
    }
}
