//! Trials from spreadsheets: read, looked at, and then taken in by the door that everything else takes.

use std::collections::{HashMap, HashSet};

use chrono::{DateTime, Utc};
use uuid::Uuid;

use super::envelope::{self, Handled};
use super::records::require_crew;
use super::trials::Context;
use super::{Error, Result, Service, open_to_read};
use crate::model::{Crew, Directory, Finding, Lot, Membrane, Principal, SheetTrial, Unit, Version};
use crate::storage::configuration::all_in_force;
use crate::storage::{Tenant, records as store};
use crate::wire;
use crate::wire::sheet::{ReadSheet, Sheet, of_trial};

/// What a sheet comes to.
#[derive(Debug)]
pub struct Seen {
    /// What was read, and every problem, of the sheet and of what its trials name.
    pub read: ReadSheet,
    /// Ids among its trials that were accepted before.
    pub known: HashSet<Uuid>,
}

/// What became of a sheet.
#[derive(Debug)]
pub struct Imported {
    /// What it comes to.
    pub seen: Seen,
    /// What became of each of its trials; none when it was refused.
    pub handled: Vec<Handled>,
}

/// Reads a sheet and checks its trials, without keeping anything.
///
/// # Errors
/// [`Error::Storage`].
pub async fn preview(
    service: &Service,
    caller: &Principal,
    sheet: &Sheet,
    now: DateTime<Utc>,
) -> Result<Seen> {
    let mut client = service.store.client().await?;
    let tenant = open_to_read(&mut client, caller).await?;
    let directory = directory(&tenant, now).await?;
    let mut read = sheet.trials(caller.organization, &directory);
    let mut checked = std::mem::take(&mut read.trials);
    for trial in checked.iter_mut().filter(|trial| trial.sound) {
        for finding in check(&tenant, caller, trial).await? {
            read.add(of_trial(&finding, trial));
            trial.sound = false;
        }
    }
    let ids: Vec<Uuid> = checked.iter().map(|trial| trial.id).collect();
    let known = store::known(&tenant, &ids).await?;
    Ok(Seen { read: ReadSheet { trials: checked, ..read }, known })
}

/// What keeps a trial from being accepted, by what it names.
async fn check(tenant: &Tenant<'_>, caller: &Principal, sheet: &SheetTrial) -> Result<Vec<Finding>> {
    let form: wire::trial::Trial = wire::parse(sheet.record.to_string().as_bytes())
        .map_err(|error| Error::Internal(format!("a trial of a sheet cannot be parsed: {error:?}")))?;
    let checked = async {
        let trial = form.read().map_err(Error::Invalid)?;
        let context = Context::load(tenant, &trial).await?;
        require_crew(caller, context.crew_id)?;
        context.check(&trial)
    };
    match checked.await {
        Ok(()) => Ok(Vec::new()),
        Err(Error::Invalid(findings)) => Ok(findings),
        Err(Error::OtherCrew) => {
            let detail = "It is of another crew than the one that you act for.";
            Ok(vec![Finding::new("/crew_id", "other_crew", detail)])
        }
        Err(error) => Err(error),
    }
}

/// Takes the trials of a sheet in. A sheet with problems is refused whole, unless its sender wants its unsound trials held; one with a
/// line that cannot be read is refused even then.
///
/// # Errors
/// [`Error::Storage`]; [`Error::Unauthenticated`] when the caller was revoked meanwhile: what was taken in until then is kept, and
/// sending the sheet again is harmless.
pub async fn import(
    service: &Service,
    caller: &Principal,
    sheet: &Sheet,
    now: DateTime<Utc>,
) -> Result<Imported> {
    let seen = preview(service, caller, sheet, now).await?;
    let mut handled = Vec::new();
    if seen.read.problem_count == 0 || (sheet.hold && !seen.read.torn) {
        let records: Vec<String> = seen.read.trials.iter().map(|trial| trial.record.to_string()).collect();
        let items: Vec<&[u8]> = records.iter().map(String::as_bytes).collect();
        handled = envelope::receive_all(service, caller, &items, now).await?;
    }
    Ok(Imported { seen, handled })
}

/// The names in use.
async fn directory(tenant: &Tenant<'_>, now: DateTime<Utc>) -> Result<Directory> {
    Ok(Directory {
        units: by_name(all_in_force::<Unit>(tenant, now).await?, |unit| unit.label),
        crews: by_name(all_in_force::<Crew>(tenant, now).await?, |crew| crew.name),
        membranes: by_name(all_in_force::<Membrane>(tenant, now).await?, |membrane| membrane.name),
        lots: by_name(all_in_force::<Lot>(tenant, now).await?, |lot| lot.code),
    })
}

fn by_name<T>(versions: Vec<Version<T>>, name: impl Fn(T) -> String) -> HashMap<String, Vec<Uuid>> {
    let mut ids: HashMap<String, Vec<Uuid>> = HashMap::new();
    for version in versions {
        ids.entry(name(version.value)).or_default().push(version.id);
    }
    ids
}
