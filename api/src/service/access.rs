//! Signing in, people, apps and their tokens.

use std::collections::HashMap;
use std::sync::{LazyLock, Mutex};

use chrono::{DateTime, TimeDelta, Utc};
use uuid::Uuid;

use super::{Error, Result, Service, keyed, open, open_to_read};
use crate::auth::{Grant, digest, hash_password, random_secret, verify_password};
use crate::model::{App, KeyedRequest, Made, Person, Principal, Role, Scope, SubjectKind};
use crate::storage;

/// How long an access token of a person is good for.
pub const PERSON_TOKEN: TimeDelta = TimeDelta::hours(1);
/// How long a console session lasts.
pub const SESSION: TimeDelta = TimeDelta::hours(12);
/// How long the token of an app is good for.
pub const APP_TOKEN: TimeDelta = TimeDelta::days(400);
/// Failed sign-ins of one name within [`TRY_WINDOW`] before it has to wait.
const TRIES: usize = 10;
const TRY_WINDOW: TimeDelta = TimeDelta::minutes(1);

impl Service {
    /// The caller behind an access token.
    ///
    /// # Errors
    /// [`Error::Unauthenticated`] when the token is not a valid one; the log has the reason.
    pub fn authenticate(&self, token: &str, now: DateTime<Utc>) -> Result<Principal> {
        let claims = self.tokens.check(token, now).map_err(|reason| {
            tracing::info!(%reason, "token refused");
            Error::Unauthenticated
        })?;
        Ok(Principal {
            organization: claims.organization,
            kind: SubjectKind::from_code(&claims.subject_kind).ok_or(Error::Unauthenticated)?,
            id: claims.sub,
            // A scope that this version does not know grants nothing.
            scopes: claims.scope.split(' ').filter_map(Scope::from_code).collect(),
            crew: claims.crew,
        })
    }

    /// When a token ends that was accepted.
    ///
    /// # Errors
    /// [`Error::Unauthenticated`] when it has ended.
    pub fn token_ends(&self, token: &str, now: DateTime<Utc>) -> Result<DateTime<Utc>> {
        let claims = self.tokens.check(token, now).map_err(|_| Error::Unauthenticated)?;
        DateTime::from_timestamp(claims.exp, 0).ok_or(Error::Unauthenticated)
    }

    fn issue(&self, caller: &Principal, now: DateTime<Utc>, lifetime: TimeDelta) -> String {
        let scope = caller.scopes.iter().map(|scope| scope.code()).collect::<Vec<_>>().join(" ");
        let grant = Grant {
            subject: caller.id,
            subject_kind: caller.kind.code(),
            organization: caller.organization,
            scope,
            crew: caller.crew,
        };
        self.tokens.issue(&grant, now, lifetime)
    }
}

/// The person behind a sign-in name and password, and the organization.
///
/// # Errors
/// [`Error::SignInRefused`] when they do not belong together, taking as long for an unknown name as for a wrong
/// password; [`Error::TooManyTries`] after ten failures within a minute; [`Error::Storage`].
pub async fn sign_in(
    service: &Service,
    name: &str,
    password: &str,
    now: DateTime<Utc>,
) -> Result<(Uuid, Person)> {
    let key = service.secrets.directory_key(name);
    // Counted before it is known to be one, so that many at once are not all let in.
    if !count_failure(key, now) {
        return Err(Error::TooManyTries);
    }
    let mut client = service.store.client().await?;
    let known = match storage::access::find_sign_in(&client, key).await? {
        Some((organization, id)) => {
            let tenant = client.tenant(organization).await?;
            storage::access::person(&tenant, id).await?.map(|(person, hash)| (organization, person, hash))
        }
        None => None,
    };
    drop(client);
    let hash = known.as_ref().map(|(_, _, hash)| hash.clone());
    let password = password.to_owned();
    // Argon2id takes tens of milliseconds on purpose: not on a thread that serves others.
    let matches = tokio::task::spawn_blocking(move || verify_password(&password, hash.as_deref()))
        .await
        .map_err(|error| Error::Internal(error.to_string()))?;
    match known {
        Some((organization, person, _)) if matches => {
            forget_failure(key, now);
            Ok((organization, person))
        }
        _ => Err(Error::SignInRefused),
    }
}

/// Times of failed sign-ins by directory key.
type Failures = HashMap<[u8; 32], Vec<DateTime<Utc>>>;

/// Failed sign-ins by name, within the window. In memory: each instance of the service counts for itself.
static FAILURES: LazyLock<Mutex<Failures>> = LazyLock::new(Mutex::default);

/// Counts a failed sign-in of a name; `false` when there have been too many within the window.
fn count_failure(key: [u8; 32], now: DateTime<Utc>) -> bool {
    let mut all = FAILURES.lock().unwrap_or_else(|poisoned| poisoned.into_inner());
    if all.len() > 10_000 {
        all.retain(|_, times| times.iter().any(|time| *time > now - TRY_WINDOW));
    }
    let times = all.entry(key).or_default();
    times.retain(|time| *time > now - TRY_WINDOW);
    let admitted = times.len() < TRIES;
    if admitted {
        times.push(now);
    }
    admitted
}

/// Takes back a failure that turned out to be none.
fn forget_failure(key: [u8; 32], now: DateTime<Utc>) {
    let mut all = FAILURES.lock().unwrap_or_else(|poisoned| poisoned.into_inner());
    if let Some(times) = all.get_mut(&key)
        && let Some(place) = times.iter().position(|time| *time == now)
    {
        times.swap_remove(place);
    }
}

/// An access token for a person who signs in.
///
/// # Errors
/// As [`sign_in`].
pub async fn person_token(
    service: &Service,
    name: &str,
    password: &str,
    now: DateTime<Utc>,
) -> Result<String> {
    let (organization, person) = sign_in(service, name, password, now).await?;
    Ok(service.issue(&person.principal(organization), now, PERSON_TOKEN))
}

/// Opens a console session and answers the cookie's value: `organization.secret`.
///
/// # Errors
/// As [`sign_in`].
pub async fn open_session(
    service: &Service,
    name: &str,
    password: &str,
    now: DateTime<Utc>,
) -> Result<String> {
    let (organization, person) = sign_in(service, name, password, now).await?;
    let secret = random_secret();
    let mut client = service.store.client().await?;
    let tenant = client.tenant(organization).await?;
    storage::access::insert_session(&tenant, digest(secret.as_bytes()), person.id, now, now + SESSION)
        .await?;
    tenant.commit().await?;
    Ok(format!("{}.{secret}", organization.simple()))
}

/// The organization and person of a session cookie; `None` when it is not a valid one.
///
/// # Errors
/// [`Error::Storage`].
pub async fn session(service: &Service, cookie: &str, now: DateTime<Utc>) -> Result<Option<(Uuid, Person)>> {
    let Some((organization, digest)) = parse_cookie(cookie) else { return Ok(None) };
    let mut client = service.store.client().await?;
    let tenant = client.tenant(organization).await?;
    Ok(storage::access::session(&tenant, digest, now).await?.map(|person| (organization, person)))
}

/// Ends the session of a cookie, if it is one.
///
/// # Errors
/// [`Error::Storage`].
pub async fn close_session(service: &Service, cookie: &str) -> Result<()> {
    let Some((organization, digest)) = parse_cookie(cookie) else { return Ok(()) };
    let mut client = service.store.client().await?;
    let tenant = client.tenant(organization).await?;
    storage::access::delete_session(&tenant, digest).await?;
    Ok(tenant.commit().await?)
}

fn parse_cookie(cookie: &str) -> Option<(Uuid, [u8; 32])> {
    let (organization, secret) = cookie.split_once('.')?;
    Some((Uuid::try_parse(organization).ok()?, digest(secret.as_bytes())))
}

/// Adds a person. Where the same keyed request came before, stores nothing and answers whom it made then.
///
/// # Errors
/// [`Error::KeyReused`]; [`Error::MissingScope`] and [`Error::OtherCrew`] when the person could do more than the caller; [`Error::Taken`] when
/// the sign-in name is in use; [`Error::Invalid`] when a lead has no crew or the crew is not known; [`Error::Storage`].
pub async fn add_person(
    service: &Service,
    caller: &Principal,
    person: Person,
    password: String,
    request: Option<&KeyedRequest>,
    now: DateTime<Utc>,
) -> Result<Person> {
    may_give(caller, &person.role.scopes(), person.crew_id)?;
    let hash = tokio::task::spawn_blocking(move || hash_password(&password))
        .await
        .map_err(|error| Error::Internal(error.to_string()))?;
    let mut client = service.store.client().await?;
    let tenant = open(&mut client, caller).await?;
    if let Some(Made { id, .. }) = keyed::claim(&tenant, caller, request, person.id, now).await? {
        return Ok(Person { id, ..person });
    }
    if person.role == Role::Lead && person.crew_id.is_none() {
        return Err(Error::invalid("/crew_id", "required", "A lead leads one crew: name it."));
    }
    check_crew(&tenant, person.crew_id, now).await?;
    let key = service.secrets.directory_key(&person.sign_in);
    if !storage::access::insert_person(&tenant, &person, &hash, key, now).await? {
        return Err(Error::Taken("sign-in name"));
    }
    tenant.commit().await?;
    Ok(person)
}

/// Everybody in the caller's organization.
///
/// # Errors
/// [`Error::Storage`].
pub async fn people(service: &Service, caller: &Principal) -> Result<Vec<Person>> {
    let mut client = service.store.client().await?;
    let tenant = open_to_read(&mut client, caller).await?;
    Ok(storage::access::people(&tenant).await?)
}

/// Adds an app and answers its access token, which is kept nowhere. Where the same keyed request came before, stores nothing
/// and answers the app it made then, with another token that ends when the first one does.
///
/// # Errors
/// [`Error::KeyReused`]; [`Error::MissingScope`] and [`Error::OtherCrew`] when the app could do more than the caller; [`Error::Invalid`] when
/// the crew is not known; [`Error::Storage`].
pub async fn add_app(
    service: &Service,
    caller: &Principal,
    name: String,
    scopes: Vec<Scope>,
    crew_id: Option<Uuid>,
    request: Option<&KeyedRequest>,
    now: DateTime<Utc>,
) -> Result<(App, String)> {
    may_give(caller, &scopes, crew_id)?;
    let mut client = service.store.client().await?;
    let tenant = open(&mut client, caller).await?;
    let ours = Made { id: Uuid::now_v7(), at: now };
    let before = keyed::claim(&tenant, caller, request, ours.id, now).await?;
    let made = before.unwrap_or(ours);
    let app = App { id: made.id, name, scopes, crew_id, expires_at: made.at + APP_TOKEN, revoked_at: None };
    if before.is_none() {
        check_crew(&tenant, crew_id, now).await?;
        storage::access::insert_app(&tenant, &app, now).await?;
        tenant.commit().await?;
    }
    let principal = Principal {
        organization: caller.organization,
        kind: SubjectKind::App,
        id: app.id,
        scopes: app.scopes.clone(),
        crew: app.crew_id,
    };
    let token = service.issue(&principal, made.at, APP_TOKEN);
    Ok((app, token))
}

/// Every app of the caller's organization, revoked ones too.
///
/// # Errors
/// [`Error::Storage`].
pub async fn apps(service: &Service, caller: &Principal) -> Result<Vec<App>> {
    let mut client = service.store.client().await?;
    let tenant = open_to_read(&mut client, caller).await?;
    Ok(storage::access::apps(&tenant).await?)
}

/// Revokes an app: its token is refused from the next request on.
///
/// # Errors
/// [`Error::NotFound`]; [`Error::Storage`].
pub async fn revoke_app(service: &Service, caller: &Principal, id: Uuid, now: DateTime<Utc>) -> Result<()> {
    let mut client = service.store.client().await?;
    let tenant = open(&mut client, caller).await?;
    if !storage::access::revoke_app(&tenant, id, now).await? {
        return Err(Error::NotFound("app"));
    }
    Ok(tenant.commit().await?)
}

/// Refuses to give away more than the caller has: a scope, or other crews than its own.
fn may_give(caller: &Principal, scopes: &[Scope], crew: Option<Uuid>) -> Result<()> {
    match scopes.iter().find(|scope| !caller.scopes.contains(scope)) {
        Some(scope) => Err(Error::MissingScope(scope.code())),
        None if caller.acts_for(crew) => Ok(()),
        None => Err(Error::OtherCrew),
    }
}

async fn check_crew(tenant: &storage::Tenant<'_>, crew: Option<Uuid>, now: DateTime<Utc>) -> Result<()> {
    let Some(crew) = crew else { return Ok(()) };
    match storage::configuration::in_force::<crate::model::Crew>(tenant, crew, now).await? {
        Some(_) => Ok(()),
        None => Err(Error::invalid("/crew_id", "unknown_id", format!("No crew has the id {crew}."))),
    }
}
