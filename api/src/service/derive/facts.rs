//! What the records say of a unit, in the words of the domain.

use std::collections::HashMap;

use chrono::{DateTime, TimeDelta, Utc};
use chrono_tz::Tz;
use futures_util::TryFutureExt;
use lapwatch_domain::drift::{Beside, Probe};
use lapwatch_domain::quantity::{
    Quantity as _, TemperatureDifference, TemperatureUnit, Voltage, VoltageUnit,
};
use lapwatch_domain::recheck::{DayEventFact, DayPlanFact, RecheckPolicy};
use lapwatch_domain::standing::{Decision, FlagKind, SeriesKey, ServiceFact, TrialFact};
use lapwatch_domain::supply::{LEAST_RESERVE, Rating, Supply};
use lapwatch_domain::suspect::SeamCheckFact;
use lapwatch_domain::trial::Surroundings;
use tokio::try_join;
use uuid::Uuid;

use crate::model::{self, Crew, Policy, Site, Unit};
use crate::service::{Error, Result};
use crate::storage::records::{self, HistoryRow};
use crate::storage::{Tenant, configuration};

/// A unit and the crew that has it.
pub(super) struct Crewed {
    pub(super) unit: Unit,
    /// Time zone of the crew's site; UTC when there is none.
    pub(super) zone: Tz,
    /// The crew's scale; °C when there is none.
    pub(super) temperature_unit: TemperatureUnit,
    /// Its latest day plans.
    pub(super) day_plans: Vec<model::DayPlan>,
    /// Its latest day events that concern the unit, and those of others that name it.
    pub(super) day_events: Vec<model::DayEvent>,
}

impl Crewed {
    pub(super) async fn load(
        tenant: &Tenant<'_>,
        unit_id: Uuid,
        at: DateTime<Utc>,
        since: DateTime<Utc>,
    ) -> Result<Self> {
        let version = configuration::in_force::<Unit>(tenant, unit_id, at).await?;
        let unit = version.ok_or(Error::NotFound("unit"))?.value;
        let mut day_events = records::unit_day_events(tenant, unit_id, since).await?;
        let Some(crew) = unit.crew_id else {
            let (zone, temperature_unit) = (Tz::UTC, TemperatureUnit::Celsius);
            return Ok(Self { unit, zone, temperature_unit, day_plans: Vec::new(), day_events });
        };
        let ((zone, temperature_unit), day_plans, of_crew) = try_join!(
            habits(tenant, crew, at),
            records::day_plans(tenant, Some(crew), since.date_naive()).err_into(),
            records::day_events(tenant, Some(crew), since).err_into(),
        )?;
        day_events.extend(of_crew.into_iter().filter(|event| event.unit_id.is_none()));
        Ok(Self { unit, zone, temperature_unit, day_plans, day_events })
    }
}

/// Where and how a crew works: time zone of its site, and its scale.
async fn habits(tenant: &Tenant<'_>, crew: Uuid, at: DateTime<Utc>) -> Result<(Tz, TemperatureUnit)> {
    let Some(crew) = configuration::in_force::<Crew>(tenant, crew, at).await? else {
        return Ok((Tz::UTC, TemperatureUnit::Celsius));
    };
    let site = configuration::in_force::<Site>(tenant, crew.value.site_id, at).await?;
    Ok((site.map_or(Tz::UTC, |site| site.value.time_zone), crew.value.temperature_unit))
}

/// The policy as the calculation takes it.
pub(in crate::service) fn recheck_policy(policy: &Policy) -> RecheckPolicy {
    RecheckPolicy {
        shift_start: policy.shift_start,
        grace: TimeDelta::minutes(i64::from(policy.trial_due_after_min)),
        edge_finding_days: u32::from(policy.edge_finding_interval_days),
        least_edge_finding_days: u32::from(policy.least_edge_finding_interval_days),
        most_edge_finding_days: u32::from(policy.most_edge_finding_interval_days),
        limit_lead_days: u32::from(policy.limit_lead_days),
        carry_share: policy.carry_share.ratio(),
        wind_from: policy.wind_from,
        operator_checks: policy.operator_checks,
        closed_days: policy.closed_days.clone(),
        in_use_days: u32::from(policy.in_use_days),
        working_days: policy
            .working_days
            .iter()
            .filter_map(|day| chrono::Weekday::try_from(day.checked_sub(1)?).ok())
            .collect(),
        ..RecheckPolicy::default()
    }
}

pub(super) fn trial_fact(row: &HistoryRow, unit: &Unit) -> TrialFact {
    let margins = row.margins();
    TrialFact {
        trial: row.trial_id,
        at: row.ordered_at,
        class: row.material_class,
        purpose: row.purpose,
        outcome: row.outcome,
        margin_below: margins.map(|(below, _)| below),
        margin_above: margins.map(|(_, above)| above),
        set_point: row.set_point,
        sheet: row.sheet_temperature,
        speed: row.speed,
        wind: row.wind,
        material: row.material,
        heater_reserve: heater_reserve(row, unit),
    }
}

/// What a unit's trials measured beside their strips.
pub(super) fn beside(
    history: &[HistoryRow],
    unit: &Unit,
    mut probes: HashMap<Uuid, Vec<Probe>>,
) -> Vec<(Uuid, Beside)> {
    let volts = |voltage: Voltage| voltage.value_in(VoltageUnit::Volt);
    let rated = volts(unit.rated_voltage);
    let of_trial = |row: &HistoryRow| Beside {
        at: row.ordered_at,
        probes: probes.remove(&row.trial_id).unwrap_or_default(),
        voltage_ratio: row.voltage_loaded.map(|voltage| volts(voltage) / rated),
        speed_ratio: row.speed_ratio,
        band_width: row.band.filter(|_| row.purpose.finds_edges()).map(|(low, high)| high - low),
    };
    history.iter().map(of_trial).zip(history).map(|(beside, row)| (row.trial_id, beside)).collect()
}

/// How far the set point lay below what the heater reached on the voltage that was measured under load.
fn heater_reserve(row: &HistoryRow, unit: &Unit) -> Option<TemperatureDifference> {
    let loaded = row.voltage_loaded?;
    let surroundings = Surroundings {
        rating: Rating::new(unit.rated_voltage, unit.rated_power).ok(),
        supply: Supply { loaded: Some(loaded), ..Supply::default() },
        ..Surroundings::default()
    };
    let headroom = surroundings.headroom(unit.maximum_set_temperature, row.set_point?, LEAST_RESERVE);
    headroom.map(|headroom| headroom.reserve)
}

pub(super) fn service_fact(event: &model::ServiceEvent) -> ServiceFact {
    ServiceFact { at: event.performed_at, affects_heat: event.affects_heat }
}

pub(super) fn decision(decision: &model::Decision) -> Decision {
    Decision {
        id: decision.id,
        kind: decision.kind,
        series: decision.series.as_deref().and_then(SeriesKey::from_code),
        concern: decision.concern.as_deref().and_then(FlagKind::from_code),
        at: decision.decided_at,
    }
}

pub(super) fn day_event_fact(event: &model::DayEvent) -> DayEventFact {
    DayEventFact {
        at: event.at,
        kind: event.kind,
        sheet: event.sheet_temperature,
        wind: event.wind_speed,
        membrane: event.membrane_id,
        lot: event.lot_id,
    }
}

pub(super) fn seam_check_fact(check: &model::SeamCheck) -> SeamCheckFact {
    SeamCheckFact { id: check.id, span: check.span_id, at: check.at, result: check.result }
}

pub(super) fn day_plan_fact(plan: &model::DayPlan, unit: Uuid) -> DayPlanFact {
    DayPlanFact {
        date: plan.date,
        welding: plan.welding,
        names_unit: plan.unit_ids.contains(&unit),
        recorded_at: plan.recorded_at,
    }
}
