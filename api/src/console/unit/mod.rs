//! One unit: how it stands and why, its history, what is due, what to probe.

pub(super) mod flag;
mod history;
mod lists;
mod page;
mod suspects;

use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use actix_web::web::{Path, Query};
use serde::Deserialize;
use uuid::Uuid;

use super::Shared;
use super::error::PageError;
use super::place::Place;
use super::response;
use super::session::Session;
use crate::model::Scope;
use crate::problem::Code;
use crate::service::{open_trials, trials, units};
use crate::storage::records::{OpenTrialFilter, TrialFilter};
use page::{UnitFindings, UnitPage};
pub(super) use suspects::{SuspectGroup, suspect_groups};

/// How many of its trials are listed.
const TRIALS_LISTED: i64 = 25;
/// How many of its unfinished trials are told of.
const UNFINISHED_SHOWN: i64 = 3;

/// How far back the history is drawn.
#[derive(Debug, Deserialize)]
pub(super) struct UnitQuery {
    months: Option<String>,
}

/// GET /units/{id}.
pub(super) async fn show(
    session: Session,
    context: Shared,
    id: Path<String>,
    query: Query<UnitQuery>,
) -> Result<HttpResponse, PageError> {
    session.require(Scope::UnitsRead)?;
    session.require(Scope::TrialsRead)?;
    let id = Uuid::try_parse(&id).map_err(|_| PageError::of(Code::NotFound))?;
    let (service, caller, now) = (&context.service, &session.principal, context.clock.now());
    let situation = units::situation(service, caller, id, now).await?;
    let history = units::history(service, caller, id, now).await?;
    let filter = TrialFilter { unit_id: Some(id), limit: TRIALS_LISTED, ..TrialFilter::default() };
    let trials = trials::list(service, caller, filter).await?;
    let open = OpenTrialFilter { unit_id: Some(id), limit: UNFINISHED_SHOWN, ..OpenTrialFilter::default() };
    let unfinished = open_trials::unfinished(service, caller, open).await?;
    let place = Place::of(service, caller, situation.unit.value.crew_id, now).await?;
    let title = situation.unit.value.label.clone();
    let findings = UnitFindings { situation, history, trials, unfinished, place };
    let months = history::Months::of(query.months.as_deref());
    Ok(response::page(StatusCode::OK, &UnitPage::new(session.frame(title), &findings, months, now)))
}
