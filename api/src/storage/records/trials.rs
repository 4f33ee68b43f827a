//! Trials with their coupons, specimens and evidence.

use chrono::{DateTime, Utc};
use lapwatch_domain::acceptance::{Counts, EvidenceGrade, JudgedTrial};
use lapwatch_domain::edges::{EdgeEvidence, TrialEvidence};
use lapwatch_domain::membrane::MaterialClass;
use lapwatch_domain::quantity::Temperature;
use lapwatch_domain::trial::{Outcome, Purpose};
use tokio::try_join;
use tokio_postgres::Row;
use tokio_postgres::types::ToSql;
use uuid::Uuid;

use crate::model::{Disposition, Trial};
use crate::storage::access::coded;
use crate::storage::si::{Stored, optional};
use crate::storage::{Result, Tenant};

/// How a trial was judged at its acceptance.
#[derive(Debug, Clone)]
pub struct Judgement<'a> {
    /// Crew that welded it, if known.
    pub crew_id: Option<Uuid>,
    /// Site of that crew.
    pub site_id: Option<Uuid>,
    /// Whether it claims a time more than a day after its first receipt.
    pub ahead_of_clock: bool,
    /// The sheet class whose history it informs.
    pub material_class: MaterialClass,
    /// Readings and grade.
    pub judged: &'a JudgedTrial,
    /// Stand-alone evidence on both edges.
    pub evidence: &'a TrialEvidence,
    /// What came of it.
    pub outcome: Outcome,
    /// Ends of the band, if there is one.
    pub band: Option<(Temperature, Temperature)>,
    /// The temperature to set, if there is one.
    pub set_point: Option<Temperature>,
}

/// Adds a trial with everything read from it: four statements, whatever its size, sent together.
pub async fn insert_trial(tenant: &Tenant<'_>, trial: &Trial, judgement: &Judgement<'_>) -> Result<()> {
    try_join!(
        insert_header(tenant, trial, judgement),
        insert_coupons(tenant, trial, judgement.judged),
        insert_specimens(tenant, trial, judgement.judged),
        insert_evidence(tenant, trial, judgement.evidence),
    )?;
    Ok(())
}

async fn insert_header(tenant: &Tenant<'_>, trial: &Trial, judgement: &Judgement<'_>) -> Result<()> {
    let params: [&(dyn ToSql + Sync); 27] = [
        &trial.id,
        &trial.unit_id,
        &judgement.crew_id,
        &judgement.site_id,
        &judgement.material_class.code(),
        &trial.purpose.code(),
        &trial.performed_at,
        &trial.ordered_at(),
        &judgement.ahead_of_clock,
        &trial.upper_sheet.membrane_id,
        &trial.upper_sheet.lot_id,
        &trial.lower_sheet.membrane_id,
        &trial.lower_sheet.lot_id,
        &trial.speed_set.si(),
        &trial.speed_timed.map(Stored::si),
        &trial.sheet_temperature.map(Stored::si),
        &trial.air_temperature.map(Stored::si),
        &trial.humidity.map(Stored::si),
        &trial.wind_speed.map(Stored::si),
        &trial.voltage_idle.map(Stored::si),
        &trial.voltage_loaded.map(Stored::si),
        &judgement.outcome.code(),
        &judgement.judged.grade.code(),
        &judgement.evidence.is_edge_finding(),
        &judgement.band.map(|(low, _)| low.si()),
        &judgement.band.map(|(_, high)| high.si()),
        &judgement.set_point.map(Stored::si),
    ];
    tenant.execute(include_str!("insert_trial.sql"), &params).await?;
    Ok(())
}

async fn insert_coupons(tenant: &Tenant<'_>, trial: &Trial, judged: &JudgedTrial) -> Result<()> {
    let count = |pick: fn(&Counts) -> usize| -> Vec<i16> {
        judged.coupons.iter().map(|coupon| ordinal(pick(&coupon.counts))).collect()
    };
    let set: Vec<f64> = trial.coupons.iter().map(|coupon| coupon.set_temperature.si()).collect();
    let measured: Vec<Option<f64>> =
        trial.coupons.iter().map(|coupon| coupon.measured_temperature.map(Stored::si)).collect();
    let (cold, sound, hot) = (count(|c| c.cold), count(|c| c.sound), count(|c| c.hot));
    let other = count(|c| c.other());
    let sql = include_str!("insert_coupons.sql");
    tenant.execute(sql, &[&trial.id, &set, &measured, &cold, &sound, &hot, &other]).await?;
    Ok(())
}

async fn insert_specimens(tenant: &Tenant<'_>, trial: &Trial, judged: &JudgedTrial) -> Result<()> {
    let mut coupons: Vec<i16> = Vec::new();
    let mut ordinals: Vec<i16> = Vec::new();
    let mut readings: Vec<&str> = Vec::new();
    // An array of arrays must be rectangular in PostgreSQL: one blank-separated text a specimen, split by the statement.
    let mut reasons: Vec<String> = Vec::new();
    let mut widths: Vec<Option<f64>> = Vec::new();
    let mut peaks: Vec<Option<f64>> = Vec::new();
    let mut plateaus: Vec<Option<f64>> = Vec::new();
    for (coupon_index, (coupon, judged)) in trial.coupons.iter().zip(&judged.coupons).enumerate() {
        for (index, (peeled, judged)) in coupon.specimens.iter().zip(&judged.specimens).enumerate() {
            coupons.push(ordinal(coupon_index));
            ordinals.push(ordinal(index));
            readings.push(judged.reading.code());
            reasons.push(judged.reasons.iter().map(|reason| reason.code()).collect::<Vec<_>>().join(" "));
            widths.push(peeled.specimen.bonded_width.map(Stored::si));
            peaks.push(peeled.peak_force.map(Stored::si));
            plateaus.push(peeled.plateau_force.map(Stored::si));
        }
    }
    let sql = include_str!("insert_specimens.sql");
    tenant
        .execute(sql, &[&trial.id, &coupons, &ordinals, &readings, &reasons, &widths, &peaks, &plateaus])
        .await?;
    Ok(())
}

async fn insert_evidence(tenant: &Tenant<'_>, trial: &Trial, evidence: &TrialEvidence) -> Result<()> {
    let both = [&evidence.lower, &evidence.upper];
    let of = |pick: fn(&EdgeEvidence) -> Option<f64>| -> Vec<Option<f64>> {
        both.iter().map(|e| pick(e)).collect()
    };
    let edges: Vec<&str> = both.iter().map(|evidence| evidence.edge.code()).collect();
    let classes: Vec<&str> = both.iter().map(|evidence| evidence.class.code()).collect();
    let means = of(|e| e.estimate.map(|estimate| estimate.mean.si()));
    let sds = of(|e| e.estimate.map(|estimate| estimate.sd.si()));
    let lows = of(|e| e.estimate.map(|estimate| estimate.q025.si()));
    let medians = of(|e| e.estimate.map(|estimate| estimate.q500.si()));
    let highs = of(|e| e.estimate.map(|estimate| estimate.q975.si()));
    let profiles: Vec<Vec<u8>> = both.iter().map(|evidence| evidence.profile.to_bytes()).collect();
    let params: [&(dyn ToSql + Sync); 10] =
        [&trial.id, &trial.unit_id, &edges, &classes, &means, &sds, &lows, &medians, &highs, &profiles];
    tenant.execute(include_str!("insert_evidence.sql"), &params).await?;
    Ok(())
}

/// Counts and positions are bounded by the wire format far below the column's range.
fn ordinal(value: usize) -> i16 {
    i16::try_from(value).unwrap_or(i16::MAX)
}

/// Which trials to list.
#[derive(Debug, Clone, Default)]
pub struct TrialFilter {
    /// Of this unit.
    pub unit_id: Option<Uuid>,
    /// Of this crew.
    pub crew_id: Option<Uuid>,
    /// Of this purpose.
    pub purpose: Option<Purpose>,
    /// With this outcome.
    pub outcome: Option<Outcome>,
    /// Performed at or after.
    pub from: Option<DateTime<Utc>>,
    /// Performed before.
    pub to: Option<DateTime<Utc>>,
    /// Only those that come after this (time, id) in the list.
    pub after: Option<(DateTime<Utc>, Uuid)>,
    /// At most so many.
    pub limit: i64,
}

/// A trial in a list.
#[derive(Debug, Clone)]
pub struct TrialRow {
    /// Id.
    pub id: Uuid,
    /// The unit.
    pub unit_id: Uuid,
    /// The crew.
    pub crew_id: Option<Uuid>,
    /// Its site.
    pub site_id: Option<Uuid>,
    /// Sheet class.
    pub material_class: MaterialClass,
    /// What it was for.
    pub purpose: Purpose,
    /// When.
    pub performed_at: DateTime<Utc>,
    /// What came of it.
    pub outcome: Outcome,
    /// How far it can be trusted.
    pub grade: EvidenceGrade,
    /// Ends of the band.
    pub band: Option<(Temperature, Temperature)>,
    /// The temperature to set.
    pub set_point: Option<Temperature>,
    /// Whether it counts.
    pub disposition: Disposition,
}

/// Trials, the latest first.
pub async fn trials(tenant: &Tenant<'_>, filter: &TrialFilter) -> Result<Vec<TrialRow>> {
    let (after_at, after_id) = filter.after.unzip();
    let purpose = filter.purpose.map(Purpose::code);
    let outcome = filter.outcome.map(Outcome::code);
    let params: [&(dyn ToSql + Sync); 9] = [
        &filter.unit_id,
        &filter.crew_id,
        &purpose,
        &outcome,
        &filter.from,
        &filter.to,
        &after_at,
        &after_id,
        &filter.limit,
    ];
    tenant.rows(include_str!("trials.sql"), &params).await?.iter().map(row_from).collect()
}

/// One trial's row.
pub async fn trial(tenant: &Tenant<'_>, id: Uuid) -> Result<Option<TrialRow>> {
    tenant.row(include_str!("trial.sql"), &[&id]).await?.as_ref().map(row_from).transpose()
}

fn row_from(row: &Row) -> Result<TrialRow> {
    let low = optional(row, "band_low_c")?;
    let high = optional(row, "band_high_c")?;
    Ok(TrialRow {
        id: row.get("id"),
        unit_id: row.get("unit_id"),
        crew_id: row.get("crew_id"),
        site_id: row.get("site_id"),
        material_class: coded(row, "material_class")?,
        purpose: coded(row, "purpose")?,
        performed_at: row.get("performed_at"),
        outcome: coded(row, "outcome")?,
        grade: coded(row, "grade")?,
        band: low.zip(high),
        set_point: optional(row, "set_point_c")?,
        disposition: match row.get::<_, Option<&str>>("disposition") {
            Some(_) => coded(row, "disposition")?,
            None => Disposition::Accepted,
        },
    })
}
