//! The demo's organization, its director, and a token to try the API with.

use crate::model::Principal;
use crate::service::{Error, Service, access, organizations};
use anyhow::{Context, Result};
use chrono::{DateTime, Utc};
use lapwatch_fixtures::ORGANIZATION;

use crate::cli::demo::state::State;

/// Makes what is missing of them, and answers the director as a caller. All that must survive is in `state` before it is made,
/// so a start that was cut off is simply repeated.
pub(super) async fn ensure(
    service: &Service,
    state: &mut State,
    url: &str,
    now: DateTime<Utc>,
) -> Result<Principal> {
    state.save()?;
    let caller = director(service, state, now).await?;
    if state.organization != Some(caller.organization) {
        // A new database under an old data folder: nothing is loaded in it.
        state.organization = Some(caller.organization);
        state.token = None;
        state.load = None;
    }
    let accepted = state.token.as_ref().is_some_and(|token| service.authenticate(token, now).is_ok());
    if !accepted || state.url.as_deref() != Some(url) {
        let name = "Quick start".to_owned();
        let (_app, token) = access::add_app(service, &caller, name, caller.scopes.clone(), None, None, now)
            .await
            .context("adding the demo's app")?;
        state.token = Some(token);
        state.url = Some(url.to_owned());
    }
    state.save()?;
    Ok(caller)
}

async fn director(service: &Service, state: &State, now: DateTime<Utc>) -> Result<Principal> {
    match access::sign_in(service, &state.sign_in, &state.password, now).await {
        Ok((organization, person)) => Ok(person.principal(organization)),
        Err(Error::SignInRefused) => {
            let founded =
                organizations::create(service, ORGANIZATION, &state.sign_in, &state.password, now).await;
            let founded = founded.with_context(|| {
                format!("making the demo's organization, whose director signs in as {}", state.sign_in)
            })?;
            Ok(founded.director.principal(founded.organization))
        }
        Err(error) => Err(error).context("signing in as the demo's director"),
    }
}
