//! The settings that a recheck should be welded at.

use std::collections::HashMap;

use chrono::{DateTime, Utc};
use lapwatch_domain::carried::steps_around;
use lapwatch_domain::quantity::{Temperature, TemperatureUnit};
use lapwatch_domain::recheck::RecheckState;
use lapwatch_domain::trial::Purpose;
use tokio::try_join;
use uuid::Uuid;

use super::Result;
use super::trials::ceilings;
use crate::model::{Crew, CriteriaException, CriteriaSet, Membrane, Unit, Version, Weld};
use crate::storage::Tenant;
use crate::storage::configuration::{all_in_force, criteria};
use crate::storage::derived::{Recheck, Working, working};

/// A recheck, and what to weld for it.
#[derive(Debug)]
pub struct WithSteps {
    /// The recheck.
    pub recheck: Recheck,
    /// Settings from cool to hot; `None` where nothing can be said of them, or nothing is to be welded any more.
    pub steps: Option<Vec<Temperature>>,
    /// The scale on which its crew works.
    pub temperature_unit: TemperatureUnit,
}

/// What the steps of all units follow from.
struct Known {
    units: HashMap<Uuid, Version<Unit>>,
    crews: HashMap<Uuid, Version<Crew>>,
    membranes: HashMap<Uuid, Version<Membrane>>,
    working: HashMap<Uuid, Working>,
    criteria: CriteriaSet,
    exceptions: Vec<Version<CriteriaException>>,
    now: DateTime<Utc>,
}

/// Adds to each recheck that waits for a check of the set point the settings to weld it at.
///
/// # Errors
/// [`super::Error::Storage`].
pub(super) async fn with_steps(
    tenant: &Tenant<'_>,
    rechecks: Vec<Recheck>,
    now: DateTime<Utc>,
) -> Result<Vec<WithSteps>> {
    let (units, crews, membranes, working, (_, criteria), exceptions) = try_join!(
        all_in_force::<Unit>(tenant, now),
        all_in_force::<Crew>(tenant, now),
        all_in_force::<Membrane>(tenant, now),
        working(tenant),
        criteria(tenant, now),
        all_in_force::<CriteriaException>(tenant, now),
    )?;
    let known = Known {
        units: units.into_iter().map(|unit| (unit.id, unit)).collect(),
        crews: crews.into_iter().map(|crew| (crew.id, crew)).collect(),
        membranes: membranes.into_iter().map(|membrane| (membrane.id, membrane)).collect(),
        working: working.into_iter().map(|working| (working.unit_id, working)).collect(),
        criteria,
        exceptions,
        now,
    };
    Ok(rechecks.into_iter().map(|recheck| known.add(recheck)).collect())
}

impl Known {
    fn add(&self, recheck: Recheck) -> WithSteps {
        let crew = self.crew(recheck.unit_id);
        let temperature_unit = crew.map_or(TemperatureUnit::Celsius, |crew| crew.value.temperature_unit);
        let waits = matches!(recheck.state, RecheckState::Open | RecheckState::Overdue);
        let checks = waits && recheck.purpose == Purpose::Confirmation;
        let steps = if checks { self.steps(recheck.unit_id, temperature_unit) } else { None };
        WithSteps { recheck, steps, temperature_unit }
    }

    fn crew(&self, unit: Uuid) -> Option<&Version<Crew>> {
        self.crews.get(&self.units.get(&unit)?.value.crew_id?)
    }

    /// Around the last set point of the unit, under every ceiling that holds for the sheets it was found on.
    fn steps(&self, id: Uuid, temperature_unit: TemperatureUnit) -> Option<Vec<Temperature>> {
        let (unit, working) = (&self.units.get(&id)?.value, self.working.get(&id)?);
        let [upper, lower] = working.membranes.map(|membrane| self.membranes.get(&membrane));
        let weld = Weld {
            site_id: self.crew(id).map(|crew| crew.value.site_id),
            membrane_ids: working.membranes,
            method: unit.weld_method,
            at: self.now,
        };
        let criteria = self.criteria.for_weld(&self.exceptions, &weld);
        let ceilings = ceilings([&upper?.value, &lower?.value], &criteria);
        let ceiling = [ceilings.maker, ceilings.organization].into_iter().flatten();
        let ceiling = ceiling.fold(unit.maximum_set_temperature, Temperature::min);
        let steps = steps_around(working.set_point, ceiling, unit.display_step, temperature_unit);
        (!steps.is_empty()).then_some(steps)
    }
}
