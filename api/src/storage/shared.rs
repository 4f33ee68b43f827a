//! Fits of what units share. Rows are only added; what single units are told goes when no chart needs it any more.

use chrono::{DateTime, NaiveDate, Utc};
use futures_util::future::try_join_all;
use lapwatch_domain::drift::{Offset, Offsets};
use lapwatch_domain::fleet::{
    MadeFrom, Ordinary, Shared, SharedBy, SharedKind, SharedShift, Shift, Shifts, TrialNoise,
};
use lapwatch_domain::quantity::TemperatureDifference;
use tokio_postgres::Row;
use tokio_postgres::types::ToSql;
use uuid::Uuid;

use super::access::coded;
use super::si::{Stored, from_si};
use super::{Error, Result, Tenant};
use crate::model::{Days, SharedFit};

/// Adds a fit.
pub async fn insert(tenant: &Tenant<'_>, fit: &SharedFit) -> Result<()> {
    let (made, noise, ordinary) = (&fit.made_from, &fit.shared.noise, &fit.shared.ordinary);
    let informed: Vec<i32> = ordinary.iter().map(|kind| int(kind.informed)).collect();
    let ordinary: Vec<f64> = ordinary.iter().map(|kind| kind.sd.si()).collect();
    let params: [&(dyn ToSql + Sync); 11] = [
        &fit.id,
        &fit.made_at,
        &int(made.trials),
        &int(made.units),
        &made.from,
        &made.to,
        &noise.basis.code(),
        &int(noise.differences),
        &vec![noise.mean.si(), noise.low.si(), noise.high.si()],
        &informed,
        &ordinary,
    ];
    tenant.execute(include_str!("shared/insert_fit.sql"), &params).await?;
    let shifts = fit.shared.shifts.iter().enumerate();
    try_join_all(shifts.clone().map(|(ordinal, shift)| insert_shift(tenant, fit, int(ordinal), shift)))
        .await?;
    try_join_all(shifts.map(|(ordinal, shift)| insert_own(tenant, fit.id, int(ordinal), shift))).await?;
    Ok(())
}

async fn insert_shift(
    tenant: &Tenant<'_>,
    fit: &SharedFit,
    ordinal: i32,
    shift: &SharedShift,
) -> Result<u64> {
    let (subject, date) = columns(&shift.by);
    let (starts, ends) = fit.day(&shift.by).unzip();
    let params: [&(dyn ToSql + Sync); 14] = [
        &fit.id,
        &ordinal,
        &shift.class.code(),
        &shift.by.kind().code(),
        &subject,
        &date,
        &starts,
        &ends,
        &int(shift.units),
        &int(shift.trials),
        &shift.latest,
        &shift.informing.map(int).to_vec(),
        &shift.shifts.lower.as_ref().map(array),
        &shift.shifts.upper.as_ref().map(array),
    ];
    tenant.execute(include_str!("shared/insert_shift.sql"), &params).await
}

/// What is shared, as columns beside its kind.
pub(super) fn columns(by: &SharedBy) -> (Uuid, Option<NaiveDate>) {
    match by {
        SharedBy::Membrane(id) | SharedBy::Lot(id) => (*id, None),
        SharedBy::Day(site, date) => (*site, Some(*date)),
    }
}

/// What is shared, from these columns; of a day the date stands in `on_date`.
pub(super) fn subject_from(kind: SharedKind, subject: Uuid, row: &Row) -> SharedBy {
    match kind {
        SharedKind::Membrane => SharedBy::Membrane(subject),
        SharedKind::Lot => SharedBy::Lot(subject),
        SharedKind::Day => SharedBy::Day(subject, row.get("on_date")),
    }
}

async fn insert_own(tenant: &Tenant<'_>, fit: Uuid, ordinal: i32, shift: &SharedShift) -> Result<u64> {
    let units: Vec<Uuid> = shift.own.iter().map(|(unit, _)| *unit).collect();
    let column = |of: fn(&Offsets) -> TemperatureDifference| -> Vec<f64> {
        shift.own.iter().map(|(_, offsets)| of(offsets).si()).collect()
    };
    let params: [&(dyn ToSql + Sync); 7] = [
        &fit,
        &ordinal,
        &units,
        &column(|offsets| offsets.lower.mean),
        &column(|offsets| offsets.lower.sd),
        &column(|offsets| offsets.upper.mean),
        &column(|offsets| offsets.upper.sd),
    ];
    tenant.execute(include_str!("shared/insert_own.sql"), &params).await
}

/// Forgets what single units were told by fits made before then.
pub async fn forget_own(tenant: &Tenant<'_>, before: DateTime<Utc>) -> Result<u64> {
    tenant.execute(include_str!("shared/forget_own.sql"), &[&before]).await
}

/// The latest fits, at most so many, without shifts.
pub async fn latest(tenant: &Tenant<'_>, limit: i64) -> Result<Vec<SharedFit>> {
    let rows = tenant.rows(include_str!("shared/latest.sql"), &[&limit]).await?;
    rows.iter().map(|row| fit_from(row, &[])).collect()
}

/// One fit with its shifts, without what single units were told.
pub async fn fit(tenant: &Tenant<'_>, id: Uuid) -> Result<Option<SharedFit>> {
    let Some(row) = tenant.row(include_str!("shared/fit.sql"), &[&id]).await? else { return Ok(None) };
    let shifts = tenant.rows(include_str!("shared/shifts.sql"), &[&id]).await?;
    fit_from(&row, &shifts).map(Some)
}

/// The fit in force at `at` with its shifts, without what single units were told.
pub async fn in_force(tenant: &Tenant<'_>, at: DateTime<Utc>) -> Result<Option<SharedFit>> {
    let Some(row) = tenant.row(include_str!("shared/in_force.sql"), &[&at]).await? else { return Ok(None) };
    let shifts = tenant.rows(include_str!("shared/shifts.sql"), &[&row.get::<_, Uuid>("id")]).await?;
    fit_from(&row, &shifts).map(Some)
}

/// What the fit in force at `at` says to one unit that met these products, runs and sites.
pub async fn for_unit(
    tenant: &Tenant<'_>,
    unit: Uuid,
    subjects: &[Uuid],
    at: DateTime<Utc>,
) -> Result<Option<SharedFit>> {
    let Some(row) = tenant.row(include_str!("shared/in_force.sql"), &[&at]).await? else { return Ok(None) };
    let id: Uuid = row.get("id");
    let shifts = tenant.rows(include_str!("shared/for_unit.sql"), &[&id, &unit, &subjects]).await?;
    let mut fit = fit_from(&row, &shifts)?;
    // In the order of the fit, which sorts by class and subject.
    for (shift, row) in fit.shared.shifts.iter_mut().zip(&shifts) {
        if let Some(lower) = row.get::<_, Option<f64>>("own_lower_k") {
            let offset =
                |mean: f64, sd| Ok::<_, Error>(Offset { mean: from_si(mean)?, sd: from_si(row.get(sd))? });
            let lower = offset(lower, "own_lower_sd_k")?;
            let upper = offset(row.get("own_upper_k"), "own_upper_sd_k")?;
            shift.own = vec![(unit, Offsets { lower, upper })];
        }
    }
    Ok(Some(fit))
}

fn fit_from(row: &Row, shifts: &[Row]) -> Result<SharedFit> {
    let [mean, low, high] = row.get::<_, Vec<f64>>("noise_k")[..] else {
        return Err(Error::Corrupt("`noise_k` is not an estimate".into()));
    };
    let informed: Vec<i32> = row.get("informed");
    let sds: Vec<f64> = row.get("ordinary_k");
    let ordinary = SharedKind::ALL.iter().zip(informed).zip(sds).map(|((kind, informed), sd)| {
        Ok(Ordinary { kind: *kind, informed: usize::try_from(informed).unwrap_or(0), sd: from_si(sd)? })
    });
    let shared = Shared {
        noise: TrialNoise {
            basis: coded(row, "noise_basis")?,
            differences: count(row, "noise_differences"),
            mean: from_si(mean)?,
            low: from_si(low)?,
            high: from_si(high)?,
        },
        ordinary: ordinary.collect::<Result<_>>()?,
        shifts: shifts.iter().map(shift_from).collect::<Result<_>>()?,
    };
    Ok(SharedFit {
        id: row.get("id"),
        made_at: row.get("made_at"),
        made_from: MadeFrom {
            trials: count(row, "trials"),
            units: count(row, "units"),
            from: row.get("first_trial_at"),
            to: row.get("last_trial_at"),
        },
        shared,
        days: days(shifts),
    })
}

fn days(shifts: &[Row]) -> Days {
    let day = |row: &Row| {
        let date: NaiveDate = row.get::<_, Option<NaiveDate>>("on_date")?;
        Some(((row.get("subject_id"), date), (row.get("starts_at"), row.get("ends_at"))))
    };
    shifts.iter().filter_map(day).collect()
}

fn shift_from(row: &Row) -> Result<SharedShift> {
    let subject: Uuid = row.get("subject_id");
    let by = subject_from(coded::<SharedKind>(row, "kind")?, subject, row);
    let informing: Vec<i32> = row.get("informing");
    let informing = |edge: usize| informing.get(edge).map_or(0, |units| usize::try_from(*units).unwrap_or(0));
    Ok(SharedShift {
        class: coded(row, "material_class")?,
        by,
        units: count(row, "units"),
        trials: count(row, "trials"),
        latest: row.get("latest_at"),
        informing: [informing(0), informing(1)],
        shifts: Shifts { lower: shift(row, "lower_k")?, upper: shift(row, "upper_k")? },
        own: Vec::new(),
    })
}

fn shift(row: &Row, column: &str) -> Result<Option<Shift>> {
    let Some(numbers) = row.get::<_, Option<Vec<f64>>>(column) else { return Ok(None) };
    let [mean, sd, low, high] = numbers[..] else {
        return Err(Error::Corrupt(format!("`{column}` is not an estimate")));
    };
    let [mean, sd, low, high] = [from_si(mean)?, from_si(sd)?, from_si(low)?, from_si(high)?];
    Ok(Some(Shift { mean, sd, low, high }))
}

fn array(shift: &Shift) -> Vec<f64> {
    [shift.mean, shift.sd, shift.low, shift.high].map(Stored::si).to_vec()
}

fn int(number: usize) -> i32 {
    i32::try_from(number).unwrap_or(i32::MAX)
}

fn count(row: &Row, column: &str) -> usize {
    usize::try_from(row.get::<_, i32>(column)).unwrap_or(0)
}
