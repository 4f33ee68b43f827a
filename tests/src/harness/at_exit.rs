//! Tidying up after the test process, however it ends.
//!
//! A value in a `static` is never dropped, and a killed process drops nothing. So a shell waits on a pipe that only this process
//! holds open; when the process is gone the pipe ends, and the shell does what it was given.

use std::io;
use std::os::unix::process::CommandExt;
use std::process::{Child, Command, Stdio};

/// A shell that waits for this process to end. Dropping it lets the shell run at once.
#[derive(Debug)]
pub(super) struct AtExit {
    _shell: Child,
}

impl AtExit {
    /// Runs `script` when this process has ended, with `arguments` as `$1`, `$2`, …
    pub(super) fn run(script: &str, arguments: &[&str]) -> io::Result<Self> {
        let shell = Command::new("sh")
            .args(["-c", &format!("cat >/dev/null\n{script}"), "sh"])
            .args(arguments)
            .stdin(Stdio::piped())
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            // Ctrl-C ends the tests; the tidying comes after it.
            .process_group(0)
            .spawn()?;
        Ok(Self { _shell: shell })
    }
}
