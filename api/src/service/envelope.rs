//! The custody door: whatever arrives is kept. An item that breaks a rule is held with its reasons instead of being refused;
//! its sender may forget it.

use std::panic::AssertUnwindSafe;

use chrono::{DateTime, Utc};
use futures_util::FutureExt;
use lapwatch_domain::coded_enum;
use serde_json::json;
use uuid::Uuid;

use super::followup::{Followup, take_each};
use super::open_trials::take_in_close;
use super::records::{Arrival, Arriving, Event, check_unit, repeating, require_crew, take_in};
use super::{Error, Result, Service, open, open_to_read, trials};
use crate::auth::digest;
use crate::model::{
    Actor, CustodyState, Disposition, Finding, Held, HeldAs, Principal, Record as _, Scope, Written,
};
use crate::storage::records::Submission;
use crate::storage::{self, Tenant, custody as store};
use crate::wire::envelope::{Claim, Item};

coded_enum! {
    /// What became of an item.
    pub enum Outcome {
        /// It is accepted now.
        Created = "created",
        /// It had been received before, these bytes or the same JSON value.
        Duplicate = "duplicate",
        /// Its id was accepted with other content: held until a person settles it.
        Conflict = "conflict",
        /// It breaks a rule: held until a person settles it, or until what it names is there.
        Quarantined = "quarantined",
        /// It is larger than one item may be; nothing of it was kept.
        TooLarge = "too_large",
        /// It could not be kept just now; nothing of it was.
        Retry = "retry",
    }
}

/// What the service owes for an item that it keeps.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Receipt {
    /// When it was first received.
    pub received_at: DateTime<Utc>,
    /// SHA-256 of the bytes as they arrived.
    pub digest: [u8; 32],
    /// Its first entry in the change feed.
    pub change_sequence: Option<i64>,
    /// What is the matter with it now.
    pub disposition: Disposition,
}

/// Why an item is held or has to be sent again.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Reason {
    /// Stable code.
    pub code: String,
    /// Every broken rule, with pointers into the item.
    pub findings: Vec<Finding>,
}

/// What became of one item of an envelope.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Handled {
    /// What.
    pub outcome: Outcome,
    /// The id that it claims.
    pub id: Option<Uuid>,
    /// Whether it is kept, and since when.
    pub receipt: Option<Receipt>,
    /// Whether other bytes of the same JSON value were accepted before.
    pub reencoded: bool,
    /// Under which id it is held.
    pub custody_id: Option<Uuid>,
    /// Why it is held or has to be sent again.
    pub reason: Option<Reason>,
}

/// What is the same for records of every kind.
macro_rules! of_each {
    ($item:expr, $record:ident => $value:expr) => {
        match $item {
            Item::Trial($record) => $value,
            Item::ServiceEvent($record) => $value,
            Item::DayPlan($record) => $value,
            Item::ProductionSpan($record) => $value,
            Item::Decision($record) => $value,
            Item::SecondReading($record) => $value,
            Item::DayEvent($record) => $value,
            Item::SeamCheck($record) => $value,
            Item::Retraction($record) => $value,
            Item::OpenTrial($record) => $value,
            Item::Coupon($record) => $value,
            Item::TrialClose($record) => $value,
            Item::Photo($record) => $value,
            Item::SharedDecision($record) => $value,
        }
    };
}

impl Item {
    /// What a caller needs to send it.
    pub fn scope(&self) -> Scope {
        match self {
            Self::Trial(_)
            | Self::SecondReading(_)
            | Self::Retraction(_)
            | Self::OpenTrial(_)
            | Self::Coupon(_)
            | Self::TrialClose(_)
            | Self::Photo(_) => Scope::TrialsWrite,
            Self::ServiceEvent(_) => Scope::UnitsWrite,
            Self::DayPlan(_) | Self::ProductionSpan(_) | Self::DayEvent(_) | Self::SeamCheck(_) => {
                Scope::PlansWrite
            }
            Self::Decision(_) | Self::SharedDecision(_) => Scope::DecisionsWrite,
        }
    }

    /// Its id.
    pub fn id(&self) -> Uuid {
        of_each!(self, record => record.id())
    }

    /// Its place among the corrections of a record.
    pub(super) fn written(&self) -> Option<Written> {
        of_each!(self, record => record.written())
    }

    /// Checks that everything it names is there and may be written by the caller.
    pub(super) async fn check(
        &self,
        tenant: &Tenant<'_>,
        caller: &Principal,
        now: DateTime<Utc>,
    ) -> Result<()> {
        match self {
            Self::Trial(trial) => match storage::records::trial(tenant, trial.id).await? {
                // Of the crew that had the unit then.
                Some(row) => require_crew(caller, row.crew_id),
                None => check_unit(tenant, caller, trial.unit_id, now).await,
            },
            Self::ServiceEvent(event) => event.check(tenant, caller, now).await,
            Self::DayPlan(plan) => plan.check(tenant, caller, now).await,
            Self::ProductionSpan(span) => span.check(tenant, caller, now).await,
            Self::Decision(decision) => decision.check(tenant, caller, now).await,
            Self::SecondReading(reading) => reading.check(tenant, caller, now).await,
            Self::DayEvent(event) => event.check(tenant, caller, now).await,
            Self::SeamCheck(check) => check.check(tenant, caller, now).await,
            // What it withdraws was looked at.
            Self::Retraction(_) => Ok(()),
            Self::OpenTrial(open) => open.check(tenant, caller, now).await,
            Self::Coupon(coupon) => coupon.check(tenant, caller, now).await,
            Self::TrialClose(close) => close.check(tenant, caller).await,
            Self::Photo(photo) => photo.check(tenant, caller, now).await,
            Self::SharedDecision(decision) => decision.check(tenant, caller, now).await,
        }
    }

    /// The record that was accepted with these bytes.
    pub(super) fn stored(submission: &Submission) -> Result<Self> {
        Self::of_kind(submission.kind, &submission.bytes, submission.received_at)
            .map_err(|findings| Error::Internal(format!("a stored record breaks rules: {findings:?}")))
    }

    /// Whether the caller, if it acts for one crew, may see it: as it may write it, at whatever stage it is.
    pub(super) async fn is_open_to(
        &self,
        tenant: &Tenant<'_>,
        caller: &Principal,
        now: DateTime<Utc>,
    ) -> Result<bool> {
        let open_trial = match self {
            Self::OpenTrial(open) => Some(open.id),
            Self::Coupon(coupon) => Some(coupon.open_trial_id),
            Self::TrialClose(close) => Some(close.open_trial_id),
            _ => None,
        };
        if let Some(id) = open_trial {
            let row = storage::records::open_trial(tenant, id).await?;
            return Ok(row.is_some_and(|row| caller.acts_for(row.crew_id)));
        }
        let checked = match self {
            Self::Retraction(retraction) => {
                retraction.concerns(tenant).await?.check(tenant, caller, now).await
            }
            // It is about what every crew welds.
            Self::SharedDecision(_) => Ok(()),
            _ => self.check(tenant, caller, now).await,
        };
        match checked {
            Ok(()) => Ok(true),
            Err(Error::OtherCrew | Error::Invalid(_)) => Ok(false),
            Err(error) => Err(error),
        }
    }

    /// The units whose derived state it bears on; of a retraction, see what it concerns.
    pub(super) async fn bears_on(&self, tenant: &Tenant<'_>, now: DateTime<Utc>) -> Result<Vec<Uuid>> {
        match self {
            Self::Trial(trial) => Ok(vec![trial.unit_id]),
            Self::ServiceEvent(event) => event.bears_on(tenant, now).await,
            Self::DayPlan(plan) => plan.bears_on(tenant, now).await,
            Self::ProductionSpan(span) => span.bears_on(tenant, now).await,
            Self::Decision(decision) => decision.bears_on(tenant, now).await,
            Self::SecondReading(reading) => reading.bears_on(tenant, now).await,
            Self::DayEvent(event) => event.bears_on(tenant, now).await,
            Self::SeamCheck(check) => check.bears_on(tenant, now).await,
            Self::Retraction(_)
            | Self::OpenTrial(_)
            | Self::Coupon(_)
            | Self::TrialClose(_)
            | Self::Photo(_)
            | Self::SharedDecision(_) => Ok(Vec::new()),
        }
    }

    /// Takes it in, inside a transaction, like the operation of its own would. What follows is left to `followup`.
    pub(super) async fn take_in(
        &self,
        tenant: &Tenant<'_>,
        caller: &Principal,
        arriving: &Arriving<'_>,
        followup: &mut Followup,
    ) -> Result<Arrival> {
        match self {
            Self::Trial(trial) => trials::take_in(tenant, caller, arriving, trial, followup).await,
            Self::ServiceEvent(event) => take_in(tenant, caller, arriving, event, followup).await,
            Self::DayPlan(plan) => take_in(tenant, caller, arriving, plan, followup).await,
            Self::ProductionSpan(span) => take_in(tenant, caller, arriving, span, followup).await,
            Self::Decision(decision) => take_in(tenant, caller, arriving, decision, followup).await,
            Self::SecondReading(reading) => take_in(tenant, caller, arriving, reading, followup).await,
            Self::DayEvent(event) => take_in(tenant, caller, arriving, event, followup).await,
            Self::SeamCheck(check) => take_in(tenant, caller, arriving, check, followup).await,
            Self::Retraction(retraction) => take_in(tenant, caller, arriving, retraction, followup).await,
            Self::OpenTrial(open) => take_in(tenant, caller, arriving, open.as_ref(), followup).await,
            Self::Coupon(coupon) => take_in(tenant, caller, arriving, coupon.as_ref(), followup).await,
            Self::TrialClose(close) => take_in_close(tenant, caller, arriving, close, followup).await,
            Self::Photo(photo) => take_in(tenant, caller, arriving, photo, followup).await,
            Self::SharedDecision(decision) => take_in(tenant, caller, arriving, decision, followup).await,
        }
    }
}

/// Receives one item: accepts it, or holds its bytes. A panic of the calculation costs only the item that met it.
///
/// # Errors
/// [`Error::Unauthenticated`] when the caller was revoked meanwhile. Everything else is an outcome.
pub async fn receive(
    service: &Service,
    caller: &Principal,
    bytes: &[u8],
    now: DateTime<Utc>,
) -> Result<Handled> {
    let items = [bytes];
    let taking = repeating(|| take_all(service, caller, &items, now));
    let why = match AssertUnwindSafe(taking).catch_unwind().await {
        Ok(Ok(mut handled)) => match handled.pop() {
            Some(handled) => return Ok(handled),
            None => Error::Internal("an item was passed over".to_owned()),
        },
        Ok(Err(Error::Unauthenticated)) => return Err(Error::Unauthenticated),
        Ok(Err(error)) => error,
        Err(_) => Error::Internal("taking an item in panicked".to_owned()),
    };
    let id = Claim::of(bytes).id;
    if why.is_for_later() {
        return Ok(retry(id));
    }
    let refusal = refusal(why);
    match repeating(|| hold_alone(service, caller, bytes, &refusal, now)).await {
        Err(Error::Unauthenticated) => Err(Error::Unauthenticated),
        Err(error) => {
            tracing::error!(%error, "an item could not be held");
            Ok(retry(id))
        }
        handled => handled,
    }
}

/// So many items are taken in together, at most.
const TOGETHER: usize = 32;

/// Receives several items, in their order: up to 32 together in one transaction, or each in its own when that meets something in
/// its way. The outcomes are those of [`receive`].
///
/// # Errors
/// As [`receive`].
pub async fn receive_all(
    service: &Service,
    caller: &Principal,
    items: &[&[u8]],
    now: DateTime<Utc>,
) -> Result<Vec<Handled>> {
    let mut handled = Vec::with_capacity(items.len());
    for batch in items.chunks(TOGETHER) {
        if batch.len() > 1
            && let Ok(Ok(together)) =
                AssertUnwindSafe(take_all(service, caller, batch, now)).catch_unwind().await
        {
            handled.extend(together);
            continue;
        }
        for bytes in batch {
            handled.push(receive(service, caller, bytes, now).await?);
        }
    }
    Ok(handled)
}

/// An item that could not be kept just now.
fn retry(id: Option<Uuid>) -> Handled {
    let detail = "It could not be kept just now. Keep it and send it again after a short wait.";
    let findings = vec![Finding::new("", "unavailable", detail)];
    let reason = Reason { code: "unavailable".to_owned(), findings };
    Handled {
        outcome: Outcome::Retry,
        id,
        receipt: None,
        reencoded: false,
        custody_id: None,
        reason: Some(reason),
    }
}

/// What became of an item, before what follows is done.
enum Taken {
    /// The record with this id was accepted, now or before.
    Record(Uuid, Arrival),
    /// Its bytes are held: since now, because of this, or since before.
    Held(Box<Held>, Option<Reason>),
}

/// Takes items in, in one transaction and in their order: accepts them, or holds what is not acceptable. Of an item that is held
/// nothing else is left behind.
async fn take_all(
    service: &Service,
    caller: &Principal,
    items: &[&[u8]],
    now: DateTime<Utc>,
) -> Result<Vec<Handled>> {
    let mut client = service.store.client().await?;
    let tenant = open(&mut client, caller).await?;
    let mut followup = Followup::default();
    let accept =
        async |bytes: &&[u8], followup: &mut Followup| take(&tenant, caller, bytes, now, followup).await;
    let refused = async |bytes: &&[u8], why: Error, followup: &mut Followup| {
        hold(&tenant, caller, bytes, &refusal(why), now, followup).await
    };
    let taken = take_each(&tenant, items, &mut followup, accept, refused).await?;
    finish(service, tenant, items, taken, followup, now).await
}

/// Holds an item that could not even be tried to the end.
async fn hold_alone(
    service: &Service,
    caller: &Principal,
    bytes: &[u8],
    refusal: &(HeldAs, Reason),
    now: DateTime<Utc>,
) -> Result<Handled> {
    let mut client = service.store.client().await?;
    let tenant = open(&mut client, caller).await?;
    let mut followup = Followup::default();
    let taken = hold(&tenant, caller, bytes, refusal, now, &mut followup).await?;
    let mut handled = finish(service, tenant, &[bytes], vec![taken], followup, now).await?;
    handled.pop().ok_or_else(|| Error::Internal("an item was passed over".to_owned()))
}

/// Does what follows, and commits; answers what the senders of the items hear, with their receipts.
async fn finish(
    service: &Service,
    tenant: Tenant<'_>,
    items: &[&[u8]],
    taken: Vec<Taken>,
    followup: Followup,
    now: DateTime<Utc>,
) -> Result<Vec<Handled>> {
    followup.settle(&tenant, &service.charts, now).await?;
    let ids: Vec<Uuid> = taken
        .iter()
        .map(|one| match one {
            Taken::Record(id, _) => *id,
            Taken::Held(held, _) => held.id,
        })
        .collect();
    let receipts = storage::records::receipts(&tenant, &ids).await?;
    tenant.commit().await?;
    let handled = items.iter().zip(&ids).zip(taken).map(|((bytes, id), one)| {
        let (change_sequence, counts) = receipts.get(id).copied().unwrap_or((None, Disposition::Accepted));
        one.handled(digest(bytes), change_sequence, counts)
    });
    Ok(handled.collect())
}

impl Taken {
    /// What the sender of an item with this digest hears.
    fn handled(self, digest: [u8; 32], change_sequence: Option<i64>, counts: Disposition) -> Handled {
        match self {
            Self::Record(id, arrival) => {
                let (outcome, submission) = match arrival {
                    Arrival::New(submission) => (Outcome::Created, submission),
                    Arrival::Duplicate(submission) => (Outcome::Duplicate, submission),
                };
                let received_at = submission.received_at;
                Handled {
                    outcome,
                    id: Some(id),
                    receipt: Some(Receipt { received_at, digest, change_sequence, disposition: counts }),
                    reencoded: submission.digest != digest,
                    custody_id: None,
                    reason: None,
                }
            }
            Self::Held(held, reason) => Handled {
                outcome: match (&reason, held.held_as) {
                    (None, _) => Outcome::Duplicate,
                    (Some(_), HeldAs::Quarantined) => Outcome::Quarantined,
                    (Some(_), HeldAs::Conflict) => Outcome::Conflict,
                },
                id: held.record_id,
                receipt: Some(Receipt {
                    received_at: held.received_at,
                    digest,
                    change_sequence,
                    disposition: held.disposition(),
                }),
                reencoded: false,
                custody_id: Some(held.id),
                reason,
            },
        }
    }
}

async fn take(
    tenant: &Tenant<'_>,
    caller: &Principal,
    bytes: &[u8],
    now: DateTime<Utc>,
    followup: &mut Followup,
) -> Result<Taken> {
    // What is held stays as it was found, until somebody or a resolving record settles it.
    if let Some(held) = store::by_digest(tenant, &digest(bytes)).await? {
        return Ok(Taken::Held(Box::new(held), None));
    }
    let item = Item::read(bytes, now).map_err(Error::Invalid)?;
    if !caller.scopes.contains(&item.scope()) {
        return Err(Error::MissingScope(item.scope().code()));
    }
    let arrival = item.take_in(tenant, caller, &Arriving::now(bytes, now), followup).await?;
    Ok(Taken::Record(item.id(), arrival))
}

/// As what, and why, an item is held that was not accepted because of this.
fn refusal(error: Error) -> (HeldAs, Reason) {
    // What is said of an item as a whole points at its root.
    let one = |code: &'static str, detail: String| Reason {
        code: code.to_owned(),
        findings: vec![Finding::new("", code, detail)],
    };
    let quarantined = |code, detail| (HeldAs::Quarantined, one(code, detail));
    match error {
        Error::Invalid(findings) => {
            let first = findings.first().map_or("invalid_record", |finding| finding.code);
            let alike = findings.iter().all(|finding| finding.code == first);
            let code = if alike { first } else { "invalid_record" };
            (HeldAs::Quarantined, Reason { code: code.to_owned(), findings })
        }
        Error::Conflict(id) => {
            let detail = format!("The record {id} stands as first accepted; this one waits for a person.");
            (HeldAs::Conflict, one("conflict", detail))
        }
        Error::MissingScope(scope) => {
            quarantined("missing_scope", format!("Its sender lacks the scope `{scope}`."))
        }
        Error::OtherCrew => {
            quarantined("other_crew", "Its sender acts for one crew; the record belongs to another.".into())
        }
        Error::Storage(error) if error.is_data_exception() => {
            let detail = "A value lies beyond what can be stored: check times, dates and numbers.";
            quarantined("unstorable", detail.to_owned())
        }
        error => {
            tracing::error!(?error, "an item failed; it is held");
            quarantined("internal_error", "The service failed on it. It is kept, and tried again.".to_owned())
        }
    }
}

/// Holds the bytes of an item, unless they are held already.
async fn hold(
    tenant: &Tenant<'_>,
    caller: &Principal,
    bytes: &[u8],
    (held_as, reason): &(HeldAs, Reason),
    now: DateTime<Utc>,
    followup: &mut Followup,
) -> Result<Taken> {
    let claim = Claim::of(bytes);
    let held = Held {
        id: Uuid::now_v7(),
        digest: digest(bytes),
        size: bytes.len() as u64,
        held_as: *held_as,
        reason: reason.code.clone(),
        findings: findings_json(&reason.findings),
        schema: claim.schema,
        record_id: claim.id,
        received_at: now,
        sent_by: Actor::of(caller),
        crew_id: caller.crew,
        settlement: None,
        state: CustodyState::Open,
    };
    if store::insert(tenant, &held, bytes).await? {
        followup.stored("custody", held.id, []);
        return Ok(Taken::Held(Box::new(held), Some(reason.clone())));
    }
    // Somebody sent the same at the same time.
    let first = store::by_digest(tenant, &held.digest).await?;
    let first = first.ok_or_else(|| Error::Internal("a held item is known and not there".to_owned()))?;
    Ok(Taken::Held(Box::new(first), None))
}

/// Findings as they are kept.
fn findings_json(findings: &[Finding]) -> Vec<u8> {
    let listed = findings
        .iter()
        .map(|finding| json!({ "pointer": finding.pointer, "code": finding.code, "detail": finding.detail }));
    serde_json::Value::Array(listed.collect()).to_string().into_bytes()
}

/// What is the matter with bytes of these digests, and when they were first received; those never received are left out.
///
/// # Errors
/// [`Error::Storage`].
pub async fn dispositions(
    service: &Service,
    caller: &Principal,
    digests: &[[u8; 32]],
) -> Result<Vec<([u8; 32], Disposition, DateTime<Utc>)>> {
    let mut client = service.store.client().await?;
    let tenant = open_to_read(&mut client, caller).await?;
    let digests: Vec<&[u8]> = digests.iter().map(<[u8; 32]>::as_slice).collect();
    Ok(store::dispositions(&tenant, &digests).await?)
}
