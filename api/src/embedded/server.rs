//! The server process: started, watched, ended.

use std::fs::{self, File};
use std::io;
use std::os::unix::process::ExitStatusExt;
use std::path::{Path, PathBuf};
use std::process::{Command, ExitStatus, Stdio};
use std::time::Duration;

use rustix::process::{Pid, Signal, kill_process};
use tokio::sync::{oneshot, watch};
use tokio::time::{Instant, sleep, timeout};
use tokio_postgres::{Config, NoTls};

use super::account::Account;
use super::installation::Installation;
use super::{EmbeddedError, cluster};

const LOG: &str = "postgres.log";

/// After a crash the server first repeats what was written since its last checkpoint.
const START_PATIENCE: Duration = Duration::from_secs(120);
/// For either way of stopping.
const STOP_PATIENCE: Duration = Duration::from_secs(15);

/// For a laptop that does other things as well, or a small server. Everything else is PostgreSQL's own default: above all
/// `fsync`, `full_page_writes` and `synchronous_commit`, which are on.
const SETTINGS: [&str; 11] = [
    "listen_addresses=",
    "max_connections=200",
    "shared_buffers=256MB",
    "effective_cache_size=1GB",
    "work_mem=16MB",
    "maintenance_work_mem=128MB",
    "random_page_cost=1.1",
    // Compiling a query takes longer than any of ours runs.
    "jit=off",
    "log_checkpoints=off",
    "timezone=UTC",
    "log_timezone=UTC",
];

/// A server process. Dropping it asks the process to end.
#[derive(Debug)]
pub(super) struct Server {
    pid: Pid,
    log: PathBuf,
    exit: watch::Receiver<Option<ExitStatus>>,
}

impl Server {
    /// Starts the process. It is not ready to answer yet.
    pub(super) async fn start(
        installation: &Installation,
        account: &Account,
        data_folder: &Path,
        socket_folder: &Path,
    ) -> Result<Self, EmbeddedError> {
        let log = data_folder.join(LOG);
        let shared = account.share(&data_folder.join(cluster::FOLDER))?;
        let program = installation.postgres();
        let mut command = Command::new(&program);
        command.arg("-D").arg(shared.path()).arg("-k").arg(socket_folder);
        for setting in SETTINGS {
            command.args(["-c", setting]);
        }
        let output = new_log(&log)?;
        let errors = output.try_clone().map_err(EmbeddedError::folder("write", &log))?;
        command.stdin(Stdio::null()).stdout(output).stderr(errors);
        account.apply(&mut command, shared);
        let (pid, exit) =
            spawn_watched(command).await.map_err(|source| EmbeddedError::Run { program, source })?;
        Ok(Self { pid, log, exit })
    }

    pub(super) fn process_id(&self) -> u32 {
        self.pid.as_raw_nonzero().get().unsigned_abs()
    }

    /// Returns when a login works.
    pub(super) async fn wait_until_ready(&self, config: &Config) -> Result<(), EmbeddedError> {
        let deadline = Instant::now() + START_PATIENCE;
        loop {
            let last = match timeout(Duration::from_secs(5), config.connect(NoTls)).await {
                Ok(Ok(_)) => return Ok(()),
                Ok(Err(error)) => error.to_string(),
                Err(_) => "a connection attempt hung".to_owned(),
            };
            if let Some(status) = *self.exit.borrow() {
                return Err(EmbeddedError::Ended { why: how_it_ended(status), log: self.last_words() });
            }
            if Instant::now() >= deadline {
                let waited_s = START_PATIENCE.as_secs();
                return Err(EmbeddedError::NotReady { waited_s, last, log: self.last_words() });
            }
            sleep(Duration::from_millis(10)).await;
        }
    }

    /// Waits for the process to end, and says how it did.
    pub(super) async fn ended(&self) -> String {
        let mut exit = self.exit.clone();
        match exit.wait_for(Option::is_some).await.as_deref() {
            Ok(Some(status)) => format!("{}; see {}", how_it_ended(*status), self.log.display()),
            _ => "PostgreSQL is no longer watched".to_owned(),
        }
    }

    /// Ends it in good order; one that does not end then, at once: the next start recovers from its log.
    pub(super) async fn stop(self) -> Result<(), EmbeddedError> {
        let mut exit = self.exit.clone();
        for signal in [Signal::INT, Signal::QUIT] {
            self.tell(signal);
            if timeout(STOP_PATIENCE, exit.wait_for(Option::is_some)).await.is_ok() {
                return Ok(());
            }
        }
        Err(EmbeddedError::DidNotStop { pid: self.process_id(), waited_s: 2 * STOP_PATIENCE.as_secs() })
    }

    /// To a PostgreSQL server an interrupt means: break off the sessions, write everything, end; to quit means: end at once.
    fn tell(&self, signal: Signal) {
        if self.exit.borrow().is_none() {
            // Fails only when it has just ended, which is what we want of it.
            kill_process(self.pid, signal).ok();
        }
    }

    /// The end of the server's log.
    fn last_words(&self) -> String {
        let text = fs::read(&self.log).unwrap_or_default();
        let text = String::from_utf8_lossy(&text);
        let lines: Vec<&str> = text.lines().collect();
        lines[lines.len().saturating_sub(8)..].join("\n")
    }
}

impl Drop for Server {
    fn drop(&mut self) {
        self.tell(Signal::INT);
    }
}

/// An empty log; the one of the run before is kept, in case that run ended badly.
fn new_log(path: &Path) -> Result<File, EmbeddedError> {
    if path.exists() {
        let old = path.with_extension("log.old");
        fs::rename(path, &old).map_err(EmbeddedError::folder("rename", path))?;
    }
    File::create(path).map_err(EmbeddedError::folder("write", path))
}

/// Starts a process from a thread that lives as long as it. The kernel ties the death signal to the *thread* that started
/// the process, and the runtime's own threads may end at any time.
async fn spawn_watched(mut command: Command) -> io::Result<(Pid, watch::Receiver<Option<ExitStatus>>)> {
    let (started, start) = oneshot::channel();
    let (exited, exit) = watch::channel(None);
    std::thread::Builder::new().name("postgres".to_owned()).spawn(move || {
        let spawned = command.spawn();
        // Closes our copies of the log and of the folder, which the command holds.
        drop(command);
        let mut child = match spawned {
            Ok(child) => child,
            Err(error) => return drop(started.send(Err(error))),
        };
        drop(started.send(Ok(Pid::from_child(&child))));
        if let Ok(status) = child.wait() {
            exited.send_replace(Some(status));
        }
    })?;
    let pid = start.await.map_err(io::Error::other)??;
    Ok((pid, exit))
}

/// Runs blocking work in a thread of its own, for programs that are tied to the thread which starts them.
pub(super) async fn in_own_thread<T: Send + 'static>(
    name: &str,
    work: impl FnOnce() -> io::Result<T> + Send + 'static,
) -> io::Result<T> {
    let (done, result) = oneshot::channel();
    std::thread::Builder::new().name(name.to_owned()).spawn(move || drop(done.send(work())))?;
    result.await.map_err(io::Error::other)?
}

fn how_it_ended(status: ExitStatus) -> String {
    match (status.code(), status.signal()) {
        (Some(0), _) => "PostgreSQL ended".to_owned(),
        (Some(code), _) => format!("PostgreSQL ended with code {code}"),
        (None, Some(signal)) => format!("PostgreSQL was ended by signal {signal}"),
        (None, None) => "PostgreSQL ended for an unknown reason".to_owned(),
    }
}
