//! Taking a trial in: the conversational door. What is refused is not stored; what is accepted is stored whole, bytes
//! first, in one transaction with everything that follows from it.

use chrono::{DateTime, Utc};
use lapwatch_domain::trial::Evaluation;
use uuid::Uuid;

use super::{Answer, Context, Received, answer, assemble};
use crate::model::{Principal, Record, Trial};
use crate::service::derive::{Derived, UnitFacts};
use crate::service::records::{Arrival, Arriving, arrive, repeating, require_crew};
use crate::service::{Result, Service, change, derive, open, open_to_read};
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
        match store(service, &tenant, caller, &Arriving::now(bytes, now), trial).await? {
            Stored::New { received, derived, changes } => {
                let answer = assemble(&tenant, *received, *derived, now).await?;
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

/// Takes a trial in, inside a transaction, without answering it.
///
/// # Errors
/// As [`receive`].
pub(in crate::service) async fn take_in(
    service: &Service,
    tenant: &Tenant<'_>,
    caller: &Principal,
    arriving: &Arriving<'_>,
    trial: &Trial,
) -> Result<Arrival> {
    match store(service, tenant, caller, arriving, trial).await? {
        Stored::New { received, changes, .. } => {
            change::append(tenant, &changes, arriving.now).await?;
            Ok(Arrival::New(received.submission))
        }
        Stored::Before(submission) => Ok(Arrival::Duplicate(submission)),
    }
}

/// What became of an arriving trial.
enum Stored {
    /// It is stored, and the changes are still to be appended.
    New { received: Box<Received>, derived: Box<(UnitFacts, Derived)>, changes: Vec<(&'static str, Uuid)> },
    /// It had been accepted before, as this.
    Before(Submission),
}

async fn store(
    service: &Service,
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
    storage::derived::lock_units(tenant, &[trial.unit_id]).await?;
    let mut changes = vec![("trial", trial.id)];
    let charts = (tenant, &service.charts);
    let derived = derive::unit(charts, trial.unit_id, arriving.now, &mut changes).await?;
    let received = Received { trial: trial.clone(), submission, duplicate: false, context, evaluation };
    Ok(Stored::New { received: Box::new(received), derived: Box::new(derived), changes })
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
