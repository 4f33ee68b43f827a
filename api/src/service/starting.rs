//! Where a unit should begin today, from its history.

use std::panic::{AssertUnwindSafe, catch_unwind};

use chrono::{DateTime, Utc};
use lapwatch_domain::carried::{NotCarried, StartInput, StartingSteps, full_sweep, starting_steps};
use lapwatch_domain::membrane::{Sheet, SheetCondition};
use lapwatch_domain::quantity::{SpeedUnit, Temperature, TemperatureUnit};
use tokio::try_join;
use uuid::Uuid;

use super::derive::UnitFacts;
use super::trials::{ceilings, named, policy, today};
use super::{Error, Result, Service, open_to_read, reach, shared};
use crate::model::{
    Crew, CriteriaException, CriteriaSet, Findings, Membrane, Principal, StartConditions, Unit, Weld,
};
use crate::storage::configuration::{all_in_force, criteria, in_force};
use crate::storage::{Tenant, fits};

/// Where to begin.
#[derive(Debug)]
pub struct Start {
    /// The steps, or why the history does not tell them.
    pub steps: std::result::Result<StartingSteps, NotCarried>,
    /// The first step of a full sweep, and the advice to make one.
    pub full_sweep: (Temperature, String),
    /// The scale on which the unit's crew works.
    pub temperature_unit: TemperatureUnit,
    /// The unit in which speeds were asked about.
    pub speed_unit: SpeedUnit,
    /// When this was worked out.
    pub as_of: DateTime<Utc>,
}

/// The steps with which a unit should begin under these conditions. Reads only.
///
/// # Errors
/// [`Error::NotFound`] when the caller sees no such unit; [`Error::Invalid`] naming a membrane that is not known;
/// [`Error::Storage`].
pub async fn steps(
    service: &Service,
    caller: &Principal,
    id: Uuid,
    conditions: &StartConditions,
    now: DateTime<Utc>,
) -> Result<Start> {
    let mut client = service.store.client().await?;
    let tenant = open_to_read(&mut client, caller).await?;
    let unit = reach::unit(&tenant, caller, id, now).await?.value;
    let sheets = membranes(&tenant, conditions, now).await?;
    let sheets = [&sheets.0, &sheets.1];
    let criteria =
        criteria_today(&tenant, &unit, [conditions.upper_membrane_id, conditions.lower_membrane_id], now)
            .await?;
    let facts = UnitFacts::load(&tenant, id, now).await?;
    let knowledge = facts.derive(&tenant, &service.charts, now).await?.charts.now(sheets[0].material_class);
    let policy = policy(&criteria, fits::prior(&tenant, now).await?);
    let input = StartInput {
        today: today(
            &unit,
            sheets,
            (Some(conditions.sheet_temperature), conditions.speed, now),
            shared::on_sheets(&tenant, &facts, conditions, sheets[0].material_class, now).await?,
        ),
        purpose: conditions.purpose,
        sheets: sheets
            .map(|membrane| Sheet { class: membrane.material_class, condition: SheetCondition::New }),
        unit_maximum: unit.maximum_set_temperature,
        display_step: unit.display_step,
        temperature_unit: facts.temperature_unit,
        speed_unit: conditions.speed_unit,
        ceilings: ceilings(sheets, &criteria),
        policy: &policy,
    };
    catch_unwind(AssertUnwindSafe(|| Start {
        steps: starting_steps(knowledge.as_ref(), &input),
        full_sweep: full_sweep(&input),
        temperature_unit: facts.temperature_unit,
        speed_unit: conditions.speed_unit,
        as_of: now,
    }))
    .map_err(|_| Error::Internal(format!("the starting steps of unit {id} failed")))
}

/// The criteria that hold for this unit and these sheets where its crew welds now.
async fn criteria_today(
    tenant: &Tenant<'_>,
    unit: &Unit,
    sheets: [Uuid; 2],
    now: DateTime<Utc>,
) -> Result<CriteriaSet> {
    let ((_, criteria), exceptions) =
        try_join!(criteria(tenant, now), all_in_force::<CriteriaException>(tenant, now))?;
    let crew = match unit.crew_id {
        Some(crew) => in_force::<Crew>(tenant, crew, now).await?,
        None => None,
    };
    let weld = Weld {
        site_id: crew.map(|crew| crew.value.site_id),
        membrane_ids: sheets,
        method: unit.weld_method,
        at: now,
    };
    Ok(criteria.for_weld(&exceptions, &weld))
}

/// Both membranes as they are now.
async fn membranes(
    tenant: &Tenant<'_>,
    conditions: &StartConditions,
    now: DateTime<Utc>,
) -> Result<(Membrane, Membrane)> {
    let (upper, lower) = try_join!(
        in_force::<Membrane>(tenant, conditions.upper_membrane_id, now),
        in_force::<Membrane>(tenant, conditions.lower_membrane_id, now),
    )?;
    let mut findings = Findings::default();
    let upper = named(&mut findings, "/upper_membrane_id", conditions.upper_membrane_id, upper);
    let lower = named(&mut findings, "/lower_membrane_id", conditions.lower_membrane_id, lower);
    findings.into_result(upper.zip(lower)).map_err(Error::Invalid)
}
