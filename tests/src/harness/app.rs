//! The whole service in this process, with a database, a clock and an organization of its own.

use std::sync::OnceLock;
use std::time::Duration;

use anyhow::{Context, Result};
use chrono::{DateTime, TimeDelta, TimeZone, Utc};
use lapwatch_api::auth::{Grant, hash_password};
use lapwatch_api::clock::Clock;
use lapwatch_api::config::{PhotoPlace, Settings};
use lapwatch_api::embedded::OWNER;
use lapwatch_api::jobs;
use lapwatch_api::model::{Person, Scope};
use lapwatch_api::server::{self, Running};
use lapwatch_api::service::organizations;
use lapwatch_api::telemetry;
use serde_json::{Value, json};
use tokio::runtime::{Builder, Runtime};
use tokio_postgres::Client;
use tokio_postgres::config::Host;
use uuid::Uuid;

use super::postgres::log_in;
use super::{Caller, TestDatabase, TestFolder};

/// Password of every organization's first director.
pub const PASSWORD: &str = "salt marsh at low tide";

/// What `/metrics` asks for.
pub const OPERATOR_TOKEN: &str = "an operator's token";

/// A running service. It ends with this value.
#[derive(Debug)]
pub struct App {
    /// Where the service reads the present time. It stands still until a test moves it.
    pub clock: Clock,
    /// The database behind it.
    pub database: TestDatabase,
    /// An organization with its director.
    pub organization: Organization,
    secrets: TestFolder,
    base: String,
    http: reqwest::Client,
    running: Option<Running>,
}

/// An organization and its first director.
#[derive(Debug, Clone)]
pub struct Organization {
    /// Its id.
    pub id: Uuid,
    /// Its director.
    pub director: Person,
    /// An access token of the director, good for an hour of the clock.
    pub token: String,
}

/// The runtime that services live on. It outlasts every test, so that a service can end in good order after the test.
pub(super) fn runtime() -> &'static Runtime {
    static RUNTIME: OnceLock<Runtime> = OnceLock::new();
    RUNTIME.get_or_init(|| {
        // What a service could not do is told beside the test that met it.
        telemetry::init_logs(true, "error");
        Builder::new_multi_thread().worker_threads(1).enable_all().build().expect("a runtime can be made")
    })
}

/// Noon in UTC of an ordinary working day: Wednesday, 10 June 2026.
#[must_use]
pub fn an_ordinary_noon() -> DateTime<Utc> {
    Utc.with_ymd_and_hms(2026, 6, 10, 12, 0, 0).single().expect("that day has a noon")
}

impl App {
    /// Starts the service at [`an_ordinary_noon`].
    ///
    /// # Panics
    ///
    /// When it does not start: then there is nothing to test.
    pub async fn start() -> Self {
        Self::start_at(an_ordinary_noon()).await
    }

    /// Starts the service with its clock standing at `now`.
    ///
    /// # Panics
    ///
    /// As [`App::start`].
    pub async fn start_at(now: DateTime<Utc>) -> Self {
        Self::try_start(now, 4).await.expect("the service starts")
    }

    /// Starts the service with so many workers' worth of database connections, for tests that bring a crowd.
    ///
    /// # Panics
    ///
    /// As [`App::start`].
    pub async fn start_for_a_crowd() -> Self {
        Self::try_start(an_ordinary_noon(), 16).await.expect("the service starts")
    }

    /// Starts the service with other settings than those of the other tests.
    ///
    /// # Panics
    ///
    /// As [`App::start`].
    pub async fn start_with(change: impl FnOnce(&mut Settings)) -> Self {
        Self::try_start_with(an_ordinary_noon(), 4, change).await.expect("the service starts")
    }

    async fn try_start(now: DateTime<Utc>, connections: usize) -> Result<Self> {
        Self::try_start_with(now, connections, |_| ()).await
    }

    async fn try_start_with(
        now: DateTime<Utc>,
        connections: usize,
        change: impl FnOnce(&mut Settings),
    ) -> Result<Self> {
        let database = TestDatabase::make().await?;
        let secrets = TestFolder::make()?;
        let clock = Clock::manual(now);
        let mut settings = settings(&database, &secrets, connections);
        change(&mut settings);
        let clock_of_server = clock.clone();
        let running = runtime()
            .spawn(async move { server::start(&settings, clock_of_server).await })
            .await?
            .context("starting the service")?;
        let organization = found(&running, "Saltmarsh Roofing Cooperative", now).await?;
        Ok(Self {
            base: format!("http://{}", running.address),
            http: client()?,
            clock,
            database,
            organization,
            secrets,
            running: Some(running),
        })
    }

    /// The address that paths are appended to, without a slash at its end.
    #[must_use]
    pub fn base(&self) -> &str {
        &self.base
    }

    /// Present time.
    #[must_use]
    pub fn now(&self) -> DateTime<Utc> {
        self.clock.now()
    }

    /// Moves the clock on.
    pub fn pass(&self, step: TimeDelta) {
        self.clock.advance(step);
    }

    /// Moves the clock to `instant`.
    pub fn pass_until(&self, instant: DateTime<Utc>) {
        self.clock.advance(instant - self.now());
    }

    /// The service behind the address, for what has no address.
    #[must_use]
    pub fn running(&self) -> &Running {
        self.running.as_ref().expect("it runs until it is dropped")
    }

    /// The folder of the service's secrets.
    #[must_use]
    pub fn secrets(&self) -> &TestFolder {
        &self.secrets
    }

    /// Somebody without a token.
    #[must_use]
    pub fn anybody(&self) -> Caller<'_> {
        Caller::new(&self.http, &self.base, None)
    }

    /// Somebody with this token.
    #[must_use]
    pub fn bearer(&self, token: &str) -> Caller<'_> {
        Caller::new(&self.http, &self.base, Some(token.to_owned()))
    }

    /// The director of the first organization, who may do everything. The token is fresh, however far the clock went.
    #[must_use]
    pub fn director(&self) -> Caller<'_> {
        self.bearer(&issue(self.running(), &self.organization, self.now()))
    }

    /// The director of another organization.
    #[must_use]
    pub fn director_of(&self, organization: &Organization) -> Caller<'_> {
        self.bearer(&issue(self.running(), organization, self.now()))
    }

    /// A third-party app of the first organization with these scopes.
    pub async fn app(&self, scopes: &[&str]) -> Caller<'_> {
        self.add_app(&json!({ "name": "Site diary", "scopes": scopes })).await.0
    }

    /// A third-party app that acts for one crew.
    pub async fn app_of_crew(&self, scopes: &[&str], crew: Uuid) -> Caller<'_> {
        self.add_app(&json!({ "name": "Roof card", "scopes": scopes, "crew_id": crew })).await.0
    }

    /// Adds an app as the director; answers it and its id.
    pub async fn add_app(&self, body: &Value) -> (Caller<'_>, Uuid) {
        let added = self.director().post("/v1/apps", body).await.expect(201);
        let token = added["access_token"].as_str().expect("the token is shown once");
        let id = added["app"]["id"].as_str().and_then(|id| id.parse().ok()).expect("the app has an id");
        (self.bearer(token), id)
    }

    /// Founds one more organization on the same service.
    ///
    /// # Panics
    ///
    /// When it cannot be founded.
    pub async fn found(&self, name: &'static str) -> Organization {
        found(self.running(), name, self.now()).await.expect("the organization is founded")
    }

    /// A connection as superuser, who sees past row security: for looking at what was stored, or spoiling it.
    ///
    /// # Panics
    ///
    /// When the database does not answer.
    pub async fn superuser(&self) -> Client {
        log_in(&self.database.superuser_config()).await.expect("the superuser logs in")
    }

    /// Cuts the service off from its database, or lets it in again.
    ///
    /// # Panics
    ///
    /// When the server refuses.
    pub async fn let_the_database_answer(&self, answer: bool) {
        let mut config = self.database.superuser_config();
        config.dbname("postgres");
        let superuser = log_in(&config).await.expect("the superuser logs in");
        let name = self.database.name();
        let allow = format!("ALTER DATABASE {name} ALLOW_CONNECTIONS {answer}");
        superuser.batch_execute(&allow).await.expect("the database is opened or closed");
        if !answer {
            let end =
                format!("SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE datname = '{name}'");
            superuser.batch_execute(&end).await.expect("connections are ended");
        }
    }

    /// Copies the database as it is; answers the name of the copy.
    ///
    /// # Panics
    ///
    /// When the server refuses.
    pub async fn back_up(&self) -> String {
        self.let_the_database_answer(false).await;
        let (name, copy) = (self.database.name(), format!("{}_copy", self.database.name()));
        let sql = format!("CREATE DATABASE {copy} OWNER {OWNER} TEMPLATE {name} STRATEGY WAL_LOG");
        self.on_the_server(&sql).await;
        self.let_the_database_answer(true).await;
        copy
    }

    /// Puts the copy in the place of the database, which is lost.
    ///
    /// # Panics
    ///
    /// When the server refuses.
    pub async fn restore(&self, copy: &str) {
        let name = self.database.name();
        self.on_the_server(&format!("DROP DATABASE {name} WITH (FORCE)")).await;
        self.on_the_server(&format!("ALTER DATABASE {copy} RENAME TO {name}")).await;
    }

    async fn on_the_server(&self, sql: &str) {
        let mut config = self.database.superuser_config();
        config.dbname("postgres");
        let superuser = log_in(&config).await.expect("the superuser logs in");
        superuser.batch_execute(sql).await.unwrap_or_else(|error| panic!("{sql}: {error:?}"));
    }

    /// How the service logs in to its database, as `DATABASE_URL` says it.
    ///
    /// # Panics
    ///
    /// When the login is not written in UTF-8.
    #[must_use]
    pub fn database_url(&self) -> String {
        let login = self.database.service_config();
        let host = match &login.get_hosts()[0] {
            Host::Tcp(name) => name.clone(),
            Host::Unix(folder) => folder.to_str().expect("a path in UTF-8").to_owned(),
        };
        let port = login.get_ports().first().copied().unwrap_or(5432);
        let password = String::from_utf8(login.get_password().unwrap_or_default().to_vec());
        format!(
            "host='{host}' port={port} user='{}' password='{}' dbname='{}'",
            login.get_user().unwrap_or_default(),
            password.expect("a password in UTF-8"),
            login.get_dbname().unwrap_or_default(),
        )
    }

    /// Does what the service does by itself every minute.
    ///
    /// # Panics
    ///
    /// When it fails.
    pub async fn run_jobs(&self) {
        let (service, now) = (self.running().service.clone(), self.now());
        let failed = runtime().spawn(async move { jobs::once(&service, now).await }).await;
        assert_eq!(failed.expect("the jobs do not panic"), 0, "jobs failed; the log says why");
    }
}

impl Drop for App {
    fn drop(&mut self) {
        if let Some(running) = self.running.take() {
            // Nobody waits for it: the database goes at once, whoever is still connected.
            runtime().spawn(running.stop());
        }
    }
}

/// Settings of a service on a free port, without jobs.
#[must_use]
pub fn settings(database: &TestDatabase, secrets: &TestFolder, connections: usize) -> Settings {
    let mut settings = Settings::new(
        database.service_config(),
        secrets.join("secrets"),
        PhotoPlace::Folder(secrets.join("photos")),
    );
    settings.bind.set_port(0);
    settings.connections = connections;
    settings.operator_token = Some(OPERATOR_TOKEN.to_owned());
    settings.workers = Some(1);
    settings.jobs = false;
    // Impatient, so that no test waits.
    settings.feed.period = Duration::from_millis(50);
    settings.feed.heartbeat = Duration::from_millis(100);
    settings
}

fn client() -> reqwest::Result<reqwest::Client> {
    reqwest::Client::builder()
        .no_proxy()
        .redirect(reqwest::redirect::Policy::none())
        // Less than the service keeps an idle connection, so that none is used while the service closes it.
        .pool_idle_timeout(Duration::from_secs(1))
        .build()
}

async fn found(running: &Running, name: &'static str, now: DateTime<Utc>) -> Result<Organization> {
    // Hashing a password is slow on purpose; once is enough.
    static HASH: OnceLock<String> = OnceLock::new();
    let hash = HASH.get_or_init(|| hash_password(PASSWORD));
    let service = running.service.clone();
    let founded = runtime()
        .spawn(async move {
            let sign_in = format!("director-{}@saltmarsh.example", Uuid::new_v4().simple());
            organizations::found(&service, name, &sign_in, hash, now).await
        })
        .await??;
    let mut organization =
        Organization { id: founded.organization, director: founded.director, token: String::new() };
    organization.token = issue(running, &organization, now);
    Ok(organization)
}

/// A token like the one that signing in gives, without the cost of checking a password.
fn issue(running: &Running, organization: &Organization, now: DateTime<Utc>) -> String {
    let scope = Scope::ALL.iter().map(|scope| scope.code()).collect::<Vec<_>>().join(" ");
    let grant = Grant {
        subject: organization.director.id,
        subject_kind: "person",
        organization: organization.id,
        scope,
        crew: None,
    };
    running.service.tokens.issue(&grant, now, TimeDelta::hours(1))
}
