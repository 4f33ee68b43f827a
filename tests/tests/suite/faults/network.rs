//! A bad line: a proxy whose connections break off at random, in the middle of what is sent or of what is answered.

use std::net::SocketAddr;
use std::sync::Arc;
use std::sync::atomic::{AtomicU32, Ordering};
use std::time::Duration;

use anyhow::Result;
use rand::rngs::StdRng;
use rand::{RngExt, SeedableRng};
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::tcp::{OwnedReadHalf, OwnedWriteHalf};
use tokio::net::{TcpListener, TcpStream};
use tokio::task::JoinHandle;

/// Every so manieth connection is cut while a request goes up it; the same share while an answer comes down.
const ONE_IN: u32 = 6;

/// How often it broke.
#[derive(Debug, Default)]
pub(crate) struct Cuts {
    /// While a request was sent.
    pub(crate) requests: AtomicU32,
    /// While an answer came, or before it began.
    pub(crate) answers: AtomicU32,
}

/// The bad line. It ends with this value.
pub(crate) struct Line {
    /// Where devices reach the service.
    pub(crate) base: String,
    pub(crate) cuts: Arc<Cuts>,
    accepting: JoinHandle<()>,
}

impl Line {
    /// Leads to `service`, whether or not something listens there at the time.
    pub(crate) async fn lead_to(service: SocketAddr, seed: u64) -> Result<Self> {
        let listener = TcpListener::bind("127.0.0.1:0").await?;
        let base = format!("http://{}", listener.local_addr()?);
        let cuts = Arc::new(Cuts::default());
        let counted = Arc::clone(&cuts);
        let accepting = tokio::spawn(async move {
            let mut random = StdRng::seed_from_u64(seed);
            while let Ok((stream, _)) = listener.accept().await {
                let fate = Fate::draw(&mut random);
                tokio::spawn(carry(stream, service, fate, Arc::clone(&counted)));
            }
        });
        Ok(Self { base, cuts, accepting })
    }
}

impl Drop for Line {
    fn drop(&mut self) {
        self.accepting.abort();
    }
}

/// Where a connection breaks off, in bytes that were carried.
#[derive(Debug, Clone, Copy)]
struct Fate {
    up: Option<u64>,
    down: Option<u64>,
}

impl Fate {
    /// A request has some hundreds of bytes of headers and up to some tens of thousands of records; an answer is shorter.
    fn draw(random: &mut StdRng) -> Self {
        match random.random_range(0..ONE_IN) {
            0 => Self { up: Some(random.random_range(1..40_000)), down: None },
            // Down to the first byte: an answer that is lost whole.
            1 => Self { up: None, down: Some(random.random_range(0..4_000)) },
            _ => Self { up: None, down: None },
        }
    }
}

async fn carry(client: TcpStream, service: SocketAddr, fate: Fate, cuts: Arc<Cuts>) {
    // Nobody there: the client sees its connection close.
    let Ok(service) = TcpStream::connect(service).await else { return };
    let (from_client, to_client) = client.into_split();
    let (from_service, to_service) = service.into_split();
    // Whichever ends first takes both ways down with it.
    tokio::select! {
        cut = copy(from_client, to_service, fate.up) => {
            cuts.requests.fetch_add(u32::from(cut), Ordering::Relaxed);
        }
        cut = copy(from_service, to_client, fate.down) => {
            cuts.answers.fetch_add(u32::from(cut), Ordering::Relaxed);
        }
    }
    // What was carried up is on its way in the kernel; a moment, so that a lost answer is one to a request that arrived.
    tokio::time::sleep(Duration::from_millis(1)).await;
}

/// Copies until the end or the cut; answers whether it was cut.
async fn copy(mut from: OwnedReadHalf, mut to: OwnedWriteHalf, cut: Option<u64>) -> bool {
    let mut left = cut.unwrap_or(u64::MAX);
    let mut buffer = vec![0; 16 * 1024];
    loop {
        let Ok(read) = from.read(&mut buffer).await else { return false };
        if read == 0 {
            return false;
        }
        let pass = usize::try_from(left).unwrap_or(usize::MAX).min(read);
        if to.write_all(&buffer[..pass]).await.is_err() {
            return false;
        }
        left -= pass as u64;
        if pass < read {
            return true;
        }
    }
}
