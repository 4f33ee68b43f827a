//! Held items: what arrived and could not be accepted.

use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use askama::Template;
use chrono::{DateTime, Utc};
use chrono_tz::Tz;

use super::Shared;
use super::error::PageError;
use super::response::{self, Frame};
use super::session::Session;
use super::show::{Local, When};
use crate::model::{CustodyState, Held, HeldAs, RecordKind, Scope, SubjectKind};
use crate::service::custody::{self, MOST_COUNTED};
use crate::storage::custody::HeldFilter;

/// So many are shown.
const SHOWN: usize = 100;
/// So many broken rules of one are shown.
const RULES: usize = 3;

/// The page.
#[derive(Debug, Template)]
#[template(path = "held.html")]
struct HeldPage {
    frame: Frame,
    as_of: When,
    headline: String,
    items: Vec<Item>,
    more: bool,
}

/// One held item.
#[derive(Debug)]
struct Item {
    what: &'static str,
    sender: &'static str,
    received: When,
    rules: Vec<Rule>,
    more_rules: usize,
    id: String,
}

/// A broken rule.
#[derive(Debug)]
struct Rule {
    pointer: String,
    detail: String,
}

/// GET /held.
pub(super) async fn show(session: Session, context: Shared) -> Result<HttpResponse, PageError> {
    session.require(Scope::TrialsRead)?;
    let (service, caller, now) = (&context.service, &session.principal, context.clock.now());
    let filter = HeldFilter {
        state: Some(CustodyState::Open),
        limit: i64::try_from(SHOWN + 1).unwrap_or(i64::MAX),
        ..HeldFilter::default()
    };
    let held = custody::list(service, caller, filter).await?;
    let waiting = custody::waiting(service, caller).await?;
    let page = HeldPage::new(session.frame("Held records"), &held, waiting, now);
    Ok(response::page(StatusCode::OK, &page))
}

impl HeldPage {
    fn new(frame: Frame, held: &[Held], waiting: u64, now: DateTime<Utc>) -> Self {
        let local = Local { zone: Tz::UTC, now };
        Self {
            frame,
            as_of: local.time(now),
            headline: headline(waiting),
            items: held.iter().take(SHOWN).map(|held| Item::new(held, local)).collect(),
            more: held.len() > SHOWN,
        }
    }
}

/// How many wait, in a sentence.
pub(super) fn headline(waiting: u64) -> String {
    match waiting {
        0 => "Every record that arrived was accepted.".to_owned(),
        1 => "1 record arrived that could not be accepted yet.".to_owned(),
        many if many > u64::from(MOST_COUNTED) => {
            "More than 1,000 records arrived that could not be accepted yet.".to_owned()
        }
        many => format!("{many} records arrived that could not be accepted yet."),
    }
}

impl Item {
    fn new(held: &Held, local: Local) -> Self {
        let findings = custody::findings(held);
        let more_rules = findings.len().saturating_sub(RULES);
        let rule = |(pointer, _, detail)| Rule { pointer, detail };
        Self {
            what: what(held),
            sender: match held.sent_by.kind {
                SubjectKind::App => "an app",
                SubjectKind::Person => "a person",
            },
            received: local.time(held.received_at),
            rules: findings.into_iter().take(RULES).map(rule).collect(),
            more_rules,
            id: held.id.to_string(),
        }
    }
}

/// What it claims to be.
fn what(held: &Held) -> &'static str {
    let schema = held.schema.as_deref().and_then(|schema| schema.split('/').next());
    match (held.held_as, schema.and_then(RecordKind::from_code)) {
        (HeldAs::Conflict, _) => "Another record under a known id",
        (_, Some(RecordKind::Trial)) => "Trial",
        (_, Some(RecordKind::ServiceEvent)) => "Service event",
        (_, Some(RecordKind::DayPlan)) => "Day plan",
        (_, Some(RecordKind::ProductionSpan)) => "Production span",
        (_, Some(RecordKind::Decision)) => "Decision",
        (_, Some(RecordKind::SecondReading)) => "Second reading",
        (_, Some(RecordKind::DayEvent)) => "Day event",
        (_, Some(RecordKind::SeamCheck)) => "Seam check",
        (_, Some(RecordKind::Photo)) => "Photo",
        (_, Some(RecordKind::SharedDecision)) => "Decision about several welders",
        (_, Some(RecordKind::Retraction)) => "Retraction",
        (_, Some(RecordKind::OpenTrial)) => "Beginning of a trial",
        (_, Some(RecordKind::SentCoupon)) => "Coupon",
        (_, Some(RecordKind::TrialClose)) => "End of a trial",
        (_, None) => "Not a known kind of record",
    }
}
