//! Units.

use chrono::{DateTime, Utc};
use lapwatch_domain::quantity::{
    LengthUnit, PowerUnit, TemperatureDifferenceUnit, TemperatureUnit, VoltageUnit,
};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use super::{Form, Head};
use crate::model::{self, Finding, Version};
use crate::wire::{Measurement, Reader, Text};

/// A unit: one welder.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Unit {
    /// Id; absent in a request, the service makes one.
    pub id: Option<Uuid>,
    /// From when this version holds; absent in a request: from now.
    pub effective_from: Option<DateTime<Utc>>,
    /// Whether the unit is retired from then on; absent in a request: not.
    pub retired: Option<bool>,
    /// Serial number.
    #[schema(value_type = Text, example = "A-1193-07")]
    pub serial: Text,
    /// What is painted on it.
    #[schema(value_type = Text, example = "SM-07")]
    pub label: Text,
    /// Crew that has it, if any.
    pub crew_id: Option<Uuid>,
    /// `automatic` or `hand`.
    #[schema(example = "automatic")]
    pub weld_method: String,
    /// Rated voltage.
    pub rated_voltage: Measurement,
    /// Rated power.
    pub rated_power: Measurement,
    /// Highest set temperature.
    pub maximum_set_temperature: Measurement,
    /// Step of its display: a temperature difference, `K` or `[degR]`.
    pub display_step: Measurement,
    /// Nozzle width.
    pub nozzle_width: Measurement,
    /// Length of sheet that is heated at once.
    pub heated_length: Measurement,
}

impl Form for Unit {
    type Subject = model::Unit;

    fn read(self, id: Option<Uuid>, now: DateTime<Utc>) -> Result<Version<model::Unit>, Vec<Finding>> {
        let mut reader = Reader::default();
        let weld_method = reader.coded("/weld_method", &self.weld_method);
        let rated_voltage = reader.positive("/rated_voltage", &self.rated_voltage);
        let rated_power = reader.positive("/rated_power", &self.rated_power);
        let maximum = reader.set_temperature("/maximum_set_temperature", &self.maximum_set_temperature);
        let display_step = reader.display_step("/display_step", &self.display_step);
        let nozzle_width = reader.positive("/nozzle_width", &self.nozzle_width);
        let heated_length = reader.positive("/heated_length", &self.heated_length);
        let value = (|| {
            Some(model::Unit {
                serial: self.serial.0,
                label: self.label.0,
                crew_id: self.crew_id,
                weld_method: weld_method?,
                rated_voltage: rated_voltage?,
                rated_power: rated_power?,
                maximum_set_temperature: maximum?,
                display_step: display_step?,
                nozzle_width: nozzle_width?,
                heated_length: heated_length?,
            })
        })();
        Head { id: self.id, effective_from: self.effective_from, retired: self.retired }
            .version(id, now, reader, value)
    }

    fn show(version: &Version<model::Unit>) -> Self {
        let unit = &version.value;
        Self {
            id: Some(version.id),
            effective_from: Some(version.effective_from),
            retired: Some(version.retired),
            serial: Text(unit.serial.clone()),
            label: Text(unit.label.clone()),
            crew_id: unit.crew_id,
            weld_method: unit.weld_method.code().to_owned(),
            rated_voltage: Measurement::of(unit.rated_voltage, VoltageUnit::Volt),
            rated_power: Measurement::of(unit.rated_power, PowerUnit::Watt),
            maximum_set_temperature: Measurement::of(unit.maximum_set_temperature, TemperatureUnit::Celsius),
            display_step: Measurement::of(unit.display_step, TemperatureDifferenceUnit::Kelvin),
            nozzle_width: Measurement::of(unit.nozzle_width, LengthUnit::Millimetre),
            heated_length: Measurement::of(unit.heated_length, LengthUnit::Millimetre),
        }
    }
}
