//! The results of an envelope, on their way out while it is still read.

use std::cell::{Cell, RefCell};
use std::io::{self, Read, Seek, SeekFrom, Write};
use std::rc::Rc;

use actix_web::web::Bytes;
use futures_util::{Stream, stream};
use tempfile::SpooledTempFile;
use tokio::sync::Notify;

use crate::problem::{Code, Problem};
use crate::view::envelope::ItemResult;
use crate::wire::envelope::Framing;

/// Results beyond this many bytes are kept in a file until they are sent.
const SPOOL_BYTES: usize = 1024 * 1024;
/// How much of them is sent at a time.
const BLOCK_BYTES: usize = 64 * 1024;

/// Bytes that are written at one end and sent at the other, each at its own speed: few are kept in memory, many in a file.
struct Outgoing {
    spool: RefCell<SpooledTempFile>,
    written: Cell<u64>,
    ended: Cell<bool>,
    more: Notify,
}

impl Outgoing {
    fn write(&self, bytes: &[u8]) -> io::Result<()> {
        let mut spool = self.spool.borrow_mut();
        spool.seek(SeekFrom::Start(self.written.get()))?;
        spool.write_all(bytes)?;
        self.written.set(self.written.get() + bytes.len() as u64);
        self.more.notify_one();
        Ok(())
    }

    fn end(&self) {
        self.ended.set(true);
        self.more.notify_one();
    }

    /// The bytes behind a place, as many as go at a time, once there are some; `None` behind the end.
    async fn behind(&self, place: u64) -> Option<io::Result<Bytes>> {
        while place == self.written.get() {
            if self.ended.get() {
                return None;
            }
            self.more.notified().await;
        }
        let room =
            usize::try_from(self.written.get() - place).map_or(BLOCK_BYTES, |bytes| bytes.min(BLOCK_BYTES));
        let mut block = vec![0; room];
        let mut spool = self.spool.borrow_mut();
        let read = spool.seek(SeekFrom::Start(place)).and_then(|_| spool.read_exact(&mut block));
        Some(read.map(|()| Bytes::from(block)))
    }
}

/// What is sent of it, as it is written.
fn outgoing(from: Rc<Outgoing>) -> impl Stream<Item = io::Result<Bytes>> {
    stream::unfold((from, 0), |(from, place)| async move {
        let block = from.behind(place).await?;
        let length = block.as_ref().map_or(0, |block| block.len() as u64);
        Some((block, (from, place + length)))
    })
}

/// The results of an envelope, as they are written.
pub(super) struct Results {
    pub(super) framing: Framing,
    pub(super) minimal: bool,
    /// How many there are.
    pub(super) count: u64,
    outgoing: Rc<Outgoing>,
}

impl Results {
    pub(super) fn new(framing: Framing, minimal: bool) -> Self {
        let outgoing = Outgoing {
            spool: RefCell::new(SpooledTempFile::new(SPOOL_BYTES)),
            written: Cell::new(0),
            ended: Cell::new(false),
            more: Notify::new(),
        };
        Self { framing, minimal, count: 0, outgoing: Rc::new(outgoing) }
    }

    /// The answer's body.
    pub(super) fn sent(&self) -> impl Stream<Item = io::Result<Bytes>> + use<> {
        outgoing(Rc::clone(&self.outgoing))
    }

    /// How many bytes of them there are.
    pub(super) fn written(&self) -> u64 {
        self.outgoing.written.get()
    }

    /// Writes the result of the next item.
    pub(super) fn add(&mut self, result: &ItemResult) -> Result<(), Problem> {
        let before: &[u8] = match (self.framing, self.count) {
            (Framing::Array, 0) => b"{\"results\":[",
            (Framing::Array, _) => b",",
            (Framing::Lines, _) => b"",
        };
        self.write(before)?;
        self.write(&serde_json::to_vec(result).map_err(|error| fault(&error))?)?;
        if self.framing == Framing::Lines {
            self.write(b"\n")?;
        }
        self.count += 1;
        Ok(())
    }

    /// Writes what comes behind the last result, and why there are no more.
    pub(super) fn close(&mut self, problem: Option<&Problem>) -> Result<(), Problem> {
        let problem = problem.map(|problem| serde_json::to_string(&problem.body())).transpose();
        let problem = problem.map_err(|error| fault(&error))?;
        let end = match (self.framing, problem) {
            (Framing::Lines, None) => String::new(),
            (Framing::Lines, Some(problem)) => format!("{{\"problem\":{problem}}}\n"),
            (Framing::Array, None) if self.count == 0 => "{\"results\":[]}".to_owned(),
            (Framing::Array, None) => "]}".to_owned(),
            (Framing::Array, Some(problem)) => format!("],\"problem\":{problem}}}"),
        };
        self.write(end.as_bytes())
    }

    fn write(&self, bytes: &[u8]) -> Result<(), Problem> {
        self.outgoing.write(bytes).map_err(|error| fault(&error))
    }
}

impl Drop for Results {
    /// However it came about, nothing more is written.
    fn drop(&mut self) {
        self.outgoing.end();
    }
}

fn fault(error: &dyn std::error::Error) -> Problem {
    tracing::error!(%error, "results of an envelope could not be written");
    Problem::new(
        Code::Internal,
        "What was sent is kept, but the results are lost. Send the same envelope again.",
    )
}
