//! The server of the run before, when that run did not end in good order.
//!
//! The server keeps its process id in the cluster. After `kill -9` of the service the server may still be writing, for as long
//! as its last checkpoint takes; after a crash of the machine the id may meanwhile be that of another program, and PostgreSQL
//! then refuses to start. We hold the lock on the data folder, so whatever still runs on the cluster is left over, and
//! whatever does not run there has nothing to do with us.

use std::fs;
use std::path::Path;
use std::time::Duration;

use rustix::process::{Pid, Signal, kill_process, test_kill_process};
use tokio::time::{Instant, sleep};

use super::EmbeddedError;

const FILE: &str = "postmaster.pid";

/// A server that has not ended after so long is told to end at once, without its last checkpoint; the next one recovers from the
/// log. PostgreSQL 15 was seen to wait for ever when it was told to end while it recovered from the crash of a session; only its
/// checkpointer was left (`tests/tests/suite/faults`).
const TIME_FOR_A_CHECKPOINT: Duration = Duration::from_secs(5);
/// Long enough for either way on a slow disk.
const PATIENCE: Duration = Duration::from_secs(60);

/// Returns when nothing of an earlier run is in the way.
pub(super) async fn settle(cluster: &Path) -> Result<(), EmbeddedError> {
    let path = cluster.join(FILE);
    let begun = Instant::now();
    let mut told = None;
    while let Some(pid) = noted_pid(&path) {
        if !runs_on(pid, cluster) {
            // It may just have ended and removed the file itself.
            fs::remove_file(&path).ok();
            return Ok(());
        }
        // Where the kernel does not tell it that the service died, nobody has told it yet. It may end meanwhile.
        let signal = if begun.elapsed() < TIME_FOR_A_CHECKPOINT { Signal::INT } else { Signal::QUIT };
        if told != Some(signal) {
            tracing::info!(
                pid = pid.as_raw_nonzero().get(),
                ?signal,
                "waiting for the database of an earlier run to end"
            );
            kill_process(pid, signal).ok();
            told = Some(signal);
        }
        if begun.elapsed() >= PATIENCE {
            return Err(EmbeddedError::PredecessorStays { pid: pid.as_raw_nonzero().get().unsigned_abs() });
        }
        sleep(Duration::from_millis(20)).await;
    }
    Ok(())
}

fn noted_pid(file: &Path) -> Option<Pid> {
    let text = fs::read_to_string(file).ok()?;
    Pid::from_raw(text.lines().next()?.trim().parse().ok()?)
}

/// Whether that process is a server on this cluster: a server's current folder is its cluster.
#[cfg(target_os = "linux")]
fn runs_on(pid: Pid, cluster: &Path) -> bool {
    let folder = fs::read_link(format!("/proc/{}/cwd", pid.as_raw_nonzero()));
    folder.is_ok_and(|folder| folder == cluster) && test_kill_process(pid).is_ok()
}

/// Without `/proc` only the existence of the process can be told.
#[cfg(not(target_os = "linux"))]
fn runs_on(pid: Pid, _cluster: &Path) -> bool {
    test_kill_process(pid).is_ok()
}
