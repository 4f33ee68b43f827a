//! What other people read of trials' strips.

use chrono::{DateTime, Utc};
use lapwatch_domain::acceptance::Reading;
use tokio_postgres::Row;
use tokio_postgres::types::ToSql;
use uuid::Uuid;

use crate::model::SecondReading;
use crate::storage::access::decode;
use crate::storage::{Error, Result, Tenant};

/// A second reading with the name of who had read the trial before.
#[derive(Debug, Clone)]
pub struct ReadAgain {
    /// The second reading.
    pub reading: SecondReading,
    /// Who read the trial first, if its record says so.
    pub first_read_by: Option<String>,
}

/// Which second readings to list.
#[derive(Debug, Clone, Default)]
pub struct ReadingFilter {
    /// Of this trial.
    pub trial_id: Option<Uuid>,
    /// Of this crew's trials.
    pub crew_id: Option<Uuid>,
    /// Read at or after.
    pub from: Option<DateTime<Utc>>,
    /// Read before.
    pub to: Option<DateTime<Utc>>,
}

/// A trial's strips as they were read first.
#[derive(Debug, Clone)]
pub struct TrialStrips {
    /// The trial.
    pub trial_id: Uuid,
    /// The crew that welded it, if known.
    pub crew_id: Option<Uuid>,
    /// When it was performed.
    pub performed_at: DateTime<Utc>,
    /// The readings by coupon and strip.
    pub coupons: Vec<Vec<Reading>>,
}

/// Adds a second reading.
pub async fn insert_second_reading(
    tenant: &Tenant<'_>,
    reading: &SecondReading,
    first_read_by: Option<&str>,
) -> Result<()> {
    let fit = |length: usize| i16::try_from(length).unwrap_or(i16::MAX);
    let lengths: Vec<i16> = reading.coupons.iter().map(|coupon| fit(coupon.len())).collect();
    let codes: Vec<Option<&str>> =
        reading.coupons.iter().flatten().map(|strip| strip.map(Reading::code)).collect();
    let params: [&(dyn ToSql + Sync); 10] = [
        &reading.id,
        &reading.trial_id,
        &first_read_by,
        &reading.read_by,
        &reading.read_at,
        &lengths,
        &codes,
        &reading.remarks,
        &reading.supersedes,
        &reading.recorded_at,
    ];
    tenant.execute(include_str!("insert_second_reading.sql"), &params).await?;
    Ok(())
}

/// Second readings in order of time.
pub async fn second_readings(tenant: &Tenant<'_>, filter: &ReadingFilter) -> Result<Vec<ReadAgain>> {
    let params: [&(dyn ToSql + Sync); 4] = [&filter.trial_id, &filter.crew_id, &filter.from, &filter.to];
    let rows = tenant.rows(include_str!("second_readings.sql"), &params).await?;
    rows.iter().map(reading_from).collect()
}

fn reading_from(row: &Row) -> Result<ReadAgain> {
    let codes: Vec<Option<&str>> = row.get("readings");
    let readings: Vec<Option<Reading>> =
        codes.into_iter().map(|code| code.map(decode).transpose()).collect::<Result<_>>()?;
    let mut left = readings.as_slice();
    let mut coupons = Vec::new();
    for length in row.get::<_, Vec<i16>>("strips_per_coupon") {
        let taken = usize::try_from(length).ok().and_then(|length| left.split_at_checked(length));
        let (coupon, rest) = taken.ok_or_else(|| Error::Corrupt("strips of a second reading".into()))?;
        coupons.push(coupon.to_vec());
        left = rest;
    }
    Ok(ReadAgain {
        reading: SecondReading {
            id: row.get("id"),
            trial_id: row.get("trial_id"),
            read_by: row.get("read_by"),
            read_at: row.get("read_at"),
            coupons,
            remarks: row.get("remarks"),
            supersedes: row.get("supersedes"),
            recorded_at: row.get("recorded_at"),
        },
        first_read_by: row.get("first_read_by"),
    })
}

/// The strips of these trials, trial by trial in order of id.
pub async fn strips(tenant: &Tenant<'_>, trials: &[Uuid]) -> Result<Vec<TrialStrips>> {
    let mut found: Vec<TrialStrips> = Vec::new();
    for row in tenant.rows(include_str!("strips.sql"), &[&trials]).await? {
        let trial_id = row.get("trial_id");
        let readings =
            row.get::<_, Vec<&str>>("readings").into_iter().map(decode).collect::<Result<Vec<Reading>>>()?;
        match found.last_mut().filter(|last| last.trial_id == trial_id) {
            Some(trial) => trial.coupons.push(readings),
            None => found.push(TrialStrips {
                trial_id,
                crew_id: row.get("crew_id"),
                performed_at: row.get("performed_at"),
                coupons: vec![readings],
            }),
        }
    }
    Ok(found)
}
