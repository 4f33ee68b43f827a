//! Taking a trial in: the conversational door. What is refused is not stored; what is accepted is stored whole, bytes
//! first, in one transaction with everything that follows from it.

use std::collections::BTreeSet;

use chrono::{DateTime, Utc};
use lapwatch_domain::trial::Evaluation;
use uuid::Uuid;

use super::{Answer, Context, Received, answer, assemble};
use crate::model::{Principal, Record, Trial};
use crate::service::corrections::{self, correction};
use crate::service::derive::{Derived, UnitFacts};
use crate::service::followup::Followup;
use crate::service::records::{Arrival, Arriving, arrive, repeating, require_crew};
use crate::service::{ChartCache, Result, Service, change, derive, open, open_to_read};
use crate::storage::records::{self, Judgement, Submission};
use crate::storage::{self, Tenant};

/// Stores a trial and answers it. `bytes` are the record as it was sent, `trial` what was read from them.
///
/// Sending the same bytes again is answered as the first time, with `duplicate`.
///
/// # Errors
/// [`crate::service::Error::Conflict`] when the id was accepted with other content; [`crate::service::Error::Invalid`];
/// [`crate::service::Error::OtherCrew`]; [`crate::service::Error::Storage`].
pub async fn receive(
    service: &Service,
    caller: &Principal,
    bytes: &[u8],
    trial: &Trial,
    now: DateTime<Utc>,
) -> Result<Answer> {
    repeating(async || {
        let mut client = service.store.client().await?;
        let tenant = open(&mut client, caller).await?;
        match store(&tenant, caller, &Arriving::now(bytes, now), trial).await? {
            Stored::New(received) => {
                let mut changes = vec![("trial", trial.id)];
                let derived = follow((&tenant, &service.charts), trial, now, &mut changes).await?;
                let answer = assemble(&tenant, *received, derived, now).await?;
                change::append(&tenant, &changes, now).await?;
                tenant.commit().await?;
                Ok(answer)
            }
            Stored::Before(submission) => {
                drop(tenant);
                let tenant = open_to_read(&mut client, caller).await?;
                answer((&tenant, &service.charts), caller, submission, true, now).await
            }
        }
    })
    .await
}

/// What follows from a trial that was stored, in derived state; answers that of its unit.
async fn follow(
    charts: (&Tenant<'_>, &ChartCache),
    trial: &Trial,
    now: DateTime<Utc>,
    changes: &mut Vec<(&'static str, Uuid)>,
) -> Result<(UnitFacts, Derived)> {
    let mut units = BTreeSet::from([trial.unit_id]);
    for (kind, other) in corrections::moved_by(charts.0, trial).await? {
        changes.push((kind.code(), other.id()));
        units.extend(other.bears_on(charts.0, now).await?);
    }
    let units: Vec<Uuid> = units.into_iter().collect();
    storage::derived::lock_units(charts.0, &units).await?;
    for other in units.iter().filter(|unit| **unit != trial.unit_id) {
        derive::unit(charts, *other, now, changes).await?;
    }
    derive::unit(charts, trial.unit_id, now, changes).await
}

/// Takes a trial in, inside a transaction, without answering it. What follows is left to `followup`.
///
/// # Errors
/// As [`receive`].
pub(in crate::service) async fn take_in(
    tenant: &Tenant<'_>,
    caller: &Principal,
    arriving: &Arriving<'_>,
    trial: &Trial,
    followup: &mut Followup,
) -> Result<Arrival> {
    match store(tenant, caller, arriving, trial).await? {
        Stored::New(received) => {
            followup.stored("trial", trial.id, [trial.unit_id]);
            corrections::follow(tenant, corrections::moved_by(tenant, trial).await?, arriving.now, followup)
                .await?;
            Ok(Arrival::New(received.submission))
        }
        Stored::Before(submission) => Ok(Arrival::Duplicate(submission)),
    }
}

/// What became of an arriving trial.
enum Stored {
    /// It is stored; what follows is still to be done.
    New(Box<Received>),
    /// It had been accepted before, as this.
    Before(Submission),
}

async fn store(
    tenant: &Tenant<'_>,
    caller: &Principal,
    arriving: &Arriving<'_>,
    trial: &Trial,
) -> Result<Stored> {
    let context = Context::load(tenant, trial).await?;
    require_crew(caller, context.crew_id)?;
    let evaluation = context.evaluate(trial)?;
    let submission = match arrive::<Trial>(tenant, caller, trial.id(), arriving).await? {
        Arrival::New(submission) => submission,
        Arrival::Duplicate(submission) => return Ok(Stored::Before(submission)),
    };
    let ahead_of_clock = trial.ordered_at() > arriving.received_at + Trial::MOST_AHEAD;
    records::insert_trial(tenant, trial, &judgement(&context, &evaluation, ahead_of_clock)).await?;
    if let Some(correction) = correction(tenant, caller, trial, arriving.now).await? {
        records::insert_correction(tenant, &correction).await?;
    }
    let received = Received { trial: trial.clone(), submission, duplicate: false, context, evaluation };
    Ok(Stored::New(Box::new(received)))
}

fn judgement<'a>(context: &Context, evaluation: &'a Evaluation, ahead_of_clock: bool) -> Judgement<'a> {
    Judgement {
        crew_id: context.crew_id,
        site_id: context.site_id,
        ahead_of_clock,
        material_class: context.material_class(),
        judged: &evaluation.judged,
        evidence: &evaluation.evidence,
        outcome: evaluation.outcome,
        band: evaluation.band.map(|band| (band.low, band.high)),
        set_point: evaluation.set_point.as_ref().ok().map(|set_point| set_point.to_set),
    }
}
