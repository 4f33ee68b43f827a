//! The trial record: what a field client sends.

use chrono::{DateTime, Datelike, TimeDelta, Utc};
use lapwatch_domain::acceptance::Specimen as JudgedInput;
use lapwatch_domain::quantity::{Quantity, TemperatureUnit, unit_from_code};
use lapwatch_domain::supply::{Cord, CordSize};
use serde::Deserialize;
use utoipa::ToSchema;
use uuid::Uuid;

use super::{Measurement, Reader, Text};
use crate::model::{self, Finding};

mod open;
mod traces;

pub use open::{OpenTrial, SentCoupon, TrialClose, open_trial_of, put_together};
pub use traces::{Samples, Trace, TracedStrip};

/// The schema of trial records that this version takes.
pub const TRIAL_SCHEMA: &str = "trial/1";
/// Most coupons of one trial and most specimens of one coupon: far more than anybody welds.
pub const MOST_COUPONS: usize = 60;
pub(super) const MOST_SPECIMENS: usize = 20;

/// One set of test welds by one unit, under one set of conditions, at one held speed over rising temperatures.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Trial {
    /// Always `trial/1` for this form.
    #[schema(example = "trial/1")]
    pub schema: String,
    /// Id, made by the client; sending the same bytes again is harmless.
    pub id: Uuid,
    /// The unit that welded.
    pub unit_id: Uuid,
    /// The crew that welded; absent: the one that has the unit. A crew that borrowed a unit names itself here.
    pub crew_id: Option<Uuid>,
    /// When it was performed, by the client's clock.
    pub performed_at: DateTime<Utc>,
    /// When it was written down.
    pub recorded_at: Option<DateTime<Utc>>,
    /// The trial whose place this one takes, as its correction; `recorded_at` is needed then, and later than that of the other. Of
    /// several corrections of one trial the latest by `recorded_at` and id counts.
    pub supersedes: Option<Uuid>,
    /// Seconds to add to the client's clock, if the client knows that it is off.
    #[schema(minimum = -31536000, maximum = 31536000)]
    pub clock_offset_s: Option<f64>,
    /// `commissioning`, `sweep` (find both edges), `confirmation` (below, at, above the set point) or `recheck`.
    #[schema(example = "sweep")]
    pub purpose: String,
    /// Who welded.
    #[schema(value_type = Option<Text>)]
    pub operator: Option<Text>,
    /// Who read the strips.
    #[schema(value_type = Option<Text>)]
    pub read_by: Option<Text>,
    /// The upper sheet.
    pub upper_sheet: Sheet,
    /// The lower sheet.
    pub lower_sheet: Sheet,
    /// Held speed as set.
    pub speed_set: Measurement,
    /// Held speed as timed over a marked length.
    pub speed_timed: Option<Measurement>,
    /// What the unit was set to before; for a confirmation the step that is being confirmed.
    pub set_point_before: Option<Measurement>,
    /// Airflow setting, `%`.
    pub airflow: Option<Measurement>,
    /// The nozzle.
    pub nozzle: Option<Nozzle>,
    /// Mass added to the roller.
    pub roller_added_mass: Option<Measurement>,
    /// Time between setting the temperature and welding, `min`.
    pub since_set: Option<Measurement>,
    /// Temperature of the sheet: it moves the edges most.
    pub sheet_temperature: Option<Measurement>,
    /// Temperature of the air.
    pub air_temperature: Option<Measurement>,
    /// Relative humidity, `%`.
    pub humidity: Option<Measurement>,
    /// Wind speed.
    pub wind_speed: Option<Measurement>,
    /// The supply.
    pub supply: Option<Supply>,
    /// What lies under the sheets.
    #[schema(value_type = Option<Text>)]
    pub substrate: Option<Text>,
    /// Length of a coupon.
    pub coupon_length: Option<Measurement>,
    /// The coupons, in the order they were welded.
    #[schema(min_items = 1, max_items = 60)]
    pub coupons: Vec<Coupon>,
    /// Data of the client's own: kept, never interpreted.
    #[schema(value_type = Option<Object>)]
    pub extra: Option<serde_json::Value>,
}

/// One sheet of the seam.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Sheet {
    /// The product.
    pub membrane_id: Uuid,
    /// The production run.
    pub lot_id: Option<Uuid>,
    /// `new` or `aged`.
    #[schema(example = "new")]
    pub condition: String,
    /// How it was cleaned.
    #[schema(value_type = Option<Text>)]
    pub cleaning: Option<Text>,
}

/// The nozzle.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Nozzle {
    /// Width.
    pub width: Option<Measurement>,
    /// Gap to the sheet.
    pub gap: Option<Measurement>,
}

/// The supply.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Supply {
    /// `mains` or `generator`.
    pub source: Option<String>,
    /// Voltage without load, measured at the machine.
    pub voltage_idle: Option<Measurement>,
    /// Voltage under load, measured at the machine.
    pub voltage_loaded: Option<Measurement>,
    /// Cross-section or gauge of the cord, as printed on it.
    #[schema(value_type = Option<Text>, example = "2.5 mm²")]
    pub cord_gauge: Option<Text>,
    /// Length of the cord.
    pub cord_length: Option<Measurement>,
}

/// One piece welded at one setting.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Coupon {
    /// Id, if the client gives coupons ids.
    pub id: Option<Uuid>,
    /// The setting.
    pub set_temperature: Measurement,
    /// Its speed, where a trial steps the speed instead of the temperature; default: the trial's `speed_set`.
    pub speed_set: Option<Measurement>,
    /// Air temperature measured at the nozzle.
    pub measured_temperature: Option<Measurement>,
    /// The strips cut from it.
    #[schema(max_items = 20)]
    pub specimens: Vec<Specimen>,
}

/// One strip, normally 25 mm (1 in) wide, cut across the seam and peeled.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Specimen {
    /// Id, if the client gives specimens ids.
    pub id: Option<Uuid>,
    /// Measured width.
    pub width: Option<Measurement>,
    /// How it failed: `film_tear` or `interface_opened`.
    #[schema(example = "film_tear")]
    pub mode: Option<String>,
    /// Whether whoever read it passed it; used when the mode is missing.
    pub passed: Option<bool>,
    /// Width over which the sheets were bonded.
    pub bonded_width: Option<Measurement>,
    /// `char`, `browning`, `smoke`, `thinning`, `brittle`.
    #[serde(default)]
    pub scorching: Vec<String>,
    /// `dirt`, `moisture`, `aged_sheet`.
    #[serde(default)]
    pub contamination: Vec<String>,
    /// `across` or `along` the seam.
    pub cut: Option<String>,
    /// `warm_pull`, `cut_fault`.
    #[serde(default)]
    pub faults: Vec<String>,
    /// Peak of the peel force.
    pub peak_force: Option<Measurement>,
    /// Plateau of the peel force.
    pub plateau_force: Option<Measurement>,
    /// Force over displacement; `/v1/trials/{id}/peel` tells what it says.
    pub trace: Option<Trace>,
    /// Remarks.
    #[schema(value_type = Option<Text>)]
    pub remarks: Option<Text>,
}

impl Trial {
    /// The trial in domain units.
    ///
    /// # Errors
    /// Every broken rule with its pointer.
    pub fn read(&self) -> Result<model::Trial, Vec<Finding>> {
        let mut reader = Reader::default();
        let value = self.convert(&mut reader);
        reader.findings.into_result(value)
    }

    /// Reads everything before giving up on anything, so that one reply names every broken rule.
    fn convert(&self, reader: &mut Reader) -> Option<model::Trial> {
        let r = reader;
        let detail = "This operation takes trials of the schema `trial/1`.";
        r.require(self.schema == TRIAL_SCHEMA, "/schema", "schema_unknown", detail);
        let purpose = r.coded("/purpose", &self.purpose);
        r.writing(self.id, self.supersedes, self.recorded_at);
        let clock_offset = self.clock_offset(r);
        let upper_sheet = self.upper_sheet.convert(r, "/upper_sheet");
        let lower_sheet = self.lower_sheet.convert(r, "/lower_sheet");
        let speed_set = r.quantity("/speed_set", &self.speed_set);
        let speed_timed = r.optional("/speed_timed", self.speed_timed.as_ref());
        let set_point_before =
            r.optional_set_temperature("/set_point_before", self.set_point_before.as_ref());
        let sheet_temperature = r.climate("/sheet_temperature", self.sheet_temperature.as_ref());
        let air_temperature = r.climate("/air_temperature", self.air_temperature.as_ref());
        let humidity = r.present(self.humidity.as_ref(), |r, humidity| r.humidity("/humidity", humidity));
        let wind_speed = r.optional("/wind_speed", self.wind_speed.as_ref());
        let supply = self.supply.as_ref();
        let supply_source = match supply.and_then(|supply| supply.source.as_deref()) {
            Some(code) => r.coded("/supply/source", code).map(Some),
            None => Some(None),
        };
        let voltage_idle = r.optional("/supply/voltage_idle", supply.and_then(|s| s.voltage_idle.as_ref()));
        let voltage_loaded =
            r.optional("/supply/voltage_loaded", supply.and_then(|s| s.voltage_loaded.as_ref()));
        let notes = self.notes(r);
        let coupons = self.coupons(r);
        Some(model::Trial {
            id: self.id,
            unit_id: self.unit_id,
            crew_id: self.crew_id,
            performed_at: self.performed_at,
            recorded_at: self.recorded_at,
            supersedes: self.supersedes,
            clock_offset: clock_offset?,
            purpose: purpose?,
            read_by: self.read_by.as_ref().map(|text| text.0.clone()),
            upper_sheet: upper_sheet?,
            lower_sheet: lower_sheet?,
            speed_set: speed_set?,
            speed_timed: speed_timed?,
            set_point_before: set_point_before?,
            sheet_temperature: sheet_temperature?,
            air_temperature: air_temperature?,
            humidity: humidity?,
            wind_speed: wind_speed?,
            supply_source: supply_source?,
            voltage_idle: voltage_idle?,
            voltage_loaded: voltage_loaded?,
            coupons: coupons?,
            temperature_unit: self.temperature_unit(),
            speed_unit: unit_from_code(&self.speed_set.unit)?,
            notes: notes?,
        })
    }

    fn clock_offset(&self, reader: &mut Reader) -> Option<TimeDelta> {
        let seconds = self.clock_offset_s.unwrap_or(0.0);
        let plausible = seconds.abs() <= 31_536_000.0;
        let detail = "A clock is corrected by at most a year; check the sign and the unit, seconds.";
        reader.require(plausible, "/clock_offset_s", "out_of_range", detail);
        // Below a microsecond there is nothing to order by.
        let offset = plausible.then(|| TimeDelta::microseconds((seconds * 1e6).round() as i64))?;
        match self.performed_at.checked_add_signed(offset) {
            // Both have to be of this time: lists show the one, histories are ordered by the other.
            Some(corrected) if corrected.year() >= 1970 => reader.time("/performed_at", self.performed_at),
            _ => reader.time("/performed_at", DateTime::<Utc>::MIN_UTC),
        }
        Some(offset)
    }

    fn notes(&self, r: &mut Reader) -> Option<model::Notes> {
        let nozzle = self.nozzle.as_ref();
        let supply = self.supply.as_ref();
        let airflow = r.optional("/airflow", self.airflow.as_ref());
        let nozzle_width = r.optional("/nozzle/width", nozzle.and_then(|nozzle| nozzle.width.as_ref()));
        let nozzle_gap = r.optional("/nozzle/gap", nozzle.and_then(|nozzle| nozzle.gap.as_ref()));
        let roller_added_mass = r.optional("/roller_added_mass", self.roller_added_mass.as_ref());
        let since_set = r.optional("/since_set", self.since_set.as_ref());
        let cord_length =
            r.optional("/supply/cord_length", supply.and_then(|supply| supply.cord_length.as_ref()));
        let size = supply.and_then(|supply| CordSize::from_marking(&supply.cord_gauge.as_ref()?.0));
        let coupon_length = r.optional("/coupon_length", self.coupon_length.as_ref());
        Some(model::Notes {
            airflow: airflow?,
            nozzle_width: nozzle_width?,
            nozzle_gap: nozzle_gap?,
            roller_added_mass: roller_added_mass?,
            since_set: since_set?,
            cord: size.zip(cord_length?).and_then(|(size, length)| Cord::new(size, length).ok()),
            coupon_length: coupon_length?,
        })
    }

    fn coupons(&self, reader: &mut Reader) -> Option<Vec<model::Coupon>> {
        let count = self.coupons.len();
        let detail = "A trial has 1 to 60 coupons.";
        reader.require((1..=MOST_COUPONS).contains(&count), "/coupons", "wrong_count", detail);
        let coupons: Vec<Option<model::Coupon>> = self
            .coupons
            .iter()
            .take(MOST_COUPONS)
            .enumerate()
            .map(|(index, coupon)| coupon.convert(reader, &format!("/coupons/{index}")))
            .collect();
        coupons.into_iter().collect()
    }

    /// The scale of the coupons' settings; °C when they differ.
    fn temperature_unit(&self) -> TemperatureUnit {
        let mut units = self.coupons.iter().map(|coupon| unit_from_code(&coupon.set_temperature.unit));
        match units.next().flatten() {
            Some(first) if units.all(|unit| unit == Some(first)) => first,
            _ => TemperatureUnit::Celsius,
        }
    }
}

impl Sheet {
    fn convert(&self, reader: &mut Reader, pointer: &str) -> Option<model::Sheet> {
        let condition = reader.coded(&format!("{pointer}/condition"), &self.condition)?;
        Some(model::Sheet { membrane_id: self.membrane_id, lot_id: self.lot_id, condition })
    }
}

impl Coupon {
    fn convert(&self, reader: &mut Reader, pointer: &str) -> Option<model::Coupon> {
        let set_temperature =
            reader.set_temperature(&format!("{pointer}/set_temperature"), &self.set_temperature);
        let speed = self.speed_set.as_ref();
        let speed_set = reader.present(speed, |r, speed| r.positive(&format!("{pointer}/speed_set"), speed));
        let measured = self.measured_temperature.as_ref();
        let measured_temperature =
            reader.optional_set_temperature(&format!("{pointer}/measured_temperature"), measured);
        let detail = "A coupon has at most 20 specimens.";
        let fits = self.specimens.len() <= MOST_SPECIMENS;
        reader.require(fits, &format!("{pointer}/specimens"), "wrong_count", detail);
        let specimens: Vec<Option<model::PeeledSpecimen>> = self
            .specimens
            .iter()
            .take(MOST_SPECIMENS)
            .enumerate()
            .map(|(index, specimen)| specimen.convert(reader, &format!("{pointer}/specimens/{index}")))
            .collect();
        Some(model::Coupon {
            set_temperature: set_temperature?,
            speed_set: speed_set?,
            measured_temperature: measured_temperature?,
            specimens: specimens.into_iter().collect::<Option<_>>()?,
        })
    }
}

impl Specimen {
    fn convert(&self, r: &mut Reader, pointer: &str) -> Option<model::PeeledSpecimen> {
        let at = |member: &str| format!("{pointer}/{member}");
        let width = r.optional(&at("width"), self.width.as_ref());
        let mode = r.optional_code(&at("mode"), self.mode.as_deref());
        let bonded_width = r.optional(&at("bonded_width"), self.bonded_width.as_ref());
        let scorching = r.coded_list(&at("scorching"), &self.scorching);
        let contamination = r.coded_list(&at("contamination"), &self.contamination);
        let cut = r.optional_code(&at("cut"), self.cut.as_deref());
        let faults = r.coded_list(&at("faults"), &self.faults);
        let peak_force = r.optional(&at("peak_force"), self.peak_force.as_ref());
        let plateau_force = r.optional(&at("plateau_force"), self.plateau_force.as_ref());
        let traced = self.trace.as_ref().is_none_or(|trace| trace.check(r, &at("trace")));
        let specimen = JudgedInput {
            width: width?,
            mode: mode?,
            passed: self.passed,
            bonded_width: bonded_width?,
            scorching: scorching?,
            contamination: contamination?,
            cut: cut?,
            faults: faults?,
        };
        traced.then_some(model::PeeledSpecimen {
            specimen,
            peak_force: peak_force?,
            plateau_force: plateau_force?,
        })
    }
}

/// Rules of members that only trials have.
impl Reader {
    fn optional_set_temperature(
        &mut self,
        pointer: &str,
        given: Option<&Measurement>,
    ) -> Option<Option<lapwatch_domain::quantity::Temperature>> {
        match given {
            None => Some(None),
            Some(given) => self.set_temperature(pointer, given).map(Some),
        }
    }

    /// A temperature of sheet or air: −60 to 120 °C, what a dark roof can reach with room to spare.
    pub(super) fn climate(
        &mut self,
        pointer: &str,
        given: Option<&Measurement>,
    ) -> Option<Option<lapwatch_domain::quantity::Temperature>> {
        let read: Option<lapwatch_domain::quantity::Temperature> = self.optional(pointer, given)?;
        let celsius = read.map(|temperature| temperature.value_in(TemperatureUnit::Celsius));
        let plausible = celsius.is_none_or(|celsius| (-60.0..=120.0).contains(&celsius));
        let detail = "Sheet and air lie between -60 and 120 Cel (-76 and 248 [degF]); check value and unit.";
        self.require(plausible, &format!("{pointer}/value"), "out_of_range", detail);
        plausible.then_some(read)
    }

    fn optional_code<T: lapwatch_domain::Coded>(
        &mut self,
        pointer: &str,
        given: Option<&str>,
    ) -> Option<Option<T>> {
        match given {
            None => Some(None),
            Some(code) => self.coded(pointer, code).map(Some),
        }
    }
}
