//! Versioned configuration: a subject is the sequence of its versions, each in force from its `effective_from`.

use chrono::{DateTime, NaiveDate, NaiveTime, Utc};
use chrono_tz::Tz;
use lapwatch_domain::membrane::{MaterialClass, WeldMethod};
use lapwatch_domain::quantity::{
    Length, Percent, PercentUnit, Power, Quantity as _, SpeedUnit, Temperature, TemperatureDifference,
    TemperatureUnit, Voltage, WindSpeed, WindSpeedUnit,
};
use uuid::Uuid;

/// One version of a subject of kind `T`.
#[derive(Debug, Clone, PartialEq)]
pub struct Version<T> {
    /// Id of the subject.
    pub id: Uuid,
    /// From when this version is in force.
    pub effective_from: DateTime<Utc>,
    /// Whether the subject is retired from then on: kept, listed as retired, not scheduled.
    pub retired: bool,
    /// What it says.
    pub value: T,
}

/// How far a subject has come. Versions are only ever added and the one in force moves on: each makes another revision.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Revision {
    /// How many versions it has, those that are not in force yet among them.
    pub versions: i64,
    /// Since when the version in force is so.
    pub in_force_from: DateTime<Utc>,
}

/// Where crews weld.
#[derive(Debug, Clone, PartialEq)]
pub struct Site {
    /// Name that people use.
    pub name: String,
    /// IANA time zone; local days and due times are its.
    pub time_zone: Tz,
    /// Degrees north and east, if known.
    pub position_deg: Option<(f64, f64)>,
}

/// Who welds.
#[derive(Debug, Clone, PartialEq)]
pub struct Crew {
    /// Name that people use.
    pub name: String,
    /// Where the crew is.
    pub site_id: Uuid,
    /// Unit in which the crew logs temperatures.
    pub temperature_unit: TemperatureUnit,
    /// Unit in which the crew logs speeds.
    pub speed_unit: SpeedUnit,
}

/// A sheet product.
#[derive(Debug, Clone, PartialEq)]
pub struct Membrane {
    /// Name that people use.
    pub name: String,
    /// What it is made of.
    pub material_class: MaterialClass,
    /// Nominal thickness.
    pub thickness: Length,
    /// Whether it carries a scrim.
    pub reinforced: bool,
    /// Highest set temperature that its maker allows, if any.
    pub maker_ceiling: Option<Temperature>,
}

/// One production run of a membrane.
#[derive(Debug, Clone, PartialEq)]
pub struct Lot {
    /// The membrane.
    pub membrane_id: Uuid,
    /// What is printed on the roll.
    pub code: String,
    /// Day of production, if known.
    pub produced_on: Option<NaiveDate>,
}

/// One welder.
#[derive(Debug, Clone, PartialEq)]
pub struct Unit {
    /// Serial number.
    pub serial: String,
    /// What is painted on it.
    pub label: String,
    /// Crew that has it, if any.
    pub crew_id: Option<Uuid>,
    /// Automatic or hand.
    pub weld_method: WeldMethod,
    /// Rated voltage.
    pub rated_voltage: Voltage,
    /// Rated power.
    pub rated_power: Power,
    /// Highest set temperature.
    pub maximum_set_temperature: Temperature,
    /// Step of its display.
    pub display_step: TemperatureDifference,
    /// Nozzle width.
    pub nozzle_width: Length,
    /// Length of sheet heated at once.
    pub heated_length: Length,
}

/// When trials are due.
#[derive(Debug, Clone, PartialEq)]
pub struct Policy {
    /// ISO week days (1 Monday … 7 Sunday) on which crews work without a day plan.
    pub working_days: Vec<u8>,
    /// Local start of the shift.
    pub shift_start: NaiveTime,
    /// Minutes after the start of the shift when the daily trial is due.
    pub trial_due_after_min: u16,
    /// Days after its last trial or weld that a unit counts as in use without a day plan.
    pub in_use_days: u16,
    /// Longest time between edge-finding trials, in days.
    pub edge_finding_interval_days: u16,
    /// What that interval shortens to at most, with trouble.
    pub least_edge_finding_interval_days: u16,
    /// What it lengthens to at most, with evidence.
    pub most_edge_finding_interval_days: u16,
    /// So many days before a drift may have used up the margin a trial is due.
    pub limit_lead_days: u16,
    /// How much of its margin a band may lose to another sheet temperature before a trial is due.
    pub carry_share: Percent,
    /// A trial made in less wind than this does not cover more.
    pub wind_from: WindSpeed,
    /// Whether each operator makes a check of their own.
    pub operator_checks: bool,
    /// Days on which nobody works, without a day plan.
    pub closed_days: Vec<NaiveDate>,
    /// Trials between false alarms of one healthy unit, on average over all its charts.
    pub promise_arl_trials: f64,
}

impl Default for Policy {
    /// Monday to Saturday from 07:00, trial due two hours later, in use for seven days, edges every fourteen days, one
    /// false alarm in 500 trials. The rest as the domain has it by default.
    fn default() -> Self {
        Self {
            working_days: vec![1, 2, 3, 4, 5, 6],
            shift_start: NaiveTime::from_hms_opt(7, 0, 0).expect("a time of day"),
            trial_due_after_min: 120,
            in_use_days: 7,
            edge_finding_interval_days: 14,
            least_edge_finding_interval_days: 14,
            most_edge_finding_interval_days: 14,
            limit_lead_days: 3,
            carry_share: Percent::new(100.0, PercentUnit::Percent).expect("a share"),
            wind_from: WindSpeed::new(5.5, WindSpeedUnit::MetrePerSecond).expect("a speed"),
            operator_checks: false,
            closed_days: Vec::new(),
            promise_arl_trials: 500.0,
        }
    }
}
