//! Records other than trials, and what all records have in common: they arrive once, under the id their client gave.

use std::future::Future;

use chrono::{DateTime, NaiveDate, Utc};
use futures_util::future::try_join_all;
use tokio::try_join;
use uuid::Uuid;

use super::configuration::{known, known_if_named};
use super::corrections::{self, correction};
use super::followup::Followup;
use super::reach::Reach;
use super::together::{self, Sent};
use super::{Error, Result, Service, derive, open, open_to_read};
use crate::auth::digest;
use crate::model::{
    Actor, Crew, DayPlan, Decision, Lot, Membrane, Principal, ProductionSpan, Record, RecordKind,
    ServiceEvent, Unit,
};
use crate::storage::records::{self as store, Submission};
use crate::storage::{Tenant, configuration};
use crate::wire;
use crate::wire::envelope::Item;

/// How often a transaction is tried that met a deadlock or a serialization failure.
const TRIES: usize = 4;

/// Runs a whole transaction, again when it met one that stood in its way.
pub(super) async fn repeating<T, F: Future<Output = Result<T>>>(transaction: impl Fn() -> F) -> Result<T> {
    let mut tries = 1;
    loop {
        match transaction().await {
            Err(error) if error.is_transient() && tries < TRIES => tries += 1,
            outcome => return outcome,
        }
    }
}

/// A record on its way in.
pub(super) struct Arriving<'a> {
    /// Its bytes, as they were sent.
    pub bytes: &'a [u8],
    /// When they were first received: before `now`, if they were held until something was put right.
    pub received_at: DateTime<Utc>,
    /// The present.
    pub now: DateTime<Utc>,
}

impl<'a> Arriving<'a> {
    /// A record that is received for the first time.
    pub fn now(bytes: &'a [u8], now: DateTime<Utc>) -> Self {
        Self { bytes, received_at: now, now }
    }
}

/// What became of arriving bytes.
pub(super) enum Arrival {
    /// Stored now; what follows from them is still to be stored.
    New(Submission),
    /// They, or the same JSON value in other bytes, were accepted before.
    Duplicate(Submission),
}

/// Stores the bytes of a record that passed every rule, unless its id was accepted before.
pub(super) async fn arrive<R: Record>(
    tenant: &Tenant<'_>,
    caller: &Principal,
    id: Uuid,
    arriving: &Arriving<'_>,
) -> Result<Arrival> {
    let bytes = arriving.bytes;
    let submission = Submission {
        kind: R::KIND,
        digest: digest(bytes),
        bytes: bytes.to_vec(),
        received_at: arriving.received_at,
        sent_by: Actor::of(caller),
    };
    if store::insert_submission(tenant, id, &submission).await? {
        return Ok(Arrival::New(submission));
    }
    // A new statement: one that met the other's row in a race does not see it yet.
    let first = store::submission(tenant, id)
        .await?
        .ok_or_else(|| Error::Internal(format!("record {id} was refused as known but is not there")))?;
    if first.digest == submission.digest || (first.kind == R::KIND && wire::same_value(&first.bytes, bytes)) {
        Ok(Arrival::Duplicate(first))
    } else {
        Err(Error::Conflict(id))
    }
}

/// Refuses a record of another crew from a caller that acts for one.
pub(super) fn require_crew(caller: &Principal, crew: Option<Uuid>) -> Result<()> {
    if caller.acts_for(crew) { Ok(()) } else { Err(Error::OtherCrew) }
}

/// A kind of record beside trials: how it is checked, kept and followed up.
pub trait Event: Record {
    /// Checks that everything it names is there and may be written by the caller.
    ///
    /// # Errors
    /// [`Error::Invalid`]; [`Error::OtherCrew`]; [`Error::Storage`].
    #[expect(async_fn_in_trait, reason = "only this crate implements and calls it, on one thread")]
    async fn check(&self, tenant: &Tenant<'_>, caller: &Principal, now: DateTime<Utc>) -> Result<()>;

    /// Stores it.
    ///
    /// # Errors
    /// [`Error::Storage`].
    #[expect(async_fn_in_trait, reason = "only this crate implements and calls it, on one thread")]
    async fn keep(&self, tenant: &Tenant<'_>, caller: &Principal) -> Result<()>;

    /// The units whose derived state it bears on.
    ///
    /// # Errors
    /// [`Error::Storage`].
    #[expect(async_fn_in_trait, reason = "only this crate implements and calls it, on one thread")]
    async fn bears_on(&self, tenant: &Tenant<'_>, now: DateTime<Utc>) -> Result<Vec<Uuid>>;

    /// Other records that begin or cease to count with it: those of its chain, if it corrects one.
    ///
    /// # Errors
    /// [`Error::Storage`].
    #[expect(async_fn_in_trait, reason = "only this crate implements and calls it, on one thread")]
    async fn moves(&self, tenant: &Tenant<'_>) -> Result<Vec<(RecordKind, Item)>> {
        corrections::moved_by(tenant, self).await
    }
}

/// Takes a record in, with others if others come at the same time; answers whether it is new.
///
/// # Errors
/// [`Error::Conflict`] when the id was accepted with other content; what [`Event::check`] finds; [`Error::Storage`].
pub async fn receive<R: Event>(
    service: &Service,
    caller: &Principal,
    bytes: &[u8],
    record: &R,
    now: DateTime<Utc>,
) -> Result<bool> {
    let sent = Sent { caller: caller.clone(), kind: R::KIND, bytes: bytes.to_vec(), now };
    together::store(service, sent, || receive_alone(service, caller, bytes, record, now)).await
}

async fn receive_alone<R: Event>(
    service: &Service,
    caller: &Principal,
    bytes: &[u8],
    record: &R,
    now: DateTime<Utc>,
) -> Result<bool> {
    repeating(async || {
        let mut client = service.store.client().await?;
        let tenant = open(&mut client, caller).await?;
        let mut followup = Followup::default();
        let arrival = take_in(&tenant, caller, &Arriving::now(bytes, now), record, &mut followup).await?;
        if let Arrival::Duplicate(_) = arrival {
            return Ok(false);
        }
        followup.settle(&tenant, &service.charts, now).await?;
        tenant.commit().await?;
        Ok(true)
    })
    .await
}

/// Takes a record in, inside a transaction: the bytes, and what was read from them. What follows is left to `followup`.
pub(super) async fn take_in<R: Event>(
    tenant: &Tenant<'_>,
    caller: &Principal,
    arriving: &Arriving<'_>,
    record: &R,
    followup: &mut Followup,
) -> Result<Arrival> {
    let now = arriving.now;
    record.check(tenant, caller, now).await?;
    let arrival = arrive::<R>(tenant, caller, record.id(), arriving).await?;
    if let Arrival::New(_) = arrival {
        record.keep(tenant, caller).await?;
        if let Some(correction) = correction(tenant, caller, record, now).await? {
            store::insert_correction(tenant, &correction).await?;
        }
        followup.stored(R::KIND.code(), record.id(), record.bears_on(tenant, now).await?);
        corrections::follow(tenant, record.moves(tenant).await?, now, followup).await?;
    }
    Ok(arrival)
}

/// The accepted record that the member at `pointer` names.
pub(super) async fn accepted(tenant: &Tenant<'_>, pointer: &str, record: Uuid) -> Result<Submission> {
    store::submission(tenant, record).await?.ok_or_else(|| {
        let detail =
            format!("No record of this organization has the id {record}. Send it first, or correct the id.");
        Error::invalid(pointer, "unknown_id", detail)
    })
}

/// Checks that the unit is there, and that the crew which has it is the caller's.
pub(super) async fn check_unit(
    tenant: &Tenant<'_>,
    caller: &Principal,
    unit: Uuid,
    now: DateTime<Utc>,
) -> Result<()> {
    let version = known::<Unit>(tenant, "/unit_id", unit, now).await?;
    require_crew(caller, version.value.crew_id)
}

/// The units that a crew has.
pub(super) async fn units_of(tenant: &Tenant<'_>, crew: Uuid, now: DateTime<Utc>) -> Result<Vec<Uuid>> {
    let all = configuration::all_in_force::<Unit>(tenant, now).await?;
    Ok(all.iter().filter(|unit| unit.value.crew_id == Some(crew)).map(|unit| unit.id).collect())
}

impl Event for ServiceEvent {
    async fn check(&self, tenant: &Tenant<'_>, caller: &Principal, now: DateTime<Utc>) -> Result<()> {
        check_unit(tenant, caller, self.unit_id, now).await
    }

    async fn keep(&self, tenant: &Tenant<'_>, _caller: &Principal) -> Result<()> {
        Ok(store::insert_service_event(tenant, self).await?)
    }

    async fn bears_on(&self, _tenant: &Tenant<'_>, _now: DateTime<Utc>) -> Result<Vec<Uuid>> {
        Ok(vec![self.unit_id])
    }
}

impl Event for ProductionSpan {
    async fn check(&self, tenant: &Tenant<'_>, caller: &Principal, now: DateTime<Utc>) -> Result<()> {
        try_join!(
            check_unit(tenant, caller, self.unit_id, now),
            known_if_named::<Crew>(tenant, "/crew_id", self.crew_id, now),
            known_if_named::<Membrane>(tenant, "/membrane_id", self.membrane_id, now),
            known_if_named::<Lot>(tenant, "/lot_id", self.lot_id, now),
        )?;
        Ok(())
    }

    async fn keep(&self, tenant: &Tenant<'_>, _caller: &Principal) -> Result<()> {
        Ok(store::insert_production_span(tenant, self).await?)
    }

    /// Its unit, unless it ended before anything that is still scheduled or shown.
    async fn bears_on(&self, _tenant: &Tenant<'_>, now: DateTime<Utc>) -> Result<Vec<Uuid>> {
        Ok(if self.to < now - derive::LOOK_BACK { Vec::new() } else { vec![self.unit_id] })
    }
}

impl Event for Decision {
    async fn check(&self, tenant: &Tenant<'_>, caller: &Principal, now: DateTime<Utc>) -> Result<()> {
        check_unit(tenant, caller, self.unit_id, now).await
    }

    async fn keep(&self, tenant: &Tenant<'_>, caller: &Principal) -> Result<()> {
        Ok(store::insert_decision(tenant, self, caller).await?)
    }

    async fn bears_on(&self, _tenant: &Tenant<'_>, _now: DateTime<Utc>) -> Result<Vec<Uuid>> {
        Ok(vec![self.unit_id])
    }
}

impl Event for DayPlan {
    async fn check(&self, tenant: &Tenant<'_>, caller: &Principal, now: DateTime<Utc>) -> Result<()> {
        require_crew(caller, Some(self.crew_id))?;
        let unit = async |(index, unit): (usize, &Uuid)| {
            known::<Unit>(tenant, &format!("/unit_ids/{index}"), *unit, now).await
        };
        try_join!(
            known::<Crew>(tenant, "/crew_id", self.crew_id, now),
            try_join_all(self.unit_ids.iter().enumerate().map(unit)),
        )?;
        Ok(())
    }

    async fn keep(&self, tenant: &Tenant<'_>, _caller: &Principal) -> Result<()> {
        Ok(store::insert_day_plan(tenant, self).await?)
    }

    /// The units it names and those the crew has: a plan that leaves a unit out says that it is not needed. None when the
    /// day lies before anything that is still scheduled.
    async fn bears_on(&self, tenant: &Tenant<'_>, now: DateTime<Utc>) -> Result<Vec<Uuid>> {
        if self.date < (now - derive::LOOK_BACK).date_naive() {
            return Ok(Vec::new());
        }
        let mut units = units_of(tenant, self.crew_id, now).await?;
        units.extend(&self.unit_ids);
        Ok(units)
    }
}

/// Service events of a unit, or of all, in order of time.
///
/// # Errors
/// [`Error::Storage`].
pub async fn service_events(
    service: &Service,
    caller: &Principal,
    unit: Option<Uuid>,
    now: DateTime<Utc>,
) -> Result<Vec<ServiceEvent>> {
    let mut client = service.store.client().await?;
    let tenant = open_to_read(&mut client, caller).await?;
    let reach = Reach::of(&tenant, caller, now).await?;
    Ok(reach.only(store::service_events(&tenant, unit).await?, |event| event.unit_id))
}

/// Day plans of a crew, or of all, from a day on.
///
/// # Errors
/// [`Error::Storage`].
pub async fn day_plans(
    service: &Service,
    caller: &Principal,
    crew: Option<Uuid>,
    from: NaiveDate,
) -> Result<Vec<DayPlan>> {
    let mut client = service.store.client().await?;
    let tenant = open_to_read(&mut client, caller).await?;
    Ok(store::day_plans(&tenant, caller.crew.or(crew), from).await?)
}

/// Production spans of a unit, or of all, that end at or after `from`.
///
/// # Errors
/// [`Error::Storage`].
pub async fn production_spans(
    service: &Service,
    caller: &Principal,
    unit: Option<Uuid>,
    from: DateTime<Utc>,
    now: DateTime<Utc>,
) -> Result<Vec<ProductionSpan>> {
    let mut client = service.store.client().await?;
    let tenant = open_to_read(&mut client, caller).await?;
    let reach = Reach::of(&tenant, caller, now).await?;
    Ok(reach.only(store::production_spans(&tenant, unit, from).await?, |span| span.unit_id))
}

/// Decisions about a unit, or all, in order of time.
///
/// # Errors
/// [`Error::Storage`].
pub async fn decisions(
    service: &Service,
    caller: &Principal,
    unit: Option<Uuid>,
    now: DateTime<Utc>,
) -> Result<Vec<Decision>> {
    let mut client = service.store.client().await?;
    let tenant = open_to_read(&mut client, caller).await?;
    let reach = Reach::of(&tenant, caller, now).await?;
    Ok(reach.only(store::decisions(&tenant, unit).await?, |decision| decision.unit_id))
}
