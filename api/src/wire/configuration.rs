//! Sites, crews, membranes, lots, units, criteria and policy.
//!
//! One type serves a kind of subject in both directions. Members that a request may leave out and an answer always
//! has are marked so. Answers give measurements in `Cel`, `K`, `mm`, `V` and `W`.

use chrono::{DateTime, NaiveDate, NaiveTime, Utc};
use chrono_tz::Tz;
use lapwatch_domain::quantity::{
    LengthUnit, PowerUnit, SpeedUnit, TemperatureDifferenceUnit, TemperatureUnit, Unit as _, VoltageUnit,
};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use super::{Measurement, Reader, Text};
use crate::model::{self, Finding, Version};

/// A JSON form of a kind of subject.
pub trait Form: Sized {
    /// What it stands for.
    type Subject;

    /// The version it describes, in force from `now` unless it says otherwise; `id` is the address's, if it has one.
    ///
    /// # Errors
    /// Every broken rule with its pointer.
    fn read(self, id: Option<Uuid>, now: DateTime<Utc>) -> Result<Version<Self::Subject>, Vec<Finding>>;

    /// The form of a version.
    fn show(version: &Version<Self::Subject>) -> Self;
}

/// Members that every form has, read alike.
struct Head {
    id: Option<Uuid>,
    effective_from: Option<DateTime<Utc>>,
    retired: Option<bool>,
}

impl Head {
    fn version<T>(
        self,
        address: Option<Uuid>,
        now: DateTime<Utc>,
        mut reader: Reader,
        value: Option<T>,
    ) -> Result<Version<T>, Vec<Finding>> {
        let same = address.is_none() || self.id.is_none() || self.id == address;
        reader.require(
            same,
            "/id",
            "wrong_id",
            "The id differs from the one in the address; leave it out or correct it.",
        );
        reader.time("/effective_from", self.effective_from.unwrap_or(now));
        let value = reader.findings.into_result(value)?;
        Ok(Version {
            id: address.or(self.id).unwrap_or_else(Uuid::now_v7),
            effective_from: self.effective_from.unwrap_or(now),
            retired: self.retired.unwrap_or(false),
            value,
        })
    }
}

/// A site: where crews weld.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Site {
    /// Id; absent in a request, the service makes one.
    pub id: Option<Uuid>,
    /// From when this version holds; absent in a request: from now.
    pub effective_from: Option<DateTime<Utc>>,
    /// Whether the site is retired from then on; absent in a request: not.
    pub retired: Option<bool>,
    /// Name that people use.
    #[schema(value_type = Text, example = "Eelgrass Quay")]
    pub name: Text,
    /// IANA time zone; local days and due times are its.
    #[schema(example = "America/Halifax")]
    pub time_zone: String,
    /// Degrees north, with `longitude_deg`.
    #[schema(minimum = -90, maximum = 90)]
    pub latitude_deg: Option<f64>,
    /// Degrees east, with `latitude_deg`.
    #[schema(minimum = -180, maximum = 180)]
    pub longitude_deg: Option<f64>,
}

impl Form for Site {
    type Subject = model::Site;

    fn read(self, id: Option<Uuid>, now: DateTime<Utc>) -> Result<Version<model::Site>, Vec<Finding>> {
        let mut reader = Reader::default();
        let zone = self.time_zone.parse::<Tz>().ok();
        reader.require(
            zone.is_some(),
            "/time_zone",
            "unknown_time_zone",
            "Send a name of the IANA time zone database, such as `America/Halifax`.",
        );
        reader.require(
            self.latitude_deg.is_some() == self.longitude_deg.is_some(),
            "/latitude_deg",
            "incomplete",
            "Send latitude and longitude together, or neither.",
        );
        let within = |value: Option<f64>, limit: f64| value.is_none_or(|value| value.abs() <= limit);
        reader.require(
            within(self.latitude_deg, 90.0),
            "/latitude_deg",
            "out_of_range",
            "It lies between -90 and 90.",
        );
        reader.require(
            within(self.longitude_deg, 180.0),
            "/longitude_deg",
            "out_of_range",
            "It lies between -180 and 180.",
        );
        let value = zone.map(|time_zone| model::Site {
            name: self.name.0,
            time_zone,
            position_deg: self.latitude_deg.zip(self.longitude_deg),
        });
        Head { id: self.id, effective_from: self.effective_from, retired: self.retired }
            .version(id, now, reader, value)
    }

    fn show(version: &Version<model::Site>) -> Self {
        let site = &version.value;
        Self {
            id: Some(version.id),
            effective_from: Some(version.effective_from),
            retired: Some(version.retired),
            name: Text(site.name.clone()),
            time_zone: site.time_zone.name().to_owned(),
            latitude_deg: site.position_deg.map(|(latitude, _)| latitude),
            longitude_deg: site.position_deg.map(|(_, longitude)| longitude),
        }
    }
}

/// A crew: who welds.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Crew {
    /// Id; absent in a request, the service makes one.
    pub id: Option<Uuid>,
    /// From when this version holds; absent in a request: from now.
    pub effective_from: Option<DateTime<Utc>>,
    /// Whether the crew is retired from then on; absent in a request: not.
    pub retired: Option<bool>,
    /// Name that people use.
    #[schema(value_type = Text, example = "Heron crew")]
    pub name: Text,
    /// Its site.
    pub site_id: Uuid,
    /// Unit in which it logs temperatures: `Cel` or `[degF]`.
    #[schema(example = "Cel")]
    pub temperature_unit: String,
    /// Unit in which it logs speeds: `m/min` or `[ft_i]/min`.
    #[schema(example = "m/min")]
    pub speed_unit: String,
}

impl Form for Crew {
    type Subject = model::Crew;

    fn read(self, id: Option<Uuid>, now: DateTime<Utc>) -> Result<Version<model::Crew>, Vec<Finding>> {
        let mut reader = Reader::default();
        let temperature_unit = reader.unit::<TemperatureUnit>("/temperature_unit", &self.temperature_unit);
        let speed_unit = reader.unit::<SpeedUnit>("/speed_unit", &self.speed_unit);
        let value = temperature_unit.zip(speed_unit).map(|(temperature_unit, speed_unit)| model::Crew {
            name: self.name.0,
            site_id: self.site_id,
            temperature_unit,
            speed_unit,
        });
        Head { id: self.id, effective_from: self.effective_from, retired: self.retired }
            .version(id, now, reader, value)
    }

    fn show(version: &Version<model::Crew>) -> Self {
        let crew = &version.value;
        Self {
            id: Some(version.id),
            effective_from: Some(version.effective_from),
            retired: Some(version.retired),
            name: Text(crew.name.clone()),
            site_id: crew.site_id,
            temperature_unit: crew.temperature_unit.code().to_owned(),
            speed_unit: crew.speed_unit.code().to_owned(),
        }
    }
}

/// A membrane: a sheet product.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Membrane {
    /// Id; absent in a request, the service makes one.
    pub id: Option<Uuid>,
    /// From when this version holds; absent in a request: from now.
    pub effective_from: Option<DateTime<Utc>>,
    /// Whether the membrane is retired from then on; absent in a request: not.
    pub retired: Option<bool>,
    /// Name that people use.
    #[schema(value_type = Text, example = "Saltguard 15")]
    pub name: Text,
    /// `pvc`, `kee`, `tpo` or `other`.
    #[schema(example = "pvc")]
    pub material_class: String,
    /// Nominal thickness.
    pub thickness: Measurement,
    /// Whether it carries a scrim.
    pub reinforced: bool,
    /// Highest set temperature that the maker allows, if it names one.
    pub maker_ceiling: Option<Measurement>,
}

impl Form for Membrane {
    type Subject = model::Membrane;

    fn read(self, id: Option<Uuid>, now: DateTime<Utc>) -> Result<Version<model::Membrane>, Vec<Finding>> {
        let mut reader = Reader::default();
        let material_class = reader.coded("/material_class", &self.material_class);
        let thickness = reader.positive("/thickness", &self.thickness);
        let ceiling = reader.optional("/maker_ceiling", self.maker_ceiling.as_ref());
        let value = (|| {
            Some(model::Membrane {
                name: self.name.0,
                material_class: material_class?,
                thickness: thickness?,
                reinforced: self.reinforced,
                maker_ceiling: ceiling?,
            })
        })();
        Head { id: self.id, effective_from: self.effective_from, retired: self.retired }
            .version(id, now, reader, value)
    }

    fn show(version: &Version<model::Membrane>) -> Self {
        let membrane = &version.value;
        Self {
            id: Some(version.id),
            effective_from: Some(version.effective_from),
            retired: Some(version.retired),
            name: Text(membrane.name.clone()),
            material_class: membrane.material_class.code().to_owned(),
            thickness: Measurement::of(membrane.thickness, LengthUnit::Millimetre),
            reinforced: membrane.reinforced,
            maker_ceiling: membrane.maker_ceiling.map(|t| Measurement::of(t, TemperatureUnit::Celsius)),
        }
    }
}

/// A lot: one production run of a membrane.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Lot {
    /// Id; absent in a request, the service makes one.
    pub id: Option<Uuid>,
    /// From when this version holds; absent in a request: from now.
    pub effective_from: Option<DateTime<Utc>>,
    /// Whether the lot is retired from then on; absent in a request: not.
    pub retired: Option<bool>,
    /// The membrane.
    pub membrane_id: Uuid,
    /// What is printed on the roll.
    #[schema(value_type = Text, example = "SG15-2604")]
    pub code: Text,
    /// Day of production, if known.
    pub produced_on: Option<NaiveDate>,
}

impl Form for Lot {
    type Subject = model::Lot;

    fn read(self, id: Option<Uuid>, now: DateTime<Utc>) -> Result<Version<model::Lot>, Vec<Finding>> {
        let mut reader = Reader::default();
        if let Some(day) = self.produced_on {
            reader.day("/produced_on", day);
        }
        let value = Some(model::Lot {
            membrane_id: self.membrane_id,
            code: self.code.0,
            produced_on: self.produced_on,
        });
        Head { id: self.id, effective_from: self.effective_from, retired: self.retired }
            .version(id, now, reader, value)
    }

    fn show(version: &Version<model::Lot>) -> Self {
        let lot = &version.value;
        Self {
            id: Some(version.id),
            effective_from: Some(version.effective_from),
            retired: Some(version.retired),
            membrane_id: lot.membrane_id,
            code: Text(lot.code.clone()),
            produced_on: lot.produced_on,
        }
    }
}

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

/// Acceptance criteria and advice limits of the organization.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Criteria {
    /// From when this version holds; absent in a request: from now.
    pub effective_from: Option<DateTime<Utc>>,
    /// Bonded width that an automatic weld must show.
    pub bond_width_automatic: Measurement,
    /// Bonded width that a hand weld must show.
    pub bond_width_hand: Measurement,
    /// Strips that a coupon needs for full evidence.
    #[schema(minimum = 1, maximum = 20, example = 3)]
    pub minimum_strips: u8,
    /// Largest predicted share of cold, and of hot, strips inside the band.
    #[schema(example = 0.1)]
    pub share_limit: f64,
    /// Weight of the cold share in choosing the set point.
    #[schema(example = 1.0)]
    pub cold_weight: f64,
    /// Weight of the hot share in choosing the set point.
    #[schema(example = 1.0)]
    pub hot_weight: f64,
    /// Highest set temperature that the organization allows, if any.
    pub ceiling: Option<Measurement>,
}

impl Criteria {
    /// The criteria it describes and from when they hold.
    ///
    /// # Errors
    /// Every broken rule with its pointer.
    pub fn read(self, now: DateTime<Utc>) -> Result<(DateTime<Utc>, model::CriteriaSet), Vec<Finding>> {
        let mut reader = Reader::default();
        let automatic = reader.positive("/bond_width_automatic", &self.bond_width_automatic);
        let hand = reader.positive("/bond_width_hand", &self.bond_width_hand);
        let ceiling = reader.optional("/ceiling", self.ceiling.as_ref());
        let range = "out_of_range";
        reader.require(
            (1..=20).contains(&self.minimum_strips),
            "/minimum_strips",
            range,
            "It lies between 1 and 20.",
        );
        let share = self.share_limit;
        reader.require(
            (0.001..=0.4).contains(&share),
            "/share_limit",
            range,
            "It lies between 0.001 and 0.4.",
        );
        for (pointer, weight) in [("/cold_weight", self.cold_weight), ("/hot_weight", self.hot_weight)] {
            reader.require((0.01..=100.0).contains(&weight), pointer, range, "It lies between 0.01 and 100.");
        }
        let value = (|| {
            Some(model::CriteriaSet {
                bond_width_automatic: automatic?,
                bond_width_hand: hand?,
                minimum_strips: self.minimum_strips,
                share_limit: self.share_limit,
                cold_weight: self.cold_weight,
                hot_weight: self.hot_weight,
                ceiling: ceiling?,
            })
        })();
        let effective_from = self.effective_from.unwrap_or(now);
        reader.time("/effective_from", effective_from);
        Ok((effective_from, reader.findings.into_result(value)?))
    }

    /// The form of criteria in force since `effective_from`.
    pub fn show(effective_from: DateTime<Utc>, criteria: &model::CriteriaSet) -> Self {
        Self {
            effective_from: Some(effective_from),
            bond_width_automatic: Measurement::of(criteria.bond_width_automatic, LengthUnit::Millimetre),
            bond_width_hand: Measurement::of(criteria.bond_width_hand, LengthUnit::Millimetre),
            minimum_strips: criteria.minimum_strips,
            share_limit: criteria.share_limit,
            cold_weight: criteria.cold_weight,
            hot_weight: criteria.hot_weight,
            ceiling: criteria.ceiling.map(|t| Measurement::of(t, TemperatureUnit::Celsius)),
        }
    }
}

/// When trials are due.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Policy {
    /// From when this version holds; absent in a request: from now.
    pub effective_from: Option<DateTime<Utc>>,
    /// ISO week days (1 Monday … 7 Sunday) on which crews work when there is no day plan.
    #[schema(example = json!([1, 2, 3, 4, 5, 6]))]
    pub working_days: Vec<u8>,
    /// Local start of the shift.
    #[schema(value_type = String, example = "07:00:00")]
    pub shift_start: NaiveTime,
    /// Minutes after the start of the shift when the daily trial is due.
    #[schema(maximum = 720, example = 120)]
    pub trial_due_after_min: u16,
    /// Days after its last trial or weld that a unit counts as in use when there is no day plan.
    #[schema(minimum = 1, maximum = 60, example = 7)]
    pub in_use_days: u16,
    /// Longest time between edge-finding trials, in days.
    #[schema(minimum = 1, maximum = 365, example = 14)]
    pub edge_finding_interval_days: u16,
    /// Trials between false alarms of one healthy unit, on average over all its charts.
    #[schema(minimum = 20, maximum = 100000, example = 500)]
    pub promise_arl_trials: f64,
}

impl Policy {
    /// The policy it describes and from when it holds.
    ///
    /// # Errors
    /// Every broken rule with its pointer.
    pub fn read(self, now: DateTime<Utc>) -> Result<(DateTime<Utc>, model::Policy), Vec<Finding>> {
        let mut reader = Reader::default();
        let range = "out_of_range";
        for (index, day) in self.working_days.iter().enumerate() {
            let pointer = format!("/working_days/{index}");
            reader.require((1..=7).contains(day), &pointer, range, "Days run from 1, Monday, to 7, Sunday.");
        }
        reader.require(
            self.trial_due_after_min <= 720,
            "/trial_due_after_min",
            range,
            "At most 720 minutes.",
        );
        reader.require(
            (1..=60).contains(&self.in_use_days),
            "/in_use_days",
            range,
            "It lies between 1 and 60.",
        );
        let interval = self.edge_finding_interval_days;
        reader.require(
            (1..=365).contains(&interval),
            "/edge_finding_interval_days",
            range,
            "It lies between 1 and 365.",
        );
        let promise = self.promise_arl_trials;
        let fits = (20.0..=100_000.0).contains(&promise);
        reader.require(fits, "/promise_arl_trials", range, "It lies between 20 and 100000.");
        let mut working_days = self.working_days;
        working_days.sort_unstable();
        working_days.dedup();
        let value = model::Policy {
            working_days,
            shift_start: self.shift_start,
            trial_due_after_min: self.trial_due_after_min,
            in_use_days: self.in_use_days,
            edge_finding_interval_days: interval,
            promise_arl_trials: promise,
        };
        let effective_from = self.effective_from.unwrap_or(now);
        reader.time("/effective_from", effective_from);
        Ok((effective_from, reader.findings.into_result(Some(value))?))
    }

    /// The form of a policy in force since `effective_from`.
    pub fn show(effective_from: DateTime<Utc>, policy: &model::Policy) -> Self {
        Self {
            effective_from: Some(effective_from),
            working_days: policy.working_days.clone(),
            shift_start: policy.shift_start,
            trial_due_after_min: policy.trial_due_after_min,
            in_use_days: policy.in_use_days,
            edge_finding_interval_days: policy.edge_finding_interval_days,
            promise_arl_trials: policy.promise_arl_trials,
        }
    }
}
