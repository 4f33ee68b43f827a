//! Trials with their coupons, specimens and evidence.

use std::collections::HashMap;

use chrono::{DateTime, Utc};
use lapwatch_domain::acceptance::{Counts, EvidenceGrade, JudgedTrial};
use lapwatch_domain::edges::{Edge, EdgeClass, EdgeEvidence, Profile, TrialEvidence};
use lapwatch_domain::membrane::MaterialClass;
use lapwatch_domain::quantity::{Speed, Temperature, TemperatureDifference};
use lapwatch_domain::trial::{Outcome, Purpose};
use tokio_postgres::Row;
use tokio_postgres::types::ToSql;
use uuid::Uuid;

use crate::model::Trial;
use crate::storage::access::coded;
use crate::storage::si::{Stored, optional, quantity};
use crate::storage::{Error, Result, Tenant};

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

/// Adds a trial with everything read from it: four statements, whatever its size.
pub async fn insert_trial(tenant: &Tenant<'_>, trial: &Trial, judgement: &Judgement<'_>) -> Result<()> {
    insert_header(tenant, trial, judgement).await?;
    insert_coupons(tenant, trial, judgement.judged).await?;
    insert_specimens(tenant, trial, judgement.judged).await?;
    insert_evidence(tenant, trial, judgement.evidence).await
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
    })
}

/// What a unit's derivations need of one trial.
#[derive(Debug, Clone)]
pub struct EvidenceRow {
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
    /// Ends of the band.
    pub band: Option<(Temperature, Temperature)>,
    /// The temperature to set.
    pub set_point: Option<Temperature>,
    /// Class of the evidence on the lower and the upper edge.
    pub classes: [EdgeClass; 2],
    /// Likelihood of the lower edge.
    pub lower: Profile,
    /// Likelihood of the upper edge.
    pub upper: Profile,
}

impl EvidenceRow {
    /// Margins of the set point to the two ends of the band.
    pub fn margins(&self) -> Option<(TemperatureDifference, TemperatureDifference)> {
        let ((low, high), set) = self.band.zip(self.set_point)?;
        Some((set - low, high - set))
    }

    /// Class of the evidence on one edge.
    pub fn class(&self, edge: Edge) -> EdgeClass {
        self.classes[usize::from(edge == Edge::Upper)]
    }
}

/// Every trial of a unit that counts, in the order of [`EvidenceRow::ordered_at`]. Records that were more than a day
/// ahead of the clock when first received are kept but stay out of histories.
///
/// Two statements, each one walk along an index of the unit: a join would leave it to a plan made long ago where to
/// begin.
pub async fn history(tenant: &Tenant<'_>, unit: Uuid) -> Result<Vec<EvidenceRow>> {
    let mut edges: HashMap<(Uuid, Edge), (EdgeClass, Profile)> = HashMap::new();
    for row in tenant.rows(include_str!("unit_evidence.sql"), &[&unit]).await? {
        let profile = Profile::from_bytes(row.get("profile"))
            .map_err(|error| Error::Corrupt(format!("a profile: {error}")))?;
        edges.insert((row.get("trial_id"), coded(&row, "edge")?), (coded(&row, "class")?, profile));
    }
    let rows = tenant.rows(include_str!("history.sql"), &[&unit]).await?;
    rows.iter().map(|row| evidence_from(row, &mut edges)).collect()
}

fn evidence_from(row: &Row, edges: &mut HashMap<(Uuid, Edge), (EdgeClass, Profile)>) -> Result<EvidenceRow> {
    let trial_id = row.get("id");
    let mut edge = |edge| {
        edges
            .remove(&(trial_id, edge))
            .ok_or_else(|| Error::Corrupt(format!("trial {trial_id} lacks evidence")))
    };
    let (lower_class, lower) = edge(Edge::Lower)?;
    let (upper_class, upper) = edge(Edge::Upper)?;
    let low = optional(row, "band_low_c")?;
    let high = optional(row, "band_high_c")?;
    Ok(EvidenceRow {
        trial_id,
        ordered_at: row.get("ordered_at"),
        material_class: coded(row, "material_class")?,
        purpose: coded(row, "purpose")?,
        outcome: coded(row, "outcome")?,
        sheet_temperature: optional(row, "sheet_temperature_c")?,
        speed: quantity(row, "speed_m_per_min")?,
        band: low.zip(high),
        set_point: optional(row, "set_point_c")?,
        classes: [lower_class, upper_class],
        lower,
        upper,
    })
}
