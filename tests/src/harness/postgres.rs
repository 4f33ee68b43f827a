//! The PostgreSQL server that all tests of a process share, each with a database of its own.

use std::env;
use std::io::Write;
use std::path::Path;
use std::thread;

use anyhow::{Context, Result, anyhow, bail};
use lapwatch_api::embedded::{Embedded, OWNER, Secrets, ensure_logins};
use tokio::sync::{OnceCell, oneshot};
use tokio_postgres::{Client, Config, NoTls};

use super::at_exit::AtExit;
use super::{TestFolder, docker};

/// Chooses the server: `auto`, `docker` or `local`.
const CHOICE: &str = "LAPWATCH_TEST_DB";

/// The migrated database that those of the tests are copied from.
pub(super) const TEMPLATE: &str = "lapwatch_template";

/// What makes data survive a crash of the machine; no test needs that of its server.
const DURABILITY: [&str; 3] = ["fsync", "synchronous_commit", "full_page_writes"];

/// A running server with the logins of the service and the template.
#[derive(Debug)]
pub(super) struct Postgres {
    /// How the superuser logs in, to the database `postgres`.
    pub(super) superuser: Config,
    /// The logins' passwords.
    pub(super) secrets: Secrets,
}

/// The server of this process, started by the first test that asks.
pub(super) async fn shared() -> Result<&'static Postgres> {
    static SERVER: OnceCell<std::result::Result<Postgres, String>> = OnceCell::const_new();
    // A failure is remembered too: there is no use in every test trying again.
    let started = SERVER.get_or_init(|| async { start().await.map_err(|error| format!("{error:#}")) }).await;
    started.as_ref().map_err(|error| anyhow!("the tests' PostgreSQL did not start: {error}"))
}

/// Starts the server from a thread that never ends, because each test's runtime ends with the test.
async fn start() -> Result<Postgres> {
    let (started, start) = oneshot::channel();
    thread::Builder::new().name("test-postgres".to_owned()).spawn(move || {
        let runtime = match tokio::runtime::Builder::new_current_thread().enable_all().build() {
            Ok(runtime) => runtime,
            Err(error) => return drop(started.send(Err(error.into()))),
        };
        runtime.block_on(async {
            let (postgres, _kept) = match start_chosen().await {
                Ok(both) => both,
                Err(error) => return drop(started.send(Err(error))),
            };
            drop(started.send(Ok(postgres)));
            std::future::pending().await
        });
    })?;
    start.await?
}

/// What has to live as long as the server.
type Kept = Box<dyn std::any::Any>;

async fn start_chosen() -> Result<(Postgres, Kept)> {
    let choice = env::var(CHOICE).unwrap_or_else(|_| "auto".to_owned());
    let image = docker::Image::from_environment();
    let (docker, why) = match choice.as_str() {
        "docker" => (true, format!("{CHOICE} asks for it")),
        "local" => (false, format!("{CHOICE} asks for it")),
        "auto" => match image.is_at_hand().await {
            Ok(why) => (true, why),
            Err(why_not) => (false, why_not),
        },
        other => bail!("{CHOICE} is \"{other}\"; it may be auto, docker or local"),
    };
    let name = if docker { format!("Docker image {image}") } else { "a private local server".to_owned() };
    // Not `eprintln!`, which the test runner keeps from view.
    writeln!(std::io::stderr(), "Tests use PostgreSQL from {name}: {why}.")?;
    let (postgres, kept) = if docker { start_docker(&image).await? } else { start_local().await? };
    prepare(&postgres).await.context("preparing the template database")?;
    Ok((postgres, kept))
}

async fn start_docker(image: &docker::Image) -> Result<(Postgres, Kept)> {
    let secrets = Secrets::random();
    let (superuser, container) = image.start(secrets.superuser()).await?;
    ensure_logins(&superuser, &secrets).await?;
    Ok((Postgres { superuser, secrets }, Box::new(container)))
}

/// When this process ends the kernel tells the server, which ends too; then its files go.
async fn start_local() -> Result<(Postgres, Kept)> {
    let folder = TestFolder::make()?;
    let data = folder.join("data");
    let embedded = Embedded::start(&data).await?;
    let socket = std::fs::read_to_string(data.join("socket"))?;
    let tidy = "while kill -0 \"$1\"; do sleep 0.1; done; rm -rf \"$2\" \"$3\"";
    let server = embedded.process_id().to_string();
    let at_exit = AtExit::run(tidy, &[&server, utf8(folder.path())?, &socket])?;
    let postgres = Postgres { superuser: embedded.superuser_config(), secrets: embedded.secrets().clone() };
    Ok((postgres, Box::new((embedded, folder, at_exit))))
}

fn utf8(path: &Path) -> Result<&str> {
    path.to_str().context("the temporary folder's path is not UTF-8")
}

/// Makes the template as the quick start makes its database: by the owner, through the migrations.
async fn prepare(postgres: &Postgres) -> Result<()> {
    let superuser = log_in(&postgres.superuser).await?;
    for setting in DURABILITY {
        // One statement a call: it must not run inside a transaction.
        superuser.batch_execute(&format!("ALTER SYSTEM SET {setting} = off")).await?;
    }
    superuser.batch_execute("SELECT pg_reload_conf()").await?;
    superuser.batch_execute(&format!("CREATE DATABASE {TEMPLATE} OWNER {OWNER}")).await?;
    lapwatch_api::storage::migrate::run(&postgres.config(OWNER, postgres.secrets.owner(), TEMPLATE)).await?;
    Ok(())
}

impl Postgres {
    /// How a login reaches a database of this server.
    pub(super) fn config(&self, user: &str, password: &str, database: &str) -> Config {
        let mut config = self.superuser.clone();
        config.user(user).password(password).dbname(database);
        config
    }
}

/// A connection that ends with the client.
pub(super) async fn log_in(config: &Config) -> Result<Client> {
    let (client, connection) = config.connect(NoTls).await?;
    tokio::spawn(connection);
    Ok(client)
}
