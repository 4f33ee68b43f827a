//! The change feed.

use chrono::{DateTime, SecondsFormat, Utc};
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;

use crate::model::{self, ChangeKind, Happening, Place};
use crate::service::feed::Stretch;
use crate::wire::Cursor;

/// One entry of the change feed: that something happened, and where to read what.
#[derive(Debug, Serialize, ToSchema)]
pub struct Change {
    /// The place behind this entry: go on from here.
    #[schema(example = "AZfR8ZpEcACJ7oYV3mJx5QGX0fGaRHAAie6GFd5iceUAAAAAAABH1w")]
    pub cursor: String,
    /// Its number. Numbers rise by the order of commits, without gaps over the organization; what you do not see or did not
    /// ask for is missing in between.
    #[schema(example = 18391)]
    pub sequence: i64,
    /// What it is about: `trial`, `second_reading`, `custody`, `service_event`, `day_plan`, `production_span`, `day_event`,
    /// `seam_check`, `retraction`, `open_trial`, `coupon`, `trial_close`, `photo`, `decision`, `shared_decision`,
    /// `standing`, `flag`, `recheck`, `fleet_fit`, `shared_fit`, `unit`, `crew`, `site`, `membrane`, `lot`, `criteria_exception`,
    /// `criteria` or `policy`.
    #[schema(example = "trial")]
    pub kind: &'static str,
    /// Id of that; of `standing` the unit's, of `criteria` and `policy` the organization's.
    pub id: Uuid,
    /// `added`: told of for the first time. `changed`. `gone`: a flag or a recheck that no longer follows from the records, or
    /// a unit that is no longer the crew's; forget it and what belongs to it.
    #[schema(example = "added")]
    pub event: &'static str,
    /// When it was stored.
    pub changed_at: DateTime<Utc>,
    /// The unit that it is about.
    pub unit_id: Option<Uuid>,
    /// The crew that the record names.
    pub crew_id: Option<Uuid>,
    /// Where to read it as it is now; null of what is gone.
    #[schema(format = "uri-reference", example = "/v1/trials/0197b0d2-7f00-7000-8000-000000000001")]
    pub href: Option<String>,
}

/// A stretch of the change feed.
#[derive(Debug, Serialize, ToSchema)]
pub struct Changes {
    /// The entries, in order.
    pub items: Vec<Change>,
    /// The place up to which the feed was read, past what was passed over: ask `after` it next.
    pub through: String,
    /// Whether there is more behind `through` already.
    pub more: bool,
}

impl Changes {
    /// A stretch of the feed of an organization.
    pub fn of(organization: Uuid, stretch: &Stretch) -> Self {
        Self {
            items: stretch.changes.iter().map(|change| Change::of(organization, change)).collect(),
            through: cursor(organization, stretch.through),
            more: stretch.more,
        }
    }
}

impl Change {
    /// An entry of the feed of an organization.
    pub fn of(organization: Uuid, change: &model::Change) -> Self {
        Self {
            cursor: cursor(organization, change.place),
            sequence: change.place.seq,
            kind: change.kind.code(),
            id: change.subject,
            event: change.happening.code(),
            changed_at: change.at,
            unit_id: change.unit,
            crew_id: change.crew,
            href: (change.happening != Happening::Gone).then(|| address(change)),
        }
    }
}

/// A place as callers keep it.
pub fn cursor(organization: Uuid, place: Place) -> String {
    Cursor { organization, place }.to_string()
}

/// Where to read what changed: the thing itself, or the shortest list that has it.
fn address(change: &model::Change) -> String {
    let id = change.subject;
    let list = |path: &str, name: &str, value: Option<Uuid>| {
        let from = change.since.map(|since| match change.kind {
            ChangeKind::DayPlan => since.date_naive().to_string(),
            _ => since.to_rfc3339_opts(SecondsFormat::Micros, true),
        });
        let value = value.map(|value| format!("{name}={value}"));
        let query: Vec<String> = value.into_iter().chain(from.map(|from| format!("from={from}"))).collect();
        if query.is_empty() { format!("/v1/{path}") } else { format!("/v1/{path}?{}", query.join("&")) }
    };
    match change.kind {
        ChangeKind::Trial => format!("/v1/trials/{id}"),
        ChangeKind::SecondReading => "/v1/second-readings".to_owned(),
        ChangeKind::Custody => format!("/v1/custody/{id}"),
        ChangeKind::ServiceEvent => list("service-events", "unit_id", change.unit),
        ChangeKind::DayPlan => list("day-plans", "crew_id", change.crew),
        ChangeKind::ProductionSpan => list("production-spans", "unit_id", change.unit),
        ChangeKind::DayEvent => list("day-events", "crew_id", change.crew),
        ChangeKind::SeamCheck => list("seam-checks", "unit_id", change.unit),
        ChangeKind::Retraction => list("retractions", "record_id", None),
        ChangeKind::OpenTrial => format!("/v1/open-trials/{id}"),
        ChangeKind::Coupon => format!("/v1/coupons/{id}"),
        ChangeKind::TrialClose => format!("/v1/trial-closes/{id}"),
        ChangeKind::Photo => format!("/v1/photos/{id}"),
        ChangeKind::Decision => list("decisions", "unit_id", change.unit),
        ChangeKind::SharedDecision => list("shared-decisions", "", None),
        ChangeKind::Standing => format!("/v1/units/{id}/standing"),
        ChangeKind::Flag => format!("/v1/flags/{id}"),
        ChangeKind::Recheck => list("rechecks", "unit_id", change.unit),
        ChangeKind::FleetFit => format!("/v1/fleet-fits/{id}"),
        ChangeKind::SharedFit => format!("/v1/shared-fits/{id}"),
        ChangeKind::Unit => format!("/v1/units/{id}"),
        ChangeKind::Crew => format!("/v1/crews/{id}"),
        ChangeKind::Site => format!("/v1/sites/{id}"),
        ChangeKind::Membrane => format!("/v1/membranes/{id}"),
        ChangeKind::Lot => format!("/v1/lots/{id}"),
        ChangeKind::CriteriaException => format!("/v1/criteria-exceptions/{id}"),
        ChangeKind::Criteria => "/v1/criteria".to_owned(),
        ChangeKind::Policy => "/v1/policy".to_owned(),
    }
}
