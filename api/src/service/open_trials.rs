//! Trials that are sent piece by piece: header, coupons, close. A close makes a trial like any other, under an id of its own;
//! until then an open trial is answered with advice and enters nothing.

use chrono::{DateTime, Utc};
use lapwatch_domain::trial::Evaluation;
use uuid::Uuid;

use super::followup::Followup;
use super::records::{Arrival, Arriving, Event, arrive, repeating, require_crew, take_in};
use super::trials::Context;
use super::{Error, Result, Service, open, open_to_read, trials};
use crate::model::{Finding, OpenTrial, Principal, RecordKind, SentCoupon, Trial, TrialClose};
use crate::storage::records::{self as store, OpenTrialFilter, OpenTrialRow, Submission};
use crate::storage::{Tenant, derived};
use crate::wire;

/// An open trial as it is now.
#[derive(Debug)]
pub struct Progress {
    /// What became of it.
    pub row: OpenTrialRow,
    /// The header as it was sent.
    pub header: Submission,
    /// The coupons as they were sent, those withdrawn not among them, in the order in which they were written down.
    pub coupons: Vec<Vec<u8>>,
    /// What the coupons say so far; none before the first.
    pub advice: Option<Advice>,
}

/// What the coupons of an open trial say so far.
#[derive(Debug)]
pub struct Advice {
    /// The trial so far.
    pub trial: Trial,
    /// What it was judged by.
    pub context: Context,
    /// Readings, edges, band, next coupon.
    pub evaluation: Evaluation,
}

impl Event for OpenTrial {
    async fn check(&self, tenant: &Tenant<'_>, caller: &Principal, _now: DateTime<Utc>) -> Result<()> {
        let context = Context::load(tenant, &self.trial).await?;
        require_crew(caller, context.crew_id)?;
        context.check(&self.trial)
    }

    async fn keep(&self, tenant: &Tenant<'_>, _caller: &Principal) -> Result<()> {
        let context = Context::load(tenant, &self.trial).await?;
        Ok(store::insert_open_trial(tenant, self, context.crew_id).await?)
    }

    /// None: it enters no history.
    async fn bears_on(&self, _tenant: &Tenant<'_>, _now: DateTime<Utc>) -> Result<Vec<Uuid>> {
        Ok(Vec::new())
    }
}

impl Event for SentCoupon {
    /// Its header is there, and such a coupon can be welded by that unit.
    async fn check(&self, tenant: &Tenant<'_>, caller: &Principal, _now: DateTime<Utc>) -> Result<()> {
        let row = header_of(tenant, caller, self.open_trial_id).await?;
        let header = submission(tenant, row.id).await?;
        let mut trial = read_header(&header)?;
        trial.coupons = vec![self.coupon.clone()];
        said_at(Context::load(tenant, &trial).await?.check(&trial), place_in_coupon)
    }

    async fn keep(&self, tenant: &Tenant<'_>, _caller: &Principal) -> Result<()> {
        Ok(store::insert_sent_coupon(tenant, self).await?)
    }

    /// None: it enters no history.
    async fn bears_on(&self, _tenant: &Tenant<'_>, _now: DateTime<Utc>) -> Result<Vec<Uuid>> {
        Ok(Vec::new())
    }
}

/// Findings about a trial, said of the piece that was sent: each at its place there.
fn said_at<T>(checked: Result<T>, place: fn(&str) -> String) -> Result<T> {
    checked.map_err(|error| match error {
        Error::Invalid(mut findings) => {
            for finding in &mut findings {
                finding.pointer = place(&finding.pointer);
            }
            Error::Invalid(findings)
        }
        other => other,
    })
}

/// A place in a trial's only coupon, as one in the coupon.
fn place_in_coupon(pointer: &str) -> String {
    pointer.strip_prefix("/coupons/0").unwrap_or(pointer).to_owned()
}

impl TrialClose {
    /// Checks that header and coupons are there, and that the open trial was not closed before, unless this close says so.
    pub(super) async fn check(&self, tenant: &Tenant<'_>, caller: &Principal) -> Result<()> {
        self.assemble(tenant, caller).await.map(drop)
    }

    /// The record of the trial that it makes.
    async fn assemble(&self, tenant: &Tenant<'_>, caller: &Principal) -> Result<Vec<u8>> {
        let row = header_of(tenant, caller, self.open_trial_id).await?;
        let header = submission(tenant, row.id).await?;
        let there = store::coupons_named(tenant, &self.coupon_ids).await?;
        let (mut coupons, mut findings) = (Vec::new(), Vec::new());
        for (index, id) in self.coupon_ids.iter().enumerate() {
            let pointer = format!("/coupon_ids/{index}");
            match there.iter().find(|(known, ..)| known == id) {
                Some((_, of, bytes)) if *of == self.open_trial_id => coupons.push(bytes.clone()),
                Some(_) => {
                    let detail = format!("The coupon {id} belongs to another open trial; correct the id.");
                    findings.push(Finding::new(pointer, "other_trial", detail));
                }
                None => {
                    let detail = format!("No coupon has the id {id}. Send it first, or correct the id.");
                    findings.push(Finding::new(pointer, "unknown_id", detail));
                }
            }
        }
        if !findings.is_empty() {
            return Err(Error::Invalid(findings));
        }
        wire::trial::put_together(&header.bytes, &coupons, Some(self)).map_err(|error| unreadable(&error))
    }

    /// Refuses a second trial of one open trial beside the first: it has to take its place.
    async fn alone(&self, tenant: &Tenant<'_>) -> Result<()> {
        let chain = match self.supersedes {
            Some(superseded) => store::chain(tenant, superseded).await?,
            None => Vec::new(),
        };
        let closed_as = store::closed_as(tenant, self.open_trial_id).await?;
        let stands = |trial: &&Uuid| {
            **trial != self.trial_id && self.supersedes != Some(**trial) && !chain.contains(trial)
        };
        match closed_as.iter().find(stands) {
            None => Ok(()),
            Some(trial) => {
                let detail = format!(
                    "The open trial was closed before, as the trial {trial}. Name that in `supersedes` to put this one in its place."
                );
                Err(Error::invalid("/supersedes", "already_closed", detail))
            }
        }
    }
}

/// The open trial with this id, which the caller may write to.
async fn header_of(tenant: &Tenant<'_>, caller: &Principal, id: Uuid) -> Result<OpenTrialRow> {
    let row = store::open_trial(tenant, id).await?.ok_or_else(|| {
        let detail =
            format!("No open trial of this organization has the id {id}. Send it first, or correct the id.");
        Error::invalid("/open_trial_id", "unknown_id", detail)
    })?;
    require_crew(caller, row.crew_id)?;
    Ok(row)
}

async fn submission(tenant: &Tenant<'_>, id: Uuid) -> Result<Submission> {
    store::submission(tenant, id)
        .await?
        .ok_or_else(|| Error::Internal(format!("the bytes of {id} are missing")))
}

fn unreadable(error: &dyn std::fmt::Debug) -> Error {
    Error::Internal(format!("stored pieces of a trial cannot be read: {error:?}"))
}

fn read_header(header: &Submission) -> Result<Trial> {
    let form = wire::trial::OpenTrial::parse(&header.bytes).map_err(|error| unreadable(&error))?;
    Ok(form.read().map_err(|findings| unreadable(&findings))?.trial)
}

/// Takes a close in, inside a transaction, with the trial that it makes.
///
/// # Errors
/// [`Error::Invalid`], [`Error::OtherCrew`]; [`Error::Conflict`] also when the trial's id was accepted with other content;
/// [`Error::Storage`].
pub(super) async fn take_in_close(
    tenant: &Tenant<'_>,
    caller: &Principal,
    arriving: &Arriving<'_>,
    close: &TrialClose,
    followup: &mut Followup,
) -> Result<Arrival> {
    let bytes = close.assemble(tenant, caller).await?;
    let trial: wire::trial::Trial = wire::parse(&bytes).map_err(|error| unreadable(&error))?;
    let trial = said_at(trial.read().map_err(Error::Invalid), place_in_close)?;
    let arrival = arrive::<TrialClose>(tenant, caller, close.id, arriving).await?;
    if let Arrival::New(_) = arrival {
        // Closes of one open trial come one after the other, and each sees those before it.
        derived::lock_units(tenant, &[trial.unit_id]).await?;
        close.alone(tenant).await?;
        let of_trial = Arriving { bytes: &bytes, ..*arriving };
        said_at(trials::take_in(tenant, caller, &of_trial, &trial, followup).await, place_in_close)?;
        store::insert_trial_close(tenant, close).await?;
        followup.stored(RecordKind::TrialClose.code(), close.id, []);
    }
    Ok(arrival)
}

/// A place in a trial, as one in its close: of a coupon in `coupon_ids`, of the beginning its id.
fn place_in_close(pointer: &str) -> String {
    let mut steps = pointer.split('/').skip(1);
    match (steps.next(), steps.next()) {
        (Some("coupons"), Some(index)) => format!("/coupon_ids/{index}"),
        (Some("coupons"), None) => "/coupon_ids".to_owned(),
        (Some("recorded_at" | "supersedes"), _) => pointer.to_owned(),
        (Some("id"), _) => "/trial_id".to_owned(),
        _ => "/open_trial_id".to_owned(),
    }
}

/// Takes a close in and answers the trial that it makes.
///
/// # Errors
/// As [`super::records::receive`].
pub async fn close(
    service: &Service,
    caller: &Principal,
    bytes: &[u8],
    close: &TrialClose,
    now: DateTime<Utc>,
) -> Result<trials::Answer> {
    let duplicate = repeating(async || {
        let mut client = service.store.client().await?;
        let tenant = open(&mut client, caller).await?;
        let mut followup = Followup::default();
        let arrival =
            take_in_close(&tenant, caller, &Arriving::now(bytes, now), close, &mut followup).await?;
        followup.settle(&tenant, &service.charts, now).await?;
        tenant.commit().await?;
        Ok(matches!(arrival, Arrival::Duplicate(_)))
    })
    .await?;
    Ok(trials::Answer { duplicate, ..trials::get(service, caller, close.trial_id, now).await? })
}

/// Takes the beginning of a trial, or a coupon of it, in; answers whether it is new, and the open trial as it is then.
///
/// # Errors
/// As [`super::records::receive`].
pub async fn receive<R: Event>(
    service: &Service,
    caller: &Principal,
    (bytes, record, open_trial): (&[u8], &R, Uuid),
    now: DateTime<Utc>,
) -> Result<(bool, Progress)> {
    repeating(async || {
        let mut client = service.store.client().await?;
        let tenant = open(&mut client, caller).await?;
        let mut followup = Followup::default();
        let arrival = take_in(&tenant, caller, &Arriving::now(bytes, now), record, &mut followup).await?;
        followup.settle(&tenant, &service.charts, now).await?;
        let row = store::open_trial(&tenant, open_trial).await?.ok_or(Error::NotFound("open trial"))?;
        let progress = progress(&tenant, row).await?;
        tenant.commit().await?;
        Ok((matches!(arrival, Arrival::New(_)), progress))
    })
    .await
}

/// Unfinished trials, the latest first; a caller that acts for one crew sees its own.
///
/// # Errors
/// [`Error::Storage`].
pub async fn unfinished(
    service: &Service,
    caller: &Principal,
    filter: OpenTrialFilter,
) -> Result<Vec<OpenTrialRow>> {
    let mut client = service.store.client().await?;
    let tenant = open_to_read(&mut client, caller).await?;
    let filter = OpenTrialFilter { crew_id: caller.crew.or(filter.crew_id), ..filter };
    Ok(store::unfinished(&tenant, &filter).await?)
}

/// One open trial as it is now.
///
/// # Errors
/// [`Error::NotFound`]; [`Error::Storage`].
pub async fn get(service: &Service, caller: &Principal, id: Uuid) -> Result<Progress> {
    let mut client = service.store.client().await?;
    let tenant = open_to_read(&mut client, caller).await?;
    let row = store::open_trial(&tenant, id).await?.filter(|row| caller.acts_for(row.crew_id));
    progress(&tenant, row.ok_or(Error::NotFound("open trial"))?).await
}

/// A coupon or a close as it was sent.
///
/// # Errors
/// [`Error::NotFound`]; [`Error::Storage`].
pub async fn piece(service: &Service, caller: &Principal, kind: RecordKind, id: Uuid) -> Result<Submission> {
    let mut client = service.store.client().await?;
    let tenant = open_to_read(&mut client, caller).await?;
    let found = store::submission(&tenant, id).await?.filter(|found| found.kind == kind);
    let found = found.ok_or(Error::NotFound("record"))?;
    let of = wire::trial::open_trial_of(&found.bytes).map_err(|error| unreadable(&error))?;
    let row = store::open_trial(&tenant, of).await?;
    if row.is_some_and(|row| caller.acts_for(row.crew_id)) {
        Ok(found)
    } else {
        Err(Error::NotFound("record"))
    }
}

async fn progress(tenant: &Tenant<'_>, row: OpenTrialRow) -> Result<Progress> {
    let header = submission(tenant, row.id).await?;
    let coupons = store::coupons_of(tenant, row.id).await?;
    // A close names no more, so no more are looked at.
    let advice = match &coupons[..coupons.len().min(wire::trial::MOST_COUPONS)] {
        [] => None,
        some => Some(advice(tenant, &header, some).await?),
    };
    Ok(Progress { row, header, coupons, advice })
}

/// What the coupons say so far. Each was checked with the header when it was taken in.
async fn advice(tenant: &Tenant<'_>, header: &Submission, coupons: &[Vec<u8>]) -> Result<Advice> {
    let bytes =
        wire::trial::put_together(&header.bytes, coupons, None).map_err(|error| unreadable(&error))?;
    let form: wire::trial::Trial = wire::parse(&bytes).map_err(|error| unreadable(&error))?;
    let trial = form.read().map_err(|findings| unreadable(&findings))?;
    let context = Context::load(tenant, &trial).await?;
    let evaluation = context.evaluate(&trial)?;
    Ok(Advice { trial, context, evaluation })
}

#[cfg(test)]
mod tests {
    use super::place_in_close;

    #[test]
    fn findings_about_a_trial_point_into_its_close() {
        for (in_trial, in_close) in [
            ("/coupons/3/set_temperature/value", "/coupon_ids/3"),
            ("/coupons", "/coupon_ids"),
            ("/recorded_at", "/recorded_at"),
            ("/supersedes", "/supersedes"),
            ("/id", "/trial_id"),
            ("/upper_sheet/lot_id", "/open_trial_id"),
        ] {
            assert_eq!(place_in_close(in_trial), in_close);
        }
    }
}
