//! The service under fire: a process of its own on a PostgreSQL of its own, that can be killed and started again.

use std::fs::{self, File};
use std::net::{SocketAddr, TcpListener};
use std::path::PathBuf;
use std::process::Stdio;
use std::time::{Duration, Instant};

use anyhow::{Context, Result, ensure};
use chrono::{DateTime, TimeDelta, Utc};
use lapwatch_api::auth::{Grant, hash_password};
use lapwatch_api::clock::Clock;
use lapwatch_api::config::{PhotoPlace, Settings};
use lapwatch_api::embedded::{DATABASE, Embedded, SERVICE};
use lapwatch_api::model::Scope;
use lapwatch_api::server::{self, Running};
use lapwatch_api::service::custody;
use lapwatch_api::service::organizations::{self, Founded};
use lapwatch_api::{jobs, storage};
use lapwatch_tests::harness::{PASSWORD, TestFolder};
use serde_json::Value;
use tokio::io::{AsyncBufReadExt, BufReader};
use tokio::process::{Child, Command};
use uuid::Uuid;

const PROGRAM: &str = env!("CARGO_BIN_EXE_serve-until-killed");

/// Whom tokens are issued by, whichever process serves.
const ISSUER: &str = "http://lapwatch.example";

/// Longer than any start takes on a busy machine.
const PATIENCE: Duration = Duration::from_secs(60);

/// Where the service lives.
pub(super) struct Ground {
    folder: TestFolder,
    /// Where it listens whenever it runs.
    pub(super) address: SocketAddr,
}

/// The service in this process, with a clock that stands: to found and to look.
pub(super) struct Quiet {
    database: Embedded,
    pub(super) running: Running,
    now: DateTime<Utc>,
}

/// The service in a process of its own.
pub(super) struct Process {
    child: Child,
    database: u32,
}

impl Ground {
    pub(super) fn prepare() -> Result<Self> {
        // Below the ports that systems give out by themselves, so that nobody takes it while the service is down.
        let mut ports = (20_000..30_000).cycle().skip(std::process::id() as usize % 10_000).step_by(7);
        let free = ports.find_map(|port| TcpListener::bind(("127.0.0.1", port)).ok());
        let address = free.context("a free port")?.local_addr()?;
        Ok(Self { folder: TestFolder::make()?, address })
    }

    fn data(&self) -> PathBuf {
        self.folder.join("data")
    }

    fn log(&self) -> PathBuf {
        self.folder.join("service.log")
    }

    /// A file for a device.
    pub(super) fn file(&self, name: &str) -> PathBuf {
        self.folder.join(name)
    }

    /// Opens it in this process, at an instant.
    pub(super) async fn open(&self, now: DateTime<Utc>) -> Result<Quiet> {
        let database = Embedded::start(&self.data()).await?;
        storage::migrate::run(&database.owner_config()).await?;
        let photos = PhotoPlace::Folder(self.data().join("photos"));
        let mut settings = Settings::new(database.service_config(), self.data().join("keys"), photos);
        settings.bind = self.address;
        settings.public_url = Some(ISSUER.to_owned());
        settings.jobs = false;
        let running = server::start(&settings, Clock::manual(now)).await?;
        Ok(Quiet { database, running, now })
    }

    /// Starts it in a process of its own; its log is added to the one before.
    pub(super) async fn start(&self) -> Result<Process> {
        let log = File::options().create(true).append(true).open(self.log())?;
        let mut child = Command::new(PROGRAM)
            .arg(self.data())
            .args([self.address.port().to_string().as_str(), ISSUER])
            .stdin(Stdio::null())
            .stdout(Stdio::piped())
            .stderr(log)
            .kill_on_drop(true)
            .spawn()?;
        let mut line = String::new();
        BufReader::new(child.stdout.take().context("standard output")?).read_line(&mut line).await?;
        let ready: Value = serde_json::from_str(&line)
            .with_context(|| format!("it did not start:\n{}", self.last_words()))?;
        let database = u32::try_from(ready["database"].as_u64().context("the database's process")?)?;
        Ok(Process { child, database })
    }

    /// Requests that the service answered with this status, as its log tells.
    pub(super) fn answered(&self, status: u16) -> Result<Vec<String>> {
        let log = fs::read_to_string(self.log())?;
        let of_status = format!("\"status\":{status}");
        Ok(log.lines().filter(|line| line.contains(&of_status)).map(str::to_owned).collect())
    }

    fn last_words(&self) -> String {
        let log = fs::read_to_string(self.log()).unwrap_or_default();
        let lines: Vec<&str> = log.lines().collect();
        lines[lines.len().saturating_sub(8)..].join("\n")
    }

    /// Waits until the service and its database answer.
    pub(super) async fn wait_until_ready(&self) -> Result<()> {
        let http = reqwest::Client::builder().no_proxy().timeout(Duration::from_secs(5)).build()?;
        let deadline = Instant::now() + PATIENCE;
        loop {
            let answer = http.get(format!("http://{}/readyz", self.address)).send().await;
            if answer.is_ok_and(|answer| answer.status().is_success()) {
                return Ok(());
            }
            ensure!(Instant::now() < deadline, "it does not get ready again:\n{}", self.last_words());
            tokio::time::sleep(Duration::from_millis(20)).await;
        }
    }
}

impl Quiet {
    pub(super) async fn found(&self) -> Result<Founded> {
        let hash = hash_password(PASSWORD);
        let founded =
            organizations::found(&self.running.service, "Saltmarsh", "a@saltmarsh.example", &hash, self.now);
        Ok(founded.await?)
    }

    /// A token of the director.
    pub(super) fn token(&self, founded: &Founded) -> String {
        let grant = Grant {
            subject: founded.director.id,
            subject_kind: "person",
            organization: founded.organization,
            scope: Scope::ALL.iter().map(|scope| scope.code()).collect::<Vec<_>>().join(" "),
            crew: None,
        };
        self.running.service.tokens.issue(&grant, self.now, TimeDelta::hours(1))
    }

    /// Takes in what waited for something that has come by now, until nothing more moves.
    pub(super) async fn release(&self, organization: Uuid) -> Result<()> {
        while custody::release_resolvable(&self.running.service, organization, self.now).await?.is_some() {}
        Ok(())
    }

    /// Does once what the service does every minute.
    pub(super) async fn run_jobs(&self) {
        assert_eq!(jobs::once(&self.running.service, self.now).await, 0, "jobs failed");
    }

    /// Somebody who sees everything that was stored.
    pub(super) async fn superuser(&self) -> Result<tokio_postgres::Client> {
        let mut config = self.database.superuser_config();
        config.dbname(DATABASE);
        let (client, connection) = config.connect(tokio_postgres::NoTls).await?;
        tokio::spawn(connection);
        Ok(client)
    }

    pub(super) async fn close(self) -> Result<()> {
        self.running.stop().await;
        Ok(self.database.stop().await?)
    }
}

impl Process {
    /// `kill -9`: it gets no chance to finish anything. Its PostgreSQL is told by the kernel, and ends too.
    pub(super) async fn kill(mut self) -> Result<()> {
        Ok(self.child.kill().await?)
    }

    /// `kill -9` of one of PostgreSQL's sessions: the server ends all others at once and recovers from its log.
    pub(super) async fn crash_database(&self) -> Result<()> {
        let session = sessions_of(self.database)?.pop().context("no session to kill")?;
        let killed = Command::new("kill").args(["-9", &session.to_string()]).status().await?;
        ensure!(killed.success(), "kill -9 {session}: {killed}");
        Ok(())
    }
}

/// The sessions of the service among the children of a PostgreSQL server.
fn sessions_of(server: u32) -> Result<Vec<u32>> {
    let is_session = |process: &u32| {
        let read = |file: &str| fs::read_to_string(format!("/proc/{process}/{file}")).unwrap_or_default();
        let parent = read("status").lines().find_map(|line| line.strip_prefix("PPid:\t")?.parse().ok());
        parent == Some(server) && read("cmdline").contains(SERVICE)
    };
    let processes = fs::read_dir("/proc")?.flatten();
    let numbered = processes.filter_map(|entry| entry.file_name().to_str()?.parse().ok());
    Ok(numbered.filter(is_session).collect())
}
