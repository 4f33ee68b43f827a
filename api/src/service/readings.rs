//! Second readings of strips, and how far people agree.

use std::collections::{BTreeMap, BTreeSet, HashMap};

use chrono::{DateTime, Utc};
use lapwatch_domain::acceptance::Reading;
use lapwatch_domain::readers::{ReaderPair, StripReadings, pair_up};
use uuid::Uuid;

use super::records::Event;
use super::{Error, Result, Service, open_to_read, trials};
use crate::model::{Principal, SecondReading};
use crate::storage::Tenant;
use crate::storage::records::{self as store, ReadAgain, ReadingFilter, TrialStrips};

/// A reader's name; `None` where a trial does not say who read it.
pub type ReaderName = Option<String>;

impl Event for SecondReading {
    /// Its trial is there, is the caller's to see, and has these strips.
    async fn check(&self, tenant: &Tenant<'_>, caller: &Principal, _now: DateTime<Utc>) -> Result<()> {
        let found = store::strips(tenant, &[self.trial_id]).await?.pop();
        let trial = found.filter(|trial| caller.acts_for(trial.crew_id)).ok_or_else(|| {
            let detail = format!(
                "No trial of this organization has the id {}. Send it first, or correct the id.",
                self.trial_id
            );
            Error::invalid("/trial_id", "unknown_id", detail)
        })?;
        fits(self, &trial)
    }

    async fn keep(&self, tenant: &Tenant<'_>, _caller: &Principal) -> Result<()> {
        let trial = trials::stored(tenant, self.trial_id).await?;
        Ok(store::insert_second_reading(tenant, self, trial.read_by.as_deref()).await?)
    }

    /// None: the trial stands as it was read first.
    async fn bears_on(&self, _tenant: &Tenant<'_>, _now: DateTime<Utc>) -> Result<Vec<Uuid>> {
        Ok(Vec::new())
    }
}

/// Whether a reading has as many coupons and strips as its trial.
fn fits(reading: &SecondReading, trial: &TrialStrips) -> Result<()> {
    let (given, welded) = (reading.coupons.len(), trial.coupons.len());
    if given != welded {
        let detail =
            format!("The trial has {welded} coupons; send a list of readings for each, not {given}.");
        return Err(Error::invalid("/coupons", "wrong_count", detail));
    }
    let mut coupons = reading.coupons.iter().zip(&trial.coupons).enumerate();
    match coupons.find(|(_, (given, cut))| given.len() != cut.len()) {
        None => Ok(()),
        Some((index, (given, cut))) => {
            let detail = format!(
                "This coupon of the trial has {} strips; send an entry for each, null for one that was not read, not {}.",
                cut.len(),
                given.len()
            );
            Err(Error::invalid(format!("/coupons/{index}"), "wrong_count", detail))
        }
    }
}

/// Second readings in order of time; a caller that acts for one crew sees those of its trials.
///
/// # Errors
/// [`Error::Storage`].
pub async fn list(
    service: &Service,
    caller: &Principal,
    filter: ReadingFilter,
) -> Result<Vec<SecondReading>> {
    let mut client = service.store.client().await?;
    let tenant = open_to_read(&mut client, caller).await?;
    let filter = ReadingFilter { crew_id: caller.crew.or(filter.crew_id), ..filter };
    Ok(store::second_readings(&tenant, &filter).await?.into_iter().map(|again| again.reading).collect())
}

/// Every two people who read the same strips, with what both read, by month (UTC) of the later reading.
///
/// # Errors
/// [`Error::Storage`].
pub async fn pairs(
    service: &Service,
    caller: &Principal,
    filter: ReadingFilter,
) -> Result<Vec<ReaderPair<ReaderName, String>>> {
    let mut client = service.store.client().await?;
    let tenant = open_to_read(&mut client, caller).await?;
    let filter = ReadingFilter { crew_id: caller.crew.or(filter.crew_id), ..filter };
    let again = store::second_readings(&tenant, &filter).await?;
    let ids: BTreeSet<Uuid> = again.iter().map(|again| again.reading.trial_id).collect();
    let first: Vec<TrialStrips> = store::strips(&tenant, &ids.into_iter().collect::<Vec<_>>()).await?;
    drop(tenant);
    Ok(pair_up(by_trial(&first, again)))
}

/// All readings of each trial in order of time: the trial's own, then the others.
fn by_trial(first: &[TrialStrips], again: Vec<ReadAgain>) -> Vec<Vec<StripReadings<ReaderName, String>>> {
    let own: HashMap<Uuid, &TrialStrips> = first.iter().map(|trial| (trial.trial_id, trial)).collect();
    let mut trials: BTreeMap<Uuid, Vec<StripReadings<ReaderName, String>>> = BTreeMap::new();
    for ReadAgain { reading, first_read_by } in again {
        let readings = trials.entry(reading.trial_id).or_insert_with(|| {
            let own = own.get(&reading.trial_id).map(|trial| StripReadings {
                reader: first_read_by,
                period: month(trial.performed_at),
                strips: trial.coupons.iter().flatten().copied().map(Some).collect(),
            });
            own.into_iter().collect()
        });
        let strips: Vec<Option<Reading>> = reading.coupons.into_iter().flatten().collect();
        readings.push(StripReadings {
            reader: Some(reading.read_by),
            period: month(reading.read_at),
            strips,
        });
    }
    trials.into_values().collect()
}

fn month(at: DateTime<Utc>) -> String {
    at.format("%Y-%m").to_string()
}
