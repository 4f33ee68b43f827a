//! Being told to stop.

use std::io;

use tokio::signal::unix::{Signal, SignalKind, signal};

/// The signals that ask a service to stop: Ctrl-C, a service manager's request, the end of the terminal.
#[derive(Debug)]
pub(super) struct StopSignals {
    interrupt: Signal,
    terminate: Signal,
    hang_up: Signal,
}

impl StopSignals {
    /// From now on these signals no longer end the process by themselves.
    pub(super) fn listen() -> io::Result<Self> {
        Ok(Self {
            interrupt: signal(SignalKind::interrupt())?,
            terminate: signal(SignalKind::terminate())?,
            hang_up: signal(SignalKind::hangup())?,
        })
    }

    /// Returns when one of them has come.
    pub(super) async fn received(&mut self) {
        tokio::select! {
            _ = self.interrupt.recv() => {}
            _ = self.terminate.recv() => {}
            _ = self.hang_up.recv() => {}
        }
    }
}
