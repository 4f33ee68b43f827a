//! The ends of charts.

use futures_util::future::try_join_all;
use lapwatch_domain::edges::Edge;
use lapwatch_domain::membrane::MaterialClass;
use lapwatch_domain::quantity::{Temperature, TemperatureDifference};
use tokio_postgres::Row;
use tokio_postgres::types::ToSql;
use uuid::Uuid;

use crate::storage::access::coded;
use crate::storage::si::{Stored, optional};
use crate::storage::{Result, Tenant};

/// The end of one edge's chart.
#[derive(Debug, Clone, PartialEq)]
pub struct ChartEnd {
    /// Sheet class.
    pub material_class: MaterialClass,
    /// Edge.
    pub edge: Edge,
    /// Trials in the series.
    pub trials: usize,
    /// What they are worth, in edge-finding trials.
    pub effective_trials: f64,
    /// Level at reference conditions with its standard deviation.
    pub level: Option<(Temperature, TemperatureDifference)>,
    /// The chart of rising.
    pub up: f64,
    /// The chart of falling.
    pub down: f64,
    /// Its limit.
    pub limit: f64,
    /// Whether too little is known to call the edge known.
    pub learning: bool,
    /// The trial of the standing signal.
    pub signal_trial_id: Option<Uuid>,
}

/// Replaces the chart ends of a unit.
pub async fn replace_histories(tenant: &Tenant<'_>, unit: Uuid, ends: &[ChartEnd]) -> Result<()> {
    tenant.execute("DELETE FROM history WHERE organization_id = $1 AND unit_id = $2", &[&unit]).await?;
    // Sent together: the connection pipelines them.
    try_join_all(ends.iter().map(|end| insert_history(tenant, unit, end))).await?;
    Ok(())
}

async fn insert_history(tenant: &Tenant<'_>, unit: Uuid, end: &ChartEnd) -> Result<()> {
    let trials = i32::try_from(end.trials).unwrap_or(i32::MAX);
    let params: [&(dyn ToSql + Sync); 12] = [
        &unit,
        &end.material_class.code(),
        &end.edge.code(),
        &trials,
        &end.effective_trials,
        &end.level.map(|(mean, _)| mean.si()),
        &end.level.map(|(_, sd)| sd.si()),
        &end.up,
        &end.down,
        &end.limit,
        &end.learning,
        &end.signal_trial_id,
    ];
    tenant.execute(include_str!("insert_history.sql"), &params).await?;
    Ok(())
}

/// The chart ends of a unit.
pub async fn histories(tenant: &Tenant<'_>, unit: Uuid) -> Result<Vec<ChartEnd>> {
    tenant.rows(include_str!("histories.sql"), &[&unit]).await?.iter().map(end_from).collect()
}

fn end_from(row: &Row) -> Result<ChartEnd> {
    let level = optional(row, "level_c")?;
    let sd = optional(row, "level_sd_k")?;
    Ok(ChartEnd {
        material_class: coded(row, "material_class")?,
        edge: coded(row, "edge")?,
        trials: usize::try_from(row.get::<_, i32>("trials")).unwrap_or(0),
        effective_trials: row.get("effective_trials"),
        level: level.zip(sd),
        up: row.get("chart_up"),
        down: row.get("chart_down"),
        limit: row.get("chart_limit"),
        learning: row.get("learning"),
        signal_trial_id: row.get("signal_trial_id"),
    })
}
