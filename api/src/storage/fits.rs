//! Fleet fits: what an organization's own trials said, as of a moment. Rows are only added.

use chrono::{DateTime, Utc};
use futures_util::future::{try_join, try_join_all};
use lapwatch_domain::drift::FadeRate;
use lapwatch_domain::edges::Observation;
use lapwatch_domain::fleet::{
    Basis, ClassShare, Correlation, Fades, Fit, MadeFrom, RatioEstimate, Scatter, Spread, SpreadEvidence,
    Surface, UnitShare,
};
use lapwatch_domain::heat::HeatShare;
use lapwatch_domain::membrane::MaterialClass;
use lapwatch_domain::trial::Purpose;
use tokio_postgres::Row;
use tokio_postgres::types::ToSql;
use uuid::Uuid;

use super::access::coded;
use super::si::{Stored, from_si, quantity};
use super::{Error, Result, Tenant};
use crate::model::{DatedPrior, FleetFit};

/// Adds a fit.
pub async fn insert(tenant: &Tenant<'_>, fit: &FleetFit) -> Result<()> {
    let (made, spread) = (&fit.fit.made_from, &fit.fit.spread);
    let (evidence, correlation, scatter) = (&spread.evidence, &spread.correlation, &spread.scatter);
    let median =
        [scatter.median.si(), scatter.ln_median_sd, scatter.median_low.si(), scatter.median_high.si()];
    let fades = &fit.fit.fades;
    let params: [&(dyn ToSql + Sync); 23] = [
        &fit.id,
        &fit.made_at,
        &fit.effective_from,
        &int(made.trials),
        &int(made.units),
        &made.from,
        &made.to,
        &int(evidence.units),
        &int(evidence.trials),
        &int(evidence.edges),
        &int(evidence.coupons),
        &int(evidence.mixed),
        &correlation.basis.code(),
        &array(&correlation.estimate),
        &scatter.basis.code(),
        &median.to_vec(),
        &array(&scatter.ln_spread),
        &scatter.ln_predictive,
        &fades.basis.code(),
        &int(fades.units),
        &int(fades.fades),
        &array(&fades.typical),
        &vec![fades.rate.ln_mean, fades.rate.ln_sd],
    ];
    tenant.execute(include_str!("fits/insert_fit.sql"), &params).await?;
    let surface = &fit.fit.surface;
    try_join(
        try_join_all(surface.classes.iter().map(|class| insert_class(tenant, fit.id, class))),
        try_join_all(surface.units.iter().map(|unit| insert_unit(tenant, fit.id, unit))),
    )
    .await?;
    Ok(())
}

async fn insert_class(tenant: &Tenant<'_>, fit: Uuid, class: &ClassShare) -> Result<u64> {
    let params: [&(dyn ToSql + Sync); 8] = [
        &fit,
        &class.class.code(),
        &class.basis.code(),
        &int(class.units),
        &int(class.identified),
        &array(&class.mean),
        &array(&class.between_units),
        &class.predictive_sd,
    ];
    tenant.execute(include_str!("fits/insert_class.sql"), &params).await
}

async fn insert_unit(tenant: &Tenant<'_>, fit: Uuid, unit: &UnitShare) -> Result<u64> {
    let params: [&(dyn ToSql + Sync); 7] = [
        &fit,
        &unit.class.code(),
        &unit.unit,
        &int(unit.trials),
        &unit.identified,
        &unit.narrowing,
        &array(&unit.estimate),
    ];
    tenant.execute(include_str!("fits/insert_unit.sql"), &params).await
}

/// What a trial performed at `at` may assume of its strips; `None` before the first fit holds.
pub async fn prior(tenant: &Tenant<'_>, at: DateTime<Utc>) -> Result<Option<DatedPrior>> {
    Ok(in_force(tenant, at).await?.map(|(prior, _)| prior))
}

/// What the fit that holds at `at` lets trials assume of their strips, and charts of the rate of a fade; `None` before the
/// first holds.
pub async fn in_force(tenant: &Tenant<'_>, at: DateTime<Utc>) -> Result<Option<(DatedPrior, FadeRate)>> {
    let row = tenant.row(include_str!("fits/in_force.sql"), &[&at]).await?;
    row.as_ref()
        .map(|row| {
            let prior = DatedPrior {
                fit: row.get("id"),
                made_at: row.get("made_at"),
                prior: spread(row)?.edge_prior(),
            };
            Ok((prior, fade_rate(row)?.unwrap_or_default()))
        })
        .transpose()
}

/// The rate of a fade that a fit lets charts assume; `None` from a fit of before fades were looked at.
fn fade_rate(row: &Row) -> Result<Option<FadeRate>> {
    match row.get::<_, Option<Vec<f64>>>("fade_ln_rate").as_deref() {
        None => Ok(None),
        Some([ln_mean, ln_sd]) => Ok(Some(FadeRate { ln_mean: *ln_mean, ln_sd: *ln_sd })),
        Some(_) => Err(Error::Corrupt("`fade_ln_rate` is not a mean and a standard deviation".to_owned())),
    }
}

fn fades(row: &Row) -> Result<Fades> {
    let Some(rate) = fade_rate(row)? else { return Ok(Fades::of([])) };
    Ok(Fades {
        basis: coded::<Basis>(row, "fade_basis")?,
        units: count(row, "fade_units"),
        fades: count(row, "fade_count"),
        typical: estimate(row, "fade_k_per_day")?,
        rate,
    })
}

/// The heat shares of the fit that holds at `at`, of the classes that have their own.
pub async fn chart_shares(
    tenant: &Tenant<'_>,
    at: DateTime<Utc>,
) -> Result<Vec<(MaterialClass, Vec<(HeatShare, f64)>)>> {
    let rows = tenant.rows(include_str!("fits/classes_in_force.sql"), &[&at]).await?;
    let classes = rows.iter().map(class_from).collect::<Result<_>>()?;
    Ok(Surface { classes, units: Vec::new() }.chart_shares())
}

/// The latest fits, at most so many, without the shares of units.
pub async fn latest(tenant: &Tenant<'_>, limit: i64) -> Result<Vec<FleetFit>> {
    let rows = tenant.rows(include_str!("fits/latest.sql"), &[&limit]).await?;
    try_join_all(rows.iter().map(|row| fit_from(tenant, row, Vec::new()))).await
}

/// One fit, whole.
pub async fn fit(tenant: &Tenant<'_>, id: Uuid) -> Result<Option<FleetFit>> {
    let Some(row) = tenant.row(include_str!("fits/fit.sql"), &[&id]).await? else { return Ok(None) };
    let units = tenant.rows(include_str!("fits/units.sql"), &[&id]).await?;
    let units = units.iter().map(unit_from).collect::<Result<_>>()?;
    fit_from(tenant, &row, units).await.map(Some)
}

async fn fit_from(tenant: &Tenant<'_>, row: &Row, units: Vec<UnitShare>) -> Result<FleetFit> {
    let id: Uuid = row.get("id");
    let rows = tenant.rows(include_str!("fits/classes.sql"), &[&id]).await?;
    let mut classes: Vec<ClassShare> = rows.iter().map(class_from).collect::<Result<_>>()?;
    classes.sort_by_key(|class| MaterialClass::ALL.iter().position(|known| *known == class.class));
    let made_from = MadeFrom {
        trials: count(row, "trials"),
        units: count(row, "units"),
        from: row.get("first_trial_at"),
        to: row.get("last_trial_at"),
    };
    let fit =
        Fit { made_from, spread: spread(row)?, surface: Surface { classes, units }, fades: fades(row)? };
    Ok(FleetFit { id, made_at: row.get("made_at"), effective_from: row.get("effective_from"), fit })
}

fn spread(row: &Row) -> Result<Spread> {
    let evidence = SpreadEvidence {
        units: count(row, "search_units"),
        trials: count(row, "search_trials"),
        edges: count(row, "search_edges"),
        coupons: count(row, "search_coupons"),
        mixed: count(row, "mixed_coupons"),
    };
    let median = estimate(row, "scatter_k")?;
    Ok(Spread {
        evidence,
        correlation: Correlation {
            basis: coded(row, "correlation_basis")?,
            estimate: estimate(row, "correlation")?,
        },
        scatter: Scatter {
            basis: coded(row, "scatter_basis")?,
            median: from_si(median.mean)?,
            median_low: from_si(median.low)?,
            median_high: from_si(median.high)?,
            ln_median_sd: median.sd,
            ln_spread: estimate(row, "scatter_ln_spread")?,
            ln_predictive: row.get("scatter_ln_further"),
        },
    })
}

fn class_from(row: &Row) -> Result<ClassShare> {
    Ok(ClassShare {
        class: coded(row, "material_class")?,
        basis: coded(row, "basis")?,
        units: count(row, "units"),
        identified: count(row, "identified"),
        mean: estimate(row, "heat_share")?,
        between_units: estimate(row, "between_units")?,
        predictive_sd: row.get("predictive_sd"),
    })
}

fn unit_from(row: &Row) -> Result<UnitShare> {
    Ok(UnitShare {
        unit: row.get("unit_id"),
        class: coded(row, "material_class")?,
        trials: count(row, "trials"),
        identified: row.get("identified"),
        narrowing: row.get("narrowing"),
        estimate: estimate(row, "heat_share")?,
    })
}

/// Whether at least so many trials were performed at or after `since`.
pub async fn have_been_performed(tenant: &Tenant<'_>, trials: i64, since: DateTime<Utc>) -> Result<bool> {
    let found = tenant.row(include_str!("fits/nth_trial.sql"), &[&since, &(trials - 1)]).await?;
    Ok(found.is_some())
}

/// The coupons of one trial, as judged.
#[derive(Debug, Clone)]
pub struct JudgedSteps {
    /// The unit that made it.
    pub unit: Uuid,
    /// What it was made for.
    pub purpose: Purpose,
    /// Its coupons.
    pub steps: Vec<Observation>,
}

/// The coupons of those trials of a unit that set out to find edges, performed from `from` to `to`.
pub async fn searches(
    tenant: &Tenant<'_>,
    unit: Uuid,
    (from, to): (DateTime<Utc>, DateTime<Utc>),
) -> Result<Vec<JudgedSteps>> {
    let rows = tenant.rows(include_str!("fits/searches.sql"), &[&unit, &from, &to]).await?;
    let mut trials: Vec<JudgedSteps> = Vec::new();
    let mut last = None;
    for row in &rows {
        let id: Uuid = row.get("trial_id");
        if last != Some(id) {
            trials.push(JudgedSteps { unit, purpose: coded(row, "purpose")?, steps: Vec::new() });
            last = Some(id);
        }
        if let Some(trial) = trials.last_mut() {
            let strips = |column| usize::try_from(row.get::<_, i16>(column)).unwrap_or(0);
            trial.steps.push(Observation {
                temperature: quantity(row, "set_temperature_c")?,
                cold: strips("cold"),
                sound: strips("sound"),
                hot: strips("hot"),
            });
        }
    }
    Ok(trials)
}

fn int(number: usize) -> i32 {
    i32::try_from(number).unwrap_or(i32::MAX)
}

fn count(row: &Row, column: &str) -> usize {
    usize::try_from(row.get::<_, i32>(column)).unwrap_or(0)
}

fn array(estimate: &RatioEstimate) -> Vec<f64> {
    vec![estimate.mean, estimate.sd, estimate.low, estimate.high]
}

fn estimate(row: &Row, column: &str) -> Result<RatioEstimate> {
    let [mean, sd, low, high] = row.get::<_, Vec<f64>>(column)[..] else {
        return Err(Error::Corrupt(format!("`{column}` is not an estimate")));
    };
    Ok(RatioEstimate { mean, sd, low, high })
}
