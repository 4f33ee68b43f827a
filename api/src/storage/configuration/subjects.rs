//! The kinds of subject and their columns.

use chrono_tz::Tz;
use lapwatch_domain::quantity::{SpeedUnit, TemperatureUnit, Unit as _, unit_from_code};
use tokio_postgres::Row;
use tokio_postgres::types::ToSql;

use super::{Error, Result, Subject};
use crate::model::{Crew, CriteriaException, Lot, Membrane, Site, Unit};
use crate::storage::access::{coded, decode};
use crate::storage::si::{Stored, optional, quantity};

type Columns = Vec<Box<dyn ToSql + Sync + Send>>;

/// Boxes the columns of a version.
macro_rules! columns {
    ($($value:expr),* $(,)?) => { vec![$(Box::new($value) as Box<dyn ToSql + Sync + Send>),*] };
}

impl Subject for Site {
    const NAME: &'static str = "site";
    const INSERT: &'static str = include_str!("insert_site.sql");
    const VERSIONS: &'static str = "SELECT count(*) FROM site WHERE organization_id = $1 AND id = $2";
    const IN_FORCE: &'static str = include_str!("sites.sql");

    fn params(&self) -> Columns {
        columns![
            self.name.clone(),
            self.time_zone.name(),
            self.position_deg.map(|(latitude, _)| latitude),
            self.position_deg.map(|(_, longitude)| longitude),
        ]
    }

    fn from_row(row: &Row) -> Result<Self> {
        let zone: &str = row.get("time_zone");
        let latitude: Option<f64> = row.get("latitude_deg");
        Ok(Self {
            name: row.get("name"),
            time_zone: zone
                .parse::<Tz>()
                .map_err(|_| Error::Corrupt(format!("`{zone}` is not a time zone")))?,
            position_deg: latitude.zip(row.get("longitude_deg")),
        })
    }
}

impl Subject for Crew {
    const NAME: &'static str = "crew";
    const INSERT: &'static str = include_str!("insert_crew.sql");
    const VERSIONS: &'static str = "SELECT count(*) FROM crew WHERE organization_id = $1 AND id = $2";
    const IN_FORCE: &'static str = include_str!("crews.sql");

    fn params(&self) -> Columns {
        columns![self.name.clone(), self.site_id, self.temperature_unit.code(), self.speed_unit.code()]
    }

    fn from_row(row: &Row) -> Result<Self> {
        Ok(Self {
            name: row.get("name"),
            site_id: row.get("site_id"),
            temperature_unit: unit_code::<TemperatureUnit>(row, "temperature_unit")?,
            speed_unit: unit_code::<SpeedUnit>(row, "speed_unit")?,
        })
    }
}

fn unit_code<U: lapwatch_domain::quantity::Unit>(row: &Row, column: &str) -> Result<U> {
    let code: &str = row.get(column);
    unit_from_code(code).ok_or_else(|| Error::Corrupt(format!("`{code}` is not a unit of measurement here")))
}

impl Subject for Membrane {
    const NAME: &'static str = "membrane";
    const INSERT: &'static str = include_str!("insert_membrane.sql");
    const VERSIONS: &'static str = "SELECT count(*) FROM membrane WHERE organization_id = $1 AND id = $2";
    const IN_FORCE: &'static str = include_str!("membranes.sql");

    fn params(&self) -> Columns {
        columns![
            self.name.clone(),
            self.material_class.code(),
            self.thickness.si(),
            self.reinforced,
            self.maker_ceiling.map(Stored::si),
        ]
    }

    fn from_row(row: &Row) -> Result<Self> {
        Ok(Self {
            name: row.get("name"),
            material_class: coded(row, "material_class")?,
            thickness: quantity(row, "thickness_mm")?,
            reinforced: row.get("reinforced"),
            maker_ceiling: optional(row, "maker_ceiling_c")?,
        })
    }
}

impl Subject for Lot {
    const NAME: &'static str = "lot";
    const INSERT: &'static str = include_str!("insert_lot.sql");
    const VERSIONS: &'static str = "SELECT count(*) FROM lot WHERE organization_id = $1 AND id = $2";
    const IN_FORCE: &'static str = include_str!("lots.sql");

    fn params(&self) -> Columns {
        columns![self.membrane_id, self.code.clone(), self.produced_on]
    }

    fn from_row(row: &Row) -> Result<Self> {
        Ok(Self {
            membrane_id: row.get("membrane_id"),
            code: row.get("code"),
            produced_on: row.get("produced_on"),
        })
    }
}

impl Subject for Unit {
    const NAME: &'static str = "unit";
    const INSERT: &'static str = include_str!("insert_unit.sql");
    const VERSIONS: &'static str = "SELECT count(*) FROM unit WHERE organization_id = $1 AND id = $2";
    const IN_FORCE: &'static str = include_str!("units.sql");

    fn params(&self) -> Columns {
        columns![
            self.serial.clone(),
            self.label.clone(),
            self.crew_id,
            self.weld_method.code(),
            self.rated_voltage.si(),
            self.rated_power.si(),
            self.maximum_set_temperature.si(),
            self.display_step.si(),
            self.nozzle_width.si(),
            self.heated_length.si(),
        ]
    }

    fn from_row(row: &Row) -> Result<Self> {
        Ok(Self {
            serial: row.get("serial"),
            label: row.get("label"),
            crew_id: row.get("crew_id"),
            weld_method: coded(row, "weld_method")?,
            rated_voltage: quantity(row, "rated_voltage_v")?,
            rated_power: quantity(row, "rated_power_w")?,
            maximum_set_temperature: quantity(row, "maximum_set_temperature_c")?,
            display_step: quantity(row, "display_step_k")?,
            nozzle_width: quantity(row, "nozzle_width_mm")?,
            heated_length: quantity(row, "heated_length_mm")?,
        })
    }
}

impl Subject for CriteriaException {
    const NAME: &'static str = "criteria exception";
    const KIND: &'static str = "criteria_exception";
    const INSERT: &'static str = include_str!("insert_criteria_exception.sql");
    const VERSIONS: &'static str =
        "SELECT count(*) FROM criteria_exception WHERE organization_id = $1 AND id = $2";
    const IN_FORCE: &'static str = include_str!("criteria_exceptions.sql");

    fn params(&self) -> Columns {
        columns![
            self.name.clone(),
            self.site_id,
            self.membrane_id,
            self.weld_method.map(|method| method.code()),
            self.bond_width.map(Stored::si),
            self.minimum_strips.map(i16::from),
            self.share_limit,
            self.cold_weight,
            self.hot_weight,
            self.ceiling.map(Stored::si),
        ]
    }

    fn from_row(row: &Row) -> Result<Self> {
        let method: Option<&str> = row.get("weld_method");
        let strips: Option<i16> = row.get("minimum_strips");
        let strips = strips.map(u8::try_from).transpose();
        Ok(Self {
            name: row.get("name"),
            site_id: row.get("site_id"),
            membrane_id: row.get("membrane_id"),
            weld_method: method.map(decode).transpose()?,
            bond_width: optional(row, "bond_width_mm")?,
            minimum_strips: strips.map_err(|_| Error::Corrupt("a number of strips below zero".to_owned()))?,
            share_limit: row.get("share_limit"),
            cold_weight: row.get("cold_weight"),
            hot_weight: row.get("hot_weight"),
            ceiling: optional(row, "ceiling_c")?,
        })
    }
}
