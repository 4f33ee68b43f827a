//! What the peel traces of a trial's strips say.

use lapwatch_domain::acceptance::Reading;
use lapwatch_domain::peel::{Peel, PeelError, Region, Trace};
use uuid::Uuid;

use super::{stored_form, submission};
use crate::model::Principal;
use crate::service::{Error, Result, Service, calculations, open_to_read};
use crate::storage::records;
use crate::wire::trial::TracedStrip;

/// A strip, its reading, and what its trace says or why it says nothing.
#[derive(Debug)]
pub struct PeeledStrip {
    /// The strip with its trace.
    pub strip: TracedStrip,
    /// What it was read as.
    pub reading: Reading,
    /// The forces.
    pub found: std::result::Result<(Trace, Peel), PeelError>,
}

/// The forces of those strips of a trial that have a trace, over one stretch of it.
///
/// # Errors
/// [`Error::NotFound`]; [`Error::Storage`].
pub async fn peel(
    service: &Service,
    caller: &Principal,
    id: Uuid,
    region: Region,
) -> Result<Vec<PeeledStrip>> {
    let mut client = service.store.client().await?;
    let tenant = open_to_read(&mut client, caller).await?;
    let first_read = records::strips(&tenant, &[id]).await?.pop();
    let first_read = first_read.filter(|trial| caller.acts_for(trial.crew_id));
    let first_read = first_read.ok_or(Error::NotFound("trial"))?;
    let form = stored_form(&submission(&tenant, id).await?)?;
    drop(tenant);
    drop(client);
    let read = |strip: &TracedStrip| first_read.coupons.get(strip.coupon)?.get(strip.specimen).copied();
    Ok(form
        .traced_strips(region)
        .into_iter()
        .filter_map(|strip| {
            let (reading, found) = (read(&strip)?, calculations::peeled(&strip.asked));
            Some(PeeledStrip { strip, reading, found })
        })
        .collect())
}
