//! What a crew's phone has to know.

use chrono::{DateTime, Utc};
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;

use super::feed::cursor;
use super::fleet::{FleetUnit, Recheck};
use crate::service::device::Snapshot;
use crate::wire::configuration::{
    Crew, Criteria, CriteriaException, Form, Lot, Membrane, Policy, Site, Unit,
};

/// What a crew's phone has to know, all of it from one moment. Temperatures of units are in °C; what is retired is left out.
#[derive(Debug, Serialize, ToSchema)]
pub struct DeviceSnapshot {
    /// The end of the change feed at that moment: go on with `/v1/changes` after it.
    pub through: String,
    /// The time for which it is.
    pub as_of: DateTime<Utc>,
    /// When some configuration comes into force that is known already: take a new snapshot then. Null when there is none.
    pub fresh_until: Option<DateTime<Utc>>,
    /// The crew; null for the whole organization.
    pub crew: Option<Crew>,
    /// Its site; for the whole organization every one.
    pub sites: Vec<Site>,
    /// Its units, by label.
    pub units: Vec<DeviceUnit>,
    /// Their rechecks that wait for a trial, the latest due first.
    pub rechecks: Vec<Recheck>,
    /// The membranes.
    pub membranes: Vec<Membrane>,
    /// Their lots.
    pub lots: Vec<Lot>,
    /// The criteria.
    pub criteria: Criteria,
    /// Exceptions to them, by job.
    pub criteria_exceptions: Vec<CriteriaException>,
    /// The policy.
    pub policy: Policy,
}

/// A unit: what it is, and where it stands.
#[derive(Debug, Serialize, ToSchema)]
pub struct DeviceUnit {
    /// What it is.
    pub unit: Unit,
    /// Where it stands, with set point, margins, next recheck and open flags.
    pub state: FleetUnit,
}

fn shown<F: Form>(versions: &[crate::model::Version<F::Subject>]) -> Vec<F> {
    versions.iter().map(F::show).collect()
}

impl DeviceSnapshot {
    /// The snapshot of an organization's crew, as it stands at `now`.
    pub fn of(organization: Uuid, snapshot: &Snapshot, now: DateTime<Utc>) -> Self {
        let unit = |row| DeviceUnit::of(row, now);
        Self {
            through: cursor(organization, snapshot.place),
            as_of: now,
            fresh_until: snapshot.fresh_until,
            crew: snapshot.crew.as_ref().map(Crew::show),
            sites: shown(&snapshot.sites),
            units: snapshot.units.iter().map(unit).collect(),
            rechecks: snapshot.rechecks.iter().map(|recheck| Recheck::of(recheck, now)).collect(),
            membranes: shown(&snapshot.membranes),
            lots: shown(&snapshot.lots),
            criteria: Criteria::show(snapshot.criteria.0, &snapshot.criteria.1),
            criteria_exceptions: shown(&snapshot.exceptions),
            policy: Policy::show(snapshot.policy.0, &snapshot.policy.1),
        }
    }
}

impl DeviceUnit {
    fn of(row: &crate::service::fleet::FleetRow, now: DateTime<Utc>) -> Self {
        Self { unit: Unit::show(&row.unit), state: FleetUnit::of(row, now) }
    }
}
