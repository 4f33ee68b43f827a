//! A process of its own that holds a private PostgreSQL.

use std::io::{BufRead, BufReader};
use std::os::unix::process::CommandExt;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use anyhow::{Context, Result, ensure};
use serde_json::Value;

/// The program, from `tests/src/bin`.
const PROGRAM: &str = env!("CARGO_BIN_EXE_hold-database");

/// Longer than any start or stop takes on a busy machine.
const PATIENCE: Duration = Duration::from_secs(60);

pub(super) struct Holder {
    child: Child,
    /// The server's process id.
    pub(super) server: u32,
}

impl Holder {
    /// Starts the process and waits until its database answers.
    pub(super) fn start(data: &Path) -> Result<Self> {
        Self::start_command(Command::new(PROGRAM).arg(data))
    }

    /// The same as another user, with a copy of the program that the user can reach.
    pub(super) fn start_as(user: u32, folder: &Path, data: &Path) -> Result<Self> {
        let program = folder.join("hold-database");
        // By another process: a child that some other test starts at this moment would inherit our open copy, and a program that
        // is open for writing cannot be started ("text file busy").
        let copied = Command::new("cp").arg(PROGRAM).arg(&program).status()?;
        ensure!(copied.success(), "cp ended with {copied}");
        Self::start_command(Command::new(program).arg(data).uid(user).gid(user).current_dir("/"))
    }

    fn start_command(command: &mut Command) -> Result<Self> {
        let mut child = command.stdin(Stdio::piped()).stdout(Stdio::piped()).spawn()?;
        let mut line = String::new();
        BufReader::new(child.stdout.take().context("standard output")?).read_line(&mut line)?;
        let ready: Value =
            serde_json::from_str(&line).context("the holder did not get its database started")?;
        let server = u32::try_from(ready["server"].as_u64().context("server")?)?;
        Ok(Self { child, server })
    }

    /// `kill -9`: the holder gets no chance to tidy up.
    pub(super) fn kill(mut self) -> Result<()> {
        self.child.kill()?;
        self.child.wait()?;
        Ok(())
    }

    /// Lets it stop in good order.
    pub(super) fn stop(mut self) -> Result<()> {
        drop(self.child.stdin.take());
        let status = self.child.wait()?;
        ensure!(status.success(), "the holder ended with {status}");
        Ok(())
    }
}

/// The user that a process runs as; nothing when it is gone.
pub(crate) fn user_of(process: u32) -> Option<u32> {
    let status = std::fs::read_to_string(format!("/proc/{process}/status")).ok()?;
    if status.lines().any(|line| line.starts_with("State:\tZ")) {
        return None;
    }
    status.lines().find_map(|line| line.strip_prefix("Uid:\t"))?.split('\t').next()?.parse().ok()
}

/// Waits until a process and everything that it started are gone.
pub(crate) fn wait_until_gone(server: u32) -> Result<()> {
    let deadline = Instant::now() + PATIENCE;
    while user_of(server).is_some() || has_children(server)? {
        ensure!(Instant::now() < deadline, "process {server} is still there");
        std::thread::sleep(Duration::from_millis(10));
    }
    Ok(())
}

fn has_children(parent: u32) -> Result<bool> {
    let is_child = |status: String| {
        status
            .lines()
            .find_map(|line| line.strip_prefix("PPid:\t"))
            .is_some_and(|pid| pid == parent.to_string())
    };
    Ok(std::fs::read_dir("/proc")?
        .flatten()
        .filter_map(|entry| std::fs::read_to_string(entry.path().join("status")).ok())
        .any(is_child))
}
