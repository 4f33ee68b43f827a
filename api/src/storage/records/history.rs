//! A unit's history: its trials, and what each says about the edges.

use std::collections::HashMap;

use chrono::{DateTime, Utc};
use futures_util::future::try_join_all;
use lapwatch_domain::drift::Probe;
use lapwatch_domain::edges::{Edge, Profile};
use lapwatch_domain::membrane::MaterialClass;
use lapwatch_domain::quantity::{Speed, Temperature, TemperatureDifference, Voltage, WindSpeed};
use lapwatch_domain::standing::Material;
use lapwatch_domain::trial::{Outcome, Purpose};
use tokio_postgres::Row;
use uuid::Uuid;

use crate::storage::access::coded;
use crate::storage::si::{optional, quantity};
use crate::storage::{Error, Result, Tenant};

/// What a unit's derivations need of one trial, beside its evidence.
#[derive(Debug, Clone)]
pub struct HistoryRow {
    /// The trial.
    pub trial_id: Uuid,
    /// When it was performed, by the best clock known.
    pub ordered_at: DateTime<Utc>,
    /// Sheet class.
    pub material_class: MaterialClass,
    /// What it was for.
    pub purpose: Purpose,
    /// What came of it.
    pub outcome: Outcome,
    /// Temperature of the sheet.
    pub sheet_temperature: Option<Temperature>,
    /// Held speed.
    pub speed: Speed,
    /// Timed over set speed.
    pub speed_ratio: Option<f64>,
    /// Voltage under load, measured at the machine.
    pub voltage_loaded: Option<Voltage>,
    /// Ends of the band.
    pub band: Option<(Temperature, Temperature)>,
    /// The temperature to set.
    pub set_point: Option<Temperature>,
    /// Wind.
    pub wind: Option<WindSpeed>,
    /// Products and production runs.
    pub material: Material,
    /// Where it was performed.
    pub site_id: Option<Uuid>,
}

impl HistoryRow {
    /// Margins of the set point to the two ends of the band.
    pub fn margins(&self) -> Option<(TemperatureDifference, TemperatureDifference)> {
        let ((low, high), set) = self.band.zip(self.set_point)?;
        Some((set - low, high - set))
    }
}

/// Every trial of a unit that counts, by [`HistoryRow::ordered_at`] and id. Records that were more than a day ahead of
/// the clock when first received are kept but stay out of histories.
pub async fn history(tenant: &Tenant<'_>, unit: Uuid) -> Result<Vec<HistoryRow>> {
    let rows = tenant.rows(include_str!("history.sql"), &[&unit]).await?;
    rows.iter().map(history_from).collect()
}

fn history_from(row: &Row) -> Result<HistoryRow> {
    let low = optional(row, "band_low_c")?;
    let high = optional(row, "band_high_c")?;
    Ok(HistoryRow {
        trial_id: row.get("id"),
        ordered_at: row.get("ordered_at"),
        material_class: coded(row, "material_class")?,
        purpose: coded(row, "purpose")?,
        outcome: coded(row, "outcome")?,
        sheet_temperature: optional(row, "sheet_temperature_c")?,
        speed: quantity(row, "speed_m_per_min")?,
        speed_ratio: row.get("speed_ratio"),
        voltage_loaded: optional(row, "voltage_loaded_v")?,
        band: low.zip(high),
        set_point: optional(row, "set_point_c")?,
        wind: optional(row, "wind_m_per_s")?,
        material: Material {
            membranes: [row.get("upper_membrane_id"), row.get("lower_membrane_id")],
            lots: [row.get("upper_lot_id"), row.get("lower_lot_id")],
        },
        site_id: row.get("site_id"),
    })
}

/// Air temperatures measured at the nozzle in a unit's trials, by trial.
pub async fn probes(tenant: &Tenant<'_>, unit: Uuid) -> Result<HashMap<Uuid, Vec<Probe>>> {
    let mut found: HashMap<Uuid, Vec<Probe>> = HashMap::new();
    for row in tenant.rows(include_str!("probes.sql"), &[&unit]).await? {
        let set: Temperature = quantity(&row, "set_temperature_c")?;
        let measured: Temperature = quantity(&row, "measured_temperature_c")?;
        found.entry(row.get("trial_id")).or_default().push(Probe { set, gap: measured - set });
    }
    Ok(found)
}

/// The stand-alone likelihoods of one trial.
#[derive(Debug, Clone)]
pub struct Profiles {
    /// Of the lower edge.
    pub lower: Profile,
    /// Of the upper edge.
    pub upper: Profile,
}

impl Profiles {
    /// How many points the longer one has.
    pub fn points(&self) -> usize {
        self.lower.len().max(self.upper.len())
    }
}

/// The likelihoods of all trials of a unit, in one walk along its index.
pub async fn unit_profiles(tenant: &Tenant<'_>, unit: Uuid) -> Result<HashMap<Uuid, Profiles>> {
    profiles_from(&tenant.rows(include_str!("unit_evidence.sql"), &[&unit]).await?)
}

/// The likelihoods of these few trials: one statement each, sent together. (One with all their ids is planned while the
/// tables are empty, and then walks through the whole organization.)
pub async fn trial_profiles(tenant: &Tenant<'_>, trials: &[Uuid]) -> Result<HashMap<Uuid, Profiles>> {
    let of_trial = async |trial: &Uuid| tenant.rows(include_str!("trial_evidence.sql"), &[trial]).await;
    let rows = try_join_all(trials.iter().map(of_trial)).await?;
    profiles_from(&rows.concat())
}

fn profiles_from(rows: &[Row]) -> Result<HashMap<Uuid, Profiles>> {
    let mut edges: HashMap<(Uuid, Edge), Profile> = HashMap::with_capacity(rows.len());
    for row in rows {
        let profile = Profile::from_bytes(row.get("profile"))
            .map_err(|error| Error::Corrupt(format!("a profile: {error}")))?;
        edges.insert((row.get("trial_id"), coded(row, "edge")?), profile);
    }
    let trials: Vec<Uuid> =
        edges.keys().filter(|(_, edge)| *edge == Edge::Lower).map(|(trial, _)| *trial).collect();
    let mut edge = |trial, edge| {
        edges
            .remove(&(trial, edge))
            .ok_or_else(|| Error::Corrupt(format!("trial {trial} lacks evidence on an edge")))
    };
    let both =
        |trial| Ok((trial, Profiles { lower: edge(trial, Edge::Lower)?, upper: edge(trial, Edge::Upper)? }));
    trials.into_iter().map(both).collect()
}
