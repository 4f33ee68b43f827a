//! The conditions of a day's first trial.

use lapwatch_domain::quantity::{Speed, SpeedUnit, Temperature};
use lapwatch_domain::trial::Purpose;
use uuid::Uuid;

/// What is to be welded today, before anything was.
#[derive(Debug, Clone, PartialEq)]
pub struct StartConditions {
    /// The upper sheet's product.
    pub upper_membrane_id: Uuid,
    /// The lower sheet's product.
    pub lower_membrane_id: Uuid,
    /// The speed that is to be held.
    pub speed: Speed,
    /// The unit in which the crew reads speeds.
    pub speed_unit: SpeedUnit,
    /// Temperature of the sheet.
    pub sheet_temperature: Temperature,
    /// What the trial will be for.
    pub purpose: Purpose,
}
