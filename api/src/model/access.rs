//! Who may do what.

use chrono::{DateTime, Utc};
use lapwatch_domain::coded_enum;
use uuid::Uuid;

coded_enum! {
    /// What a person is in an organization.
    pub enum Role {
        /// Reads everything, sets criteria, manages people and apps.
        Director = "director",
        /// Looks after units: service events, flags, rechecks, releases.
        Equipment = "equipment",
        /// Leads one crew: its trials, plans and rechecks.
        Lead = "lead",
    }
}

coded_enum! {
    /// What a caller may do: a resource and a verb.
    pub enum Scope {
        /// Read trials and their answers.
        TrialsRead = "trials:read",
        /// Send trials.
        TrialsWrite = "trials:write",
        /// Read units, their histories and standings, and the fleet.
        UnitsRead = "units:read",
        /// Add and change units, send service events.
        UnitsWrite = "units:write",
        /// Read flags and rechecks.
        RechecksRead = "rechecks:read",
        /// Send decisions on flags, rechecks and units.
        DecisionsWrite = "decisions:write",
        /// Read and send day plans and production spans.
        PlansRead = "plans:read",
        /// Send day plans and production spans.
        PlansWrite = "plans:write",
        /// Read sites, crews, membranes, lots, criteria and policy.
        ConfigurationRead = "configuration:read",
        /// Change sites, crews, membranes, lots, criteria and policy.
        ConfigurationWrite = "configuration:write",
        /// Read people and apps.
        AccessRead = "access:read",
        /// Add people and apps, revoke apps.
        AccessWrite = "access:write",
    }
}

coded_enum! {
    /// What kind of caller acts.
    pub enum SubjectKind {
        /// A person.
        Person = "person",
        /// A third-party app or a script.
        App = "app",
    }
}

impl Role {
    /// The scopes that come with the role.
    pub fn scopes(self) -> Vec<Scope> {
        use Scope::*;
        match self {
            Self::Director => Scope::ALL.to_vec(),
            Self::Equipment => vec![
                TrialsRead,
                TrialsWrite,
                UnitsRead,
                UnitsWrite,
                RechecksRead,
                DecisionsWrite,
                PlansRead,
                PlansWrite,
                ConfigurationRead,
            ],
            Self::Lead => {
                vec![
                    TrialsRead,
                    TrialsWrite,
                    UnitsRead,
                    RechecksRead,
                    PlansRead,
                    PlansWrite,
                    ConfigurationRead,
                ]
            }
        }
    }
}

/// An authenticated caller.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Principal {
    /// Organization it acts in.
    pub organization: Uuid,
    /// Person or app.
    pub kind: SubjectKind,
    /// Id of the person or app.
    pub id: Uuid,
    /// What it may do.
    pub scopes: Vec<Scope>,
    /// The one crew it acts for, if it is bound to one.
    pub crew: Option<Uuid>,
}

impl Principal {
    /// Whether the caller may act for `crew`.
    pub fn acts_for(&self, crew: Option<Uuid>) -> bool {
        self.crew.is_none() || self.crew == crew
    }
}

/// Somebody who signs in.
#[derive(Debug, Clone, PartialEq)]
pub struct Person {
    /// Id.
    pub id: Uuid,
    /// Name to sign in with; unique over the whole service.
    pub sign_in: String,
    /// Name that people use.
    pub name: String,
    /// What the person may do.
    pub role: Role,
    /// Crew that a lead leads.
    pub crew_id: Option<Uuid>,
}

impl Person {
    /// The caller that this person is once signed in.
    pub fn principal(&self, organization: Uuid) -> Principal {
        Principal {
            organization,
            kind: SubjectKind::Person,
            id: self.id,
            scopes: self.role.scopes(),
            crew: if self.role == Role::Lead { self.crew_id } else { None },
        }
    }
}

/// A third-party app or a script with a token of its own.
#[derive(Debug, Clone, PartialEq)]
pub struct App {
    /// Id; also the subject of its token.
    pub id: Uuid,
    /// Name that people use.
    pub name: String,
    /// What it may do.
    pub scopes: Vec<Scope>,
    /// Crew that it is bound to, if any.
    pub crew_id: Option<Uuid>,
    /// When its token ends.
    pub expires_at: DateTime<Utc>,
    /// When it was revoked, if it was.
    pub revoked_at: Option<DateTime<Utc>>,
}
