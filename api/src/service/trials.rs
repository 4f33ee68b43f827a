//! Trials: one in, the answer out.

mod carry;
mod evaluate;
mod peel;
mod receive;

pub(super) use carry::today;
pub use evaluate::Context;
pub(super) use evaluate::{ceilings, named, policy};
pub use peel::{PeeledStrip, peel};
pub use receive::receive;
pub(super) use receive::take_in;

use chrono::{DateTime, Utc};
use lapwatch_domain::carried::{Carried, NotCarried};
use lapwatch_domain::trial::Evaluation;
use tokio::try_join;
use uuid::Uuid;

use super::derive::{Derived, UnitFacts};
use super::{ChartCache, Error, Result, Service, open_to_read};
use crate::model::{Disposition, Principal, RecordKind, Trial};
use crate::storage::derived::{Flag, FlagFilter, Recheck, RecheckFilter, UnitState};
use crate::storage::records::{Submission, TrialFilter, TrialRow};
use crate::storage::{self, Tenant};
use crate::wire;

/// The whole answer to a trial.
#[derive(Debug)]
pub struct Answer {
    /// The trial as it was sent.
    pub trial: Trial,
    /// Bytes, digest and time of receipt.
    pub submission: Submission,
    /// Whether these bytes had been received before.
    pub duplicate: bool,
    /// Whether it counts.
    pub disposition: Disposition,
    /// Other corrections of the same trial that were not made from this one.
    pub competing: Vec<Uuid>,
    /// What its evaluation was based on.
    pub context: Context,
    /// Readings, edges, band, set point, next coupon, cautions, sentences.
    pub evaluation: Evaluation,
    /// What the trial and the unit's history say together, or why nothing is carried.
    pub carried: std::result::Result<Carried, NotCarried>,
    /// Where the unit stands now.
    pub state: UnitState,
    /// The unit's flags that are not settled.
    pub flags: Vec<Flag>,
    /// The unit's next recheck.
    pub next_recheck: Option<Recheck>,
    /// Spans to look at because of this trial, with their places.
    pub suspects: Vec<Suspect>,
}

/// A production span to look at.
#[derive(Debug, Clone)]
pub struct Suspect {
    /// Why, how soon, what to probe.
    pub span: lapwatch_domain::suspect::SuspectSpan,
    /// Where on the roof.
    pub place: String,
}

impl Suspect {
    /// The spans among `derived` that `keep` picks, with their places.
    pub(super) fn list(
        facts: &UnitFacts,
        derived: &Derived,
        keep: impl Fn(&lapwatch_domain::suspect::SuspectSpan) -> bool,
    ) -> Vec<Self> {
        let place = |id| facts.spans.iter().find(|span| span.id == id).map(|span| span.place.clone());
        derived
            .suspects
            .iter()
            .filter(|suspect| keep(suspect))
            .map(|suspect| Self { span: suspect.clone(), place: place(suspect.span).unwrap_or_default() })
            .collect()
    }
}

/// One trial with the answer as it is now.
///
/// # Errors
/// [`Error::NotFound`]; [`Error::OtherCrew`]; [`Error::Storage`].
pub async fn get(service: &Service, caller: &Principal, id: Uuid, now: DateTime<Utc>) -> Result<Answer> {
    let mut client = service.store.client().await?;
    let tenant = open_to_read(&mut client, caller).await?;
    let submission = submission(&tenant, id).await?;
    answer((&tenant, &service.charts), caller, submission, false, now).await
}

/// The bytes of a trial.
async fn submission(tenant: &Tenant<'_>, id: Uuid) -> Result<Submission> {
    let found = storage::records::submission(tenant, id).await?;
    found.filter(|found| found.kind == RecordKind::Trial).ok_or(Error::NotFound("trial"))
}

/// A trial as it was sent.
pub(super) async fn stored(tenant: &Tenant<'_>, id: Uuid) -> Result<Trial> {
    read_stored(&submission(tenant, id).await?)
}

/// The answer to a trial that is stored, as it is at `now`.
async fn answer(
    (tenant, charts): (&Tenant<'_>, &ChartCache),
    caller: &Principal,
    submission: Submission,
    duplicate: bool,
    now: DateTime<Utc>,
) -> Result<Answer> {
    let trial = read_stored(&submission)?;
    let context = Context::load(tenant, &trial).await?;
    if !caller.acts_for(context.crew_id) {
        return Err(Error::NotFound("trial"));
    }
    let evaluation = context.evaluate(&trial)?;
    let facts = UnitFacts::load(tenant, trial.unit_id, now).await?;
    let derived = facts.derive(tenant, charts, now).await?;
    assemble(tenant, Received { trial, submission, duplicate, context, evaluation }, (facts, derived), now)
        .await
}

/// What is known before the unit's derived state.
struct Received {
    trial: Trial,
    submission: Submission,
    duplicate: bool,
    context: Context,
    evaluation: Evaluation,
}

async fn assemble(
    tenant: &Tenant<'_>,
    received: Received,
    (facts, derived): (UnitFacts, Derived),
    now: DateTime<Utc>,
) -> Result<Answer> {
    let unit = Some(received.trial.unit_id);
    let (mut states, flags, rechecks, disposition, competing) = try_join!(
        storage::derived::unit_states(tenant, unit),
        storage::derived::flags(tenant, FlagFilter { unit_id: unit, ..Default::default() }),
        storage::derived::rechecks(tenant, RecheckFilter { unit_id: unit, ..Default::default() }, now),
        storage::records::disposition(tenant, received.trial.id),
        storage::records::competing(tenant, received.trial.id),
    )?;
    let state = states.pop().ok_or(Error::NotFound("unit"))?;
    let suspects = Suspect::list(&facts, &derived, |suspect| suspect.evidence == received.trial.id);
    let carried = received.context.carry(&received.trial, &received.evaluation, &derived)?;
    Ok(Answer {
        trial: received.trial,
        submission: received.submission,
        duplicate: received.duplicate,
        disposition,
        competing,
        context: received.context,
        evaluation: received.evaluation,
        carried,
        state,
        flags: flags.into_iter().filter(Flag::is_unsettled).collect(),
        next_recheck: rechecks.into_iter().rev().find(Recheck::is_pending),
        suspects,
    })
}

/// The trial in stored bytes. They were read once before they were stored, so failing now is a fault of ours.
fn read_stored(submission: &Submission) -> Result<Trial> {
    let read = stored_form(submission)?.read();
    read.map_err(|findings| Error::Internal(format!("a stored trial breaks rules: {findings:?}")))
}

/// Its form, as it was sent.
fn stored_form(submission: &Submission) -> Result<wire::trial::Trial> {
    wire::parse(&submission.bytes)
        .map_err(|error| Error::Internal(format!("a stored trial cannot be parsed: {error:?}")))
}

/// Trials, the latest first; a caller that acts for one crew sees its own.
///
/// # Errors
/// [`Error::Storage`].
pub async fn list(service: &Service, caller: &Principal, filter: TrialFilter) -> Result<Vec<TrialRow>> {
    let mut client = service.store.client().await?;
    let tenant = open_to_read(&mut client, caller).await?;
    let filter = TrialFilter { crew_id: caller.crew.or(filter.crew_id), ..filter };
    Ok(storage::records::trials(&tenant, &filter).await?)
}
