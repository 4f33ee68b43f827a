//! People, apps and their tokens.

use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use super::{Reader, Text};
use crate::model::{self, Finding, Scope};

/// A sign-in.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct SignIn {
    /// Sign-in name.
    #[schema(example = "director@saltmarsh.example")]
    pub sign_in: String,
    /// Password.
    #[schema(format = Password)]
    pub password: String,
}

impl std::fmt::Debug for SignIn {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("SignIn").field("sign_in", &self.sign_in).finish_non_exhaustive()
    }
}

/// An access token.
#[derive(Serialize, ToSchema)]
pub struct AccessToken {
    /// The token; send it as `Authorization: Bearer …`.
    pub access_token: String,
    /// Always `Bearer`.
    #[schema(example = "Bearer")]
    pub token_type: &'static str,
    /// Seconds until it expires.
    #[schema(example = 3600)]
    pub expires_in: i64,
}

/// A person who is added.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewPerson {
    /// Name to sign in with, 3 to 200 characters; unique over the whole service. An e-mail address is a good one.
    #[schema(value_type = Text, example = "kit@saltmarsh.example")]
    pub sign_in: Text,
    /// Name that people use.
    #[schema(value_type = Text, example = "Kit Rushes")]
    pub name: Text,
    /// `director`, `equipment` or `lead`.
    #[schema(example = "equipment")]
    pub role: String,
    /// The crew that a lead leads.
    pub crew_id: Option<Uuid>,
    /// First password, at least 12 characters.
    #[schema(format = Password, min_length = 12)]
    pub password: String,
}

impl std::fmt::Debug for NewPerson {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("NewPerson").field("sign_in", &self.sign_in).finish_non_exhaustive()
    }
}

impl NewPerson {
    /// The person and the password.
    ///
    /// # Errors
    /// Every broken rule with its pointer.
    pub fn read(self) -> Result<(model::Person, String), Vec<Finding>> {
        let mut reader = Reader::default();
        let role = reader.coded("/role", &self.role);
        let detail = "Choose at least 12 characters; a few unrelated words are easy to type with gloves on.";
        reader.require(self.password.chars().count() >= 12, "/password", "too_short", detail);
        let length = self.sign_in.0.trim().chars().count();
        reader.require(
            (3..=200).contains(&length),
            "/sign_in",
            "wrong_length",
            "Choose 3 to 200 characters.",
        );
        let person = role.map(|role| model::Person {
            id: Uuid::now_v7(),
            sign_in: self.sign_in.0.trim().to_owned(),
            name: self.name.0,
            role,
            crew_id: self.crew_id,
        });
        Ok((reader.findings.into_result(person)?, self.password))
    }
}

/// Somebody who signs in.
#[derive(Debug, Serialize, ToSchema)]
pub struct Person {
    /// Id.
    pub id: Uuid,
    /// Name to sign in with.
    pub sign_in: String,
    /// Name that people use.
    pub name: String,
    /// `director`, `equipment` or `lead`.
    pub role: &'static str,
    /// The crew that a lead leads.
    pub crew_id: Option<Uuid>,
}

impl From<&model::Person> for Person {
    fn from(person: &model::Person) -> Self {
        Self {
            id: person.id,
            sign_in: person.sign_in.clone(),
            name: person.name.clone(),
            role: person.role.code(),
            crew_id: person.crew_id,
        }
    }
}

/// An app that is added.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewApp {
    /// Name that people use.
    #[schema(value_type = Text, example = "Site diary")]
    pub name: Text,
    /// What it may do; only scopes that you have yourself.
    #[schema(example = json!(["trials:read", "trials:write"]))]
    pub scopes: Vec<String>,
    /// Crew that it is bound to, if any.
    pub crew_id: Option<Uuid>,
}

impl NewApp {
    /// Its scopes.
    ///
    /// # Errors
    /// Every unknown code with its pointer.
    pub fn scopes(&self) -> Result<Vec<Scope>, Vec<Finding>> {
        let mut reader = Reader::default();
        let scopes = reader.coded_list("/scopes", &self.scopes);
        reader.require(!self.scopes.is_empty(), "/scopes", "required", "Name at least one scope.");
        reader.findings.into_result(scopes)
    }
}

/// A third-party app or a script.
#[derive(Debug, Serialize, ToSchema)]
pub struct App {
    /// Id.
    pub id: Uuid,
    /// Name that people use.
    pub name: String,
    /// What it may do.
    pub scopes: Vec<&'static str>,
    /// Crew that it is bound to, if any.
    pub crew_id: Option<Uuid>,
    /// When its token ends.
    pub expires_at: DateTime<Utc>,
    /// When it was revoked, if it was.
    pub revoked_at: Option<DateTime<Utc>>,
}

impl From<&model::App> for App {
    fn from(app: &model::App) -> Self {
        Self {
            id: app.id,
            name: app.name.clone(),
            scopes: app.scopes.iter().map(|scope| scope.code()).collect(),
            crew_id: app.crew_id,
            expires_at: app.expires_at,
            revoked_at: app.revoked_at,
        }
    }
}

impl std::fmt::Debug for AccessToken {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("AccessToken").field("expires_in", &self.expires_in).finish_non_exhaustive()
    }
}

/// A new app with its token, which is shown this once.
#[derive(Serialize, ToSchema)]
pub struct AddedApp {
    /// The app.
    pub app: App,
    /// Its access token.
    pub access_token: String,
}

impl std::fmt::Debug for AddedApp {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("AddedApp").field("app", &self.app).finish_non_exhaustive()
    }
}
