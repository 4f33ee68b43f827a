//! Records that are received: trials, service events, day plans, production spans, decisions.

use std::ops::RangeInclusive;

use chrono::{DateTime, NaiveDate, TimeDelta, Utc};
use lapwatch_domain::acceptance::Specimen;
use lapwatch_domain::coded_enum;
use lapwatch_domain::membrane::{SheetCondition, SupplySource};
use lapwatch_domain::quantity::{
    Force, Length, Mass, Minutes, Percent, Quantity as _, Speed, SpeedUnit, Temperature, TemperatureUnit,
    Voltage, WindSpeed,
};
use lapwatch_domain::standing::DecisionKind;
use lapwatch_domain::supply::Cord;
use lapwatch_domain::trial::Purpose;
use uuid::Uuid;

use super::{
    DayEvent, OpenTrial, Photo, Retraction, SeamCheck, SecondReading, SentCoupon, SharedDecision, TrialClose,
};

coded_enum! {
    /// A kind of record.
    pub enum RecordKind {
        /// A trial.
        Trial = "trial",
        /// A service event.
        ServiceEvent = "service_event",
        /// A day plan.
        DayPlan = "day_plan",
        /// A production span.
        ProductionSpan = "production_span",
        /// A decision.
        Decision = "decision",
        /// What another person read of a trial's strips.
        SecondReading = "second_reading",
        /// What a crew noted in the course of its day.
        DayEvent = "day_event",
        /// A check of a production span's seams.
        SeamCheck = "seam_check",
        /// A record that withdraws another.
        Retraction = "retraction",
        /// The beginning of a trial that is sent piece by piece.
        OpenTrial = "open_trial",
        /// A coupon of such a trial.
        SentCoupon = "coupon",
        /// The end of such a trial.
        TrialClose = "trial_close",
        /// That a photo belongs to a record.
        Photo = "photo",
        /// A decision about a shift that units share.
        SharedDecision = "shared_decision",
    }
}

impl RecordKind {
    /// The versions of the form of its records that are read; the last is the present one. A member that may be left out
    /// makes no new version: an older service holds what it does not know and takes it once it does.
    fn versions(self) -> RangeInclusive<u16> {
        match self {
            Self::ServiceEvent => 1..=2,
            _ => 1..=1,
        }
    }

    /// The names of the forms of its records that are read, as envelopes give them; the last is the present one.
    pub fn schemas(self) -> impl Iterator<Item = String> {
        self.versions().map(move |version| format!("{}/{version}", self.code()))
    }

    /// The kind of records with a schema, if they are read here.
    ///
    /// # Errors
    /// Why they are not.
    pub fn of_schema(schema: &str) -> Result<Self, NotRead> {
        let (code, version) = schema.rsplit_once('/').ok_or(NotRead::Unknown)?;
        let kind = Self::from_code(code).ok_or(NotRead::Unknown)?;
        // Only the usual writing of a number: `trial/01` is no schema.
        let version: u16 =
            version.parse().ok().filter(|v: &u16| v.to_string() == version).ok_or(NotRead::Unknown)?;
        let read = kind.versions();
        if read.contains(&version) {
            Ok(kind)
        } else if version < *read.start() {
            Err(NotRead::Retired(kind))
        } else {
            Err(NotRead::Newer(kind))
        }
    }
}

/// Why records of a schema are not read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NotRead {
    /// No kind of records has it.
    Unknown,
    /// It is older than the forms that are read.
    Retired(RecordKind),
    /// It is newer than this service.
    Newer(RecordKind),
}

/// When a record was written down, and in whose place.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Written {
    /// When, by its own bytes; where they do not say so, when what it tells of happened.
    pub at: DateTime<Utc>,
    /// The record of the same kind whose place it takes.
    pub supersedes: Option<Uuid>,
}

/// A record with its id.
pub trait Record {
    /// Its kind.
    const KIND: RecordKind;

    /// The id that the client gave it.
    fn id(&self) -> Uuid;

    /// Its place among the corrections of a record; `None` if records of its kind are withdrawn, and never corrected.
    fn written(&self) -> Option<Written>;
}

/// Declares records; of those that can be corrected, when they were written.
macro_rules! records {
    ($($record:ident $(($written_at:expr))?),* $(,)?) => {
        $(impl Record for $record {
            const KIND: RecordKind = RecordKind::$record;

            fn id(&self) -> Uuid {
                self.id
            }

            fn written(&self) -> Option<Written> {
                records!(@written self $($written_at)?)
            }
        })*
    };
    (@written $record:ident) => { None };
    (@written $record:ident $written_at:expr) => {{
        let at: fn(&Self) -> DateTime<Utc> = $written_at;
        Some(Written { at: at($record), supersedes: $record.supersedes })
    }};
}

records!(
    Trial(|trial| trial.recorded_at.unwrap_or(trial.performed_at)),
    ServiceEvent(|event| event.recorded_at.unwrap_or(event.performed_at)),
    DayPlan(|plan| plan.recorded_at),
    ProductionSpan(|span| span.recorded_at.unwrap_or(span.to)),
    SecondReading(|reading| reading.recorded_at.unwrap_or(reading.read_at)),
    DayEvent(|event| event.recorded_at.unwrap_or(event.at)),
    SeamCheck(|check| check.recorded_at.unwrap_or(check.at)),
    Decision,
    Retraction,
    OpenTrial,
    SentCoupon,
    TrialClose,
    Photo,
    SharedDecision,
);

/// A trial as it was recorded, in domain units.
#[derive(Debug, Clone, PartialEq)]
pub struct Trial {
    /// Id.
    pub id: Uuid,
    /// The unit that welded.
    pub unit_id: Uuid,
    /// The crew, if the record names it; else the crew that has the unit.
    pub crew_id: Option<Uuid>,
    /// When it was performed, by the client's clock.
    pub performed_at: DateTime<Utc>,
    /// When it was written down, if the record says so.
    pub recorded_at: Option<DateTime<Utc>>,
    /// The trial whose place it takes.
    pub supersedes: Option<Uuid>,
    /// What to add to the client's clock.
    pub clock_offset: TimeDelta,
    /// What it is for.
    pub purpose: Purpose,
    /// Who read its strips.
    pub read_by: Option<String>,
    /// The upper sheet.
    pub upper_sheet: Sheet,
    /// The lower sheet.
    pub lower_sheet: Sheet,
    /// Held speed as set.
    pub speed_set: Speed,
    /// Held speed as timed over a marked length.
    pub speed_timed: Option<Speed>,
    /// What the unit was set to before; for a confirmation the step that is being confirmed.
    pub set_point_before: Option<Temperature>,
    /// Temperature of the sheet.
    pub sheet_temperature: Option<Temperature>,
    /// Temperature of the air.
    pub air_temperature: Option<Temperature>,
    /// Relative humidity.
    pub humidity: Option<Percent>,
    /// Wind.
    pub wind_speed: Option<WindSpeed>,
    /// Where the electricity came from.
    pub supply_source: Option<SupplySource>,
    /// Supply without load, measured at the machine.
    pub voltage_idle: Option<Voltage>,
    /// Supply under load, measured at the machine.
    pub voltage_loaded: Option<Voltage>,
    /// The coupons, in the order they were welded.
    pub coupons: Vec<Coupon>,
    /// Scale on which the crew worked: that of the coupons, °C if they differ.
    pub temperature_unit: TemperatureUnit,
    /// The unit in which its speed was set.
    pub speed_unit: SpeedUnit,
    /// What else was noted; kept in the bytes and checked, but nothing is computed from it yet.
    pub notes: Notes,
}

impl Trial {
    /// How far ahead of the service's clock a trial may claim to be, at its receipt, before it is kept out of derived
    /// state.
    pub const MOST_AHEAD: TimeDelta = TimeDelta::hours(24);

    /// When it happened, by the best clock known: what histories are ordered by.
    pub fn ordered_at(&self) -> DateTime<Utc> {
        self.performed_at + self.clock_offset
    }

    /// The speed that was held: timed if it was timed.
    pub fn speed(&self) -> Speed {
        self.speed_timed.unwrap_or(self.speed_set)
    }

    /// The speed of one of its coupons, if that is not the trial's: as set, and as much off its setting as the trial's was
    /// found to be.
    pub fn speed_of(&self, coupon: &Coupon) -> Option<Speed> {
        let set = coupon.speed_set.filter(|speed| *speed != self.speed_set)?;
        let number = |speed: Speed| speed.value_in(SpeedUnit::MetrePerMinute);
        let off = number(self.speed()) / number(self.speed_set);
        Speed::new(number(set) * off, SpeedUnit::MetrePerMinute).ok()
    }
}

/// Quantities that a trial notes beside what is computed from it.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Notes {
    /// Airflow setting.
    pub airflow: Option<Percent>,
    /// Nozzle width.
    pub nozzle_width: Option<Length>,
    /// Nozzle gap.
    pub nozzle_gap: Option<Length>,
    /// Mass added to the roller.
    pub roller_added_mass: Option<Mass>,
    /// Time since the temperature was set.
    pub since_set: Option<Minutes>,
    /// The cord, when its length is known and the text printed on it names a size.
    pub cord: Option<Cord>,
    /// Length of a coupon.
    pub coupon_length: Option<Length>,
}

/// One sheet of a seam.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Sheet {
    /// The product.
    pub membrane_id: Uuid,
    /// The production run, if known.
    pub lot_id: Option<Uuid>,
    /// New or aged.
    pub condition: SheetCondition,
}

/// One piece welded at one setting.
#[derive(Debug, Clone, PartialEq)]
pub struct Coupon {
    /// The setting.
    pub set_temperature: Temperature,
    /// Its speed as set, where that is not the trial's.
    pub speed_set: Option<Speed>,
    /// Air temperature measured at the nozzle.
    pub measured_temperature: Option<Temperature>,
    /// Its strips.
    pub specimens: Vec<PeeledSpecimen>,
}

/// A strip with the forces of its peel.
#[derive(Debug, Clone, PartialEq)]
pub struct PeeledSpecimen {
    /// What was recorded of it.
    pub specimen: Specimen,
    /// Peak force.
    pub peak_force: Option<Force>,
    /// Plateau force.
    pub plateau_force: Option<Force>,
}

coded_enum! {
    /// What was done to a unit.
    pub enum ServiceKind {
        /// A new heating element.
        HeaterReplaced = "heater_replaced",
        /// The nozzle was cleaned.
        NozzleCleaned = "nozzle_cleaned",
        /// A new nozzle.
        NozzleReplaced = "nozzle_replaced",
        /// The temperature sensor was calibrated or replaced.
        SensorCalibrated = "sensor_calibrated",
        /// The blower was serviced.
        BlowerServiced = "blower_serviced",
        /// The drive was serviced.
        DriveServiced = "drive_serviced",
        /// The pressure roller was serviced.
        RollerServiced = "roller_serviced",
        /// A new cord or plug.
        CordReplaced = "cord_replaced",
        /// Looked at, nothing changed.
        Inspection = "inspection",
        /// Something else; see the remarks.
        Other = "other",
    }
}

impl ServiceKind {
    /// Whether it normally changes how the unit heats a sheet: a new part in the way of current, air or sheet, or another reading
    /// of the temperature (common practice, no source). `None` where only those who did it know.
    pub fn affects_heat(self) -> Option<bool> {
        match self {
            Self::HeaterReplaced
            | Self::NozzleReplaced
            | Self::SensorCalibrated
            | Self::BlowerServiced
            | Self::DriveServiced => Some(true),
            Self::NozzleCleaned | Self::RollerServiced | Self::CordReplaced | Self::Inspection => Some(false),
            Self::Other => None,
        }
    }
}

/// Work done on a unit.
#[derive(Debug, Clone, PartialEq)]
pub struct ServiceEvent {
    /// Id.
    pub id: Uuid,
    /// The unit.
    pub unit_id: Uuid,
    /// When.
    pub performed_at: DateTime<Utc>,
    /// What was done; at least one thing.
    pub work: Vec<ServiceKind>,
    /// Whether it changes how the unit heats, so that its histories start again.
    pub affects_heat: bool,
    /// Parts that were replaced.
    pub parts: Vec<String>,
    /// Who did it.
    pub performed_by: Option<String>,
    /// Remarks.
    pub remarks: Option<String>,
    /// The record whose place it takes.
    pub supersedes: Option<Uuid>,
    /// When it was written down, if the record says so.
    pub recorded_at: Option<DateTime<Utc>>,
}

/// What a crew means to do on a day.
#[derive(Debug, Clone, PartialEq)]
pub struct DayPlan {
    /// Id.
    pub id: Uuid,
    /// The crew.
    pub crew_id: Uuid,
    /// The local day.
    pub date: NaiveDate,
    /// Whether it means to weld.
    pub welding: bool,
    /// With which units.
    pub unit_ids: Vec<Uuid>,
    /// Why not, say.
    pub reason: Option<String>,
    /// When it was written; of several plans for a day the latest counts.
    pub recorded_at: DateTime<Utc>,
    /// The plan whose place it takes, say because that one was for the wrong day.
    pub supersedes: Option<Uuid>,
}

/// What was welded with a unit, from–to, where.
#[derive(Debug, Clone, PartialEq)]
pub struct ProductionSpan {
    /// Id.
    pub id: Uuid,
    /// The unit.
    pub unit_id: Uuid,
    /// The crew.
    pub crew_id: Option<Uuid>,
    /// From when.
    pub from: DateTime<Utc>,
    /// To when.
    pub to: DateTime<Utc>,
    /// Where on the roof.
    pub place: String,
    /// The product.
    pub membrane_id: Option<Uuid>,
    /// The production run.
    pub lot_id: Option<Uuid>,
    /// Set temperature.
    pub set_temperature: Option<Temperature>,
    /// Speed.
    pub speed: Option<Speed>,
    /// Length of seam.
    pub length: Option<Length>,
    /// The record whose place it takes.
    pub supersedes: Option<Uuid>,
    /// When it was written down, if the record says so.
    pub recorded_at: Option<DateTime<Utc>>,
}

/// What a person did about something derived.
#[derive(Debug, Clone, PartialEq)]
pub struct Decision {
    /// Id.
    pub id: Uuid,
    /// What was decided.
    pub kind: DecisionKind,
    /// The unit it is about.
    pub unit_id: Uuid,
    /// The series it is about, as a code; none: any of the unit.
    pub series: Option<String>,
    /// The kind of flag it is about, as a code; none: any.
    pub concern: Option<String>,
    /// When it was decided.
    pub decided_at: DateTime<Utc>,
    /// Id of the flag or recheck as the person saw it.
    pub seen_id: Option<Uuid>,
    /// Why.
    pub remark: Option<String>,
}
