//! Whose unit it is and where: what decides scales and time zone.

use chrono::{DateTime, Utc};
use chrono_tz::Tz;
use uuid::Uuid;

use super::show::{Local, Scale};
use crate::model::{Crew, Principal, Revision, Site, Version};
use crate::service::{Error, Result, Service, configuration};

/// A crew and its site, as far as known.
#[derive(Debug, Clone, Default)]
pub(super) struct Place {
    /// The crew.
    pub(super) crew: Option<Crew>,
    /// Its site.
    pub(super) site: Option<Site>,
}

impl Place {
    /// The crew with this id and its site.
    ///
    /// # Errors
    /// [`Error::Storage`].
    pub(super) async fn of(
        service: &Service,
        caller: &Principal,
        crew: Option<Uuid>,
        now: DateTime<Utc>,
    ) -> Result<Self> {
        let Some(id) = crew else { return Ok(Self::default()) };
        let crew = known(configuration::get::<Crew>(service, caller, id, now).await)?;
        let site = match &crew {
            Some(crew) => known(configuration::get::<Site>(service, caller, crew.site_id, now).await)?,
            None => None,
        };
        Ok(Self { crew, site })
    }

    /// The crew's scales.
    pub(super) fn scale(&self) -> Scale {
        self.crew.as_ref().map_or_else(Scale::default, |crew| Scale {
            temperature: crew.temperature_unit,
            speed: crew.speed_unit,
        })
    }

    /// The site's clock.
    pub(super) fn local(&self, now: DateTime<Utc>) -> Local {
        Local { zone: self.site.as_ref().map_or(Tz::UTC, |site| site.time_zone), now }
    }

    /// `Crew, site`, or that nobody has it.
    pub(super) fn words(&self) -> String {
        match (&self.crew, &self.site) {
            (Some(crew), Some(site)) => format!("{}, {}", crew.name, site.name),
            (Some(crew), None) => crew.name.clone(),
            (None, _) => "with no crew".to_owned(),
        }
    }
}

/// What is retired or was never there is simply not shown.
fn known<T>(found: Result<(Version<T>, Revision)>) -> Result<Option<T>> {
    match found {
        Ok((version, _)) => Ok(Some(version.value)),
        Err(Error::NotFound(_)) => Ok(None),
        Err(error) => Err(error),
    }
}
