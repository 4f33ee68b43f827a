//! The fleet: every unit at a glance, what needs somebody first.

mod gauge;
mod order;
mod page;
mod row;
#[cfg(test)]
mod tests;

use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use actix_web::web::Query;
use serde::Deserialize;
use uuid::Uuid;

use super::Shared;
use super::error::PageError;
use super::response;
use super::session::Session;
use crate::model::Scope;
use crate::service::{custody, fleet, shared};
use order::Sort;
use page::FleetPage;
pub(super) use row::{Unfinished, margin_words};

/// How the fleet is shown. Values that mean nothing are passed over rather than refused: the address bar is for people.
#[derive(Debug, Deserialize)]
pub(super) struct FleetQuery {
    crew: Option<String>,
    sort: Option<String>,
}

/// What of the fleet is shown, in which order.
#[derive(Debug, Clone, Copy)]
struct Choice {
    crew: Option<Uuid>,
    sort: Sort,
}

impl Choice {
    /// Somebody who leads one crew starts with that crew; `crew=all` shows all.
    fn of(query: &FleetQuery, own_crew: Option<Uuid>) -> Self {
        let crew = match query.crew.as_deref() {
            None => own_crew,
            Some(id) => Uuid::try_parse(id).ok(),
        };
        Self { crew, sort: query.sort.as_deref().and_then(Sort::from_code).unwrap_or(Sort::Attention) }
    }
}

/// GET /: on to the fleet.
pub(super) async fn home(_session: Session) -> HttpResponse {
    response::see_other("/fleet")
}

/// GET /fleet.
pub(super) async fn show(
    session: Session,
    context: Shared,
    query: Query<FleetQuery>,
) -> Result<HttpResponse, PageError> {
    session.require(Scope::UnitsRead)?;
    let now = context.clock.now();
    let rows = fleet::board(&context.service, &session.principal, now).await?;
    let shared = shared::notable(&context.service, &session.principal, now).await?;
    let held = custody::waiting(&context.service, &session.principal).await?;
    let choice = Choice::of(&query, session.principal.crew);
    Ok(response::page(
        StatusCode::OK,
        &FleetPage::new(session.frame("Fleet"), (&rows, &shared, held), choice, now),
    ))
}
