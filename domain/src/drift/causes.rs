//! What may have moved an edge, and what would tell the candidates apart.
//!
//! A first level: each cause predicts how the edges move together, given its own size, which nobody knows beforehand. The
//! size is therefore *averaged over* with a prior, not fitted; a cause that could explain anything gains nothing by that.
//! The result ranks causes and never proves one. (Sizes are common experience, no source.)

use crate::coded::coded_enum;
use crate::quantity::{Temperature, TemperatureDifference};

coded_enum! {
    /// A candidate cause of drift.
    pub enum Cause {
        /// The welder's own sensor reads wrong by a constant: both edges move alike in the setting.
        SensorBias = "sensor_bias",
        /// Less (or more) heat reaches the sheet, or for another time: both edges move in proportion to their excess over
        /// the sheet's temperature.
        HeatTransfer = "heat_transfer",
        /// The heater fades or the supply sags: the top of the range falls short, so that the upper edge recedes while the
        /// lower hardly moves.
        HeaterOrSupply = "heater_or_supply",
        /// Less air: the heat that arrives falls, and the nozzle runs hotter than set near the element.
        Airflow = "airflow",
        /// The drive slips or runs off its setting: the true speed differs.
        DriveSpeed = "drive_speed",
        /// The roller presses less: the lower edge rises alone.
        NipPressure = "nip_pressure",
        /// The sheet itself (lot, age, moisture): either edge on its own.
        Sheet = "sheet",
    }
}

coded_enum! {
    /// A measurement that helps to tell causes apart.
    pub enum Measurement {
        /// Probe the air at the nozzle at two set points.
        NozzleProbeAtTwoSetPoints = "nozzle_probe_at_two_set_points",
        /// Time a run over a marked length.
        TimedRun = "timed_run",
        /// Measure the voltage under load at the machine.
        VoltsUnderLoad = "volts_under_load",
        /// Look through the air intake and nozzle; measure the airflow.
        AirflowCheck = "airflow_check",
        /// Weigh or gauge the roller's pressure.
        RollerCheck = "roller_check",
        /// Weld the same sheet with another unit.
        OtherUnitSameSheet = "other_unit_same_sheet",
    }
}

/// A measured change with its standard deviation.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Change {
    /// The change since the baseline.
    pub by: TemperatureDifference,
    /// Its standard deviation.
    pub sd: TemperatureDifference,
}

/// A measured ratio with its standard deviation (both ratios).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RatioChange {
    /// The ratio, e.g. timed over set speed.
    pub ratio: f64,
    /// Its standard deviation.
    pub sd: f64,
}

/// What is known of a drift. Everything but the levels may be missing; what is missing is left out of the score.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CauseEvidence {
    /// Reference level of the lower edge.
    pub lower_level: Temperature,
    /// Reference level of the upper edge.
    pub upper_level: Temperature,
    /// How far the lower edge has moved.
    pub lower: Option<Change>,
    /// How far the upper edge has moved.
    pub upper: Option<Change>,
    /// Measured minus set nozzle temperature at a low setting, compared with the baseline.
    pub gap_low: Option<Change>,
    /// The same at a high setting.
    pub gap_high: Option<Change>,
    /// Volts under load over those of the baseline.
    pub voltage_ratio: Option<RatioChange>,
    /// Timed over set speed, compared with the baseline.
    pub speed_ratio: Option<RatioChange>,
}

/// A cause and its score.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RankedCause {
    /// The cause.
    pub cause: Cause,
    /// ln of the integrated likelihood, less that of the best.
    pub ln_behind: f64,
}

/// Candidate causes, best first.
#[derive(Debug, Clone, PartialEq)]
pub struct CauseRanking {
    /// Every cause, best first; ties in the order of [`Cause::ALL`].
    pub ranked: Vec<RankedCause>,
    /// The leading cause, only if the next is at least 2 behind in ln likelihood.
    pub named: Option<Cause>,
    /// What would tell the leading candidates apart.
    pub tell_apart: Vec<Measurement>,
    /// The above in a sentence.
    pub sentence: String,
}

/// Ranks the candidate causes.
#[must_use]
pub fn rank(evidence: &CauseEvidence) -> CauseRanking {
    todo!()
}
