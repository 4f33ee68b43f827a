//! One trial: what every strip showed, what follows, what to do next.

mod page;

use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use actix_web::web::Path;
use uuid::Uuid;

use super::Shared;
use super::error::PageError;
use super::place::Place;
use super::response;
use super::session::Session;
use crate::model::Scope;
use crate::problem::Code;
use crate::service::{photos, trials};
use page::TrialPage;

/// GET /trials/{id}.
pub(super) async fn show(
    session: Session,
    context: Shared,
    id: Path<String>,
) -> Result<HttpResponse, PageError> {
    session.require(Scope::TrialsRead)?;
    let id = Uuid::try_parse(&id).map_err(|_| PageError::of(Code::NotFound))?;
    let (service, caller, now) = (&context.service, &session.principal, context.clock.now());
    let answer = trials::get(service, caller, id, now).await?;
    let place = Place::of(service, caller, answer.context.crew_id, now).await?;
    let photos = photos::of_trial(service, caller, id, now).await?;
    let title = format!("Trial of {}", answer.context.unit.label);
    Ok(response::page(StatusCode::OK, &TrialPage::new(session.frame(title), &answer, &photos, &place, now)))
}
