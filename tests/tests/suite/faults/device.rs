//! Devices: one with the reference client, and an older one that knows the operations of single records.

use std::collections::{BTreeMap, VecDeque};
use std::path::Path;
use std::time::Duration;

use anyhow::Result;
use lapwatch_fixtures::outbox::{Client, ClientError, Limits, Outbox, OutboxError, Step};
use rand::RngExt;
use rand::rngs::StdRng;
use serde_json::Value;
use tokio::sync::watch;

/// How long a device waits for an answer before it takes the line for dead.
const PATIENCE: Duration = Duration::from_secs(30);

/// What a device met.
#[derive(Debug, Default)]
pub(super) struct Met {
    /// How many answers of each status; 0: the connection broke before one came.
    pub(super) statuses: BTreeMap<u16, u32>,
    /// What it still holds for a person.
    pub(super) for_a_person: usize,
}

impl Met {
    fn note(&mut self, status: Option<u16>) {
        *self.statuses.entry(status.unwrap_or(0)).or_default() += 1;
    }
}

/// The parts of a list that become known one after the other, as the number in the channel grows.
struct Portions<'a> {
    items: &'a [Vec<u8>],
    size: usize,
    known: watch::Receiver<usize>,
}

impl<'a> Portions<'a> {
    fn new(items: &'a [Vec<u8>], known: watch::Receiver<usize>, turns: usize) -> Self {
        Self { items, size: items.len().div_ceil(turns + 1), known }
    }

    /// What has become known meanwhile; at least something when `wait` is set and there is something left.
    async fn next(&mut self, turn: &mut usize, wait: bool) -> &'a [Vec<u8>] {
        let from = (*turn * self.size).min(self.items.len());
        if wait && from < self.items.len() {
            let turn = *turn;
            // The sender lives until every device is done.
            self.known.wait_for(|known| *known >= turn).await.ok();
        }
        let known = *self.known.borrow();
        let to = ((known + 1) * self.size).min(self.items.len());
        *turn = (known + 1).max(*turn);
        &self.items[from.min(to)..to]
    }
}

/// Sends all items by the reference client, a portion after each fault.
pub(super) async fn with_outbox(
    base: &str,
    token: &str,
    file: &Path,
    items: &[Vec<u8>],
    (faults, turns): (watch::Receiver<usize>, usize),
) -> Result<Met> {
    let limits = Limits {
        items: 40,
        bytes: 100_000,
        patience: PATIENCE,
        first_pause: Duration::from_millis(20),
        longest_pause: Duration::from_millis(500),
        ..Limits::default()
    };
    let (mut met, mut turn) = (Met::default(), 0);
    let mut portions = Portions::new(items, faults, turns);
    let mut client = Client::with_limits(base, async || Ok(token.to_owned()), limits)?;
    let mut outbox = Outbox::open(file)?;
    loop {
        let empty = outbox.waiting().next().is_none();
        let portion = portions.next(&mut turn, empty).await;
        if empty && portion.is_empty() {
            met.for_a_person = outbox.for_a_person().count();
            return Ok(met);
        }
        for item in portion {
            outbox.put(item)?;
        }
        match client.step(&mut outbox).await {
            Ok(Step::Empty | Step::Moved) => met.note(Some(200)),
            Ok(Step::Wait { pause, status }) => {
                met.note(status);
                tokio::time::sleep(pause).await;
            }
            Err(ClientError::Token(_)) => {}
            Err(error) => return Err(error.into()),
        }
        // The phone is switched off now and then: the outbox is all that it remembers.
        if turn.is_multiple_of(3) {
            drop(outbox);
            outbox = open_again(file).await?;
        }
    }
}

/// A process that this one starts holds copies of our open files, and so the lock, until it runs its own program.
async fn open_again(file: &Path) -> Result<Outbox> {
    let mut tries = 0;
    loop {
        match Outbox::open(file) {
            Err(OutboxError::InUse) if tries < 100 => tries += 1,
            opened => return Ok(opened?),
        }
        tokio::time::sleep(Duration::from_millis(10)).await;
    }
}

/// Sends each item to the operation of its kind, and by an envelope what that refuses.
pub(super) async fn one_by_one(
    base: &str,
    token: &str,
    items: &[Vec<u8>],
    random: &mut StdRng,
    (faults, turns): (watch::Receiver<usize>, usize),
) -> Result<Met> {
    let http = reqwest::Client::builder().no_proxy().timeout(PATIENCE).build()?;
    let (mut met, mut turn) = (Met::default(), 0);
    let mut portions = Portions::new(items, faults, turns);
    let mut waiting: VecDeque<&[u8]> = VecDeque::new();
    loop {
        let portion = portions.next(&mut turn, waiting.is_empty()).await;
        waiting.extend(portion.iter().map(Vec::as_slice));
        let Some(item) = waiting.front().copied() else { return Ok(met) };
        let (status, kept) = hand_over(&http, base, token, item).await;
        met.note(status);
        if kept {
            waiting.pop_front();
        } else {
            // Another one's turn, so that none stands in the way for ever.
            waiting.rotate_left(1);
            tokio::time::sleep(Duration::from_millis(random.random_range(10..200))).await;
        }
    }
}

/// Whether the service has said that it keeps the item, and what it answered last.
async fn hand_over(http: &reqwest::Client, base: &str, token: &str, item: &[u8]) -> (Option<u16>, bool) {
    let post = async |path: &str, media_type: &str, body: &[u8]| {
        let request = http.post(format!("{base}/v1/{path}")).bearer_auth(token);
        let answer = request.header("content-type", media_type).body(body.to_vec()).send().await.ok()?;
        let status = answer.status().as_u16();
        Some((status, answer.bytes().await.ok()?))
    };
    if let Some(path) = own_operation(item) {
        match post(path, "application/json", item).await {
            Some((200 | 201, _)) => return (Some(200), true),
            // Refused: the other door takes whatever it is.
            Some((400 | 409 | 422, _)) => {}
            Some((status, _)) => return (Some(status), false),
            None => return (None, false),
        }
    }
    match post("envelopes", "application/x-ndjson", &[item, b"\n"].concat()).await {
        Some((200, body)) => {
            let result: Value = serde_json::from_slice(&body).unwrap_or_default();
            let result = result["result"].as_str().unwrap_or_default();
            (Some(200), ["created", "duplicate", "quarantined", "conflict"].contains(&result))
        }
        Some((status, _)) => (Some(status), false),
        None => (None, false),
    }
}

fn own_operation(item: &[u8]) -> Option<&'static str> {
    let record: Value = serde_json::from_slice(item).ok()?;
    Some(match record["schema"].as_str()? {
        "trial/1" => "trials",
        "service_event/1" | "service_event/2" => "service-events",
        "day_plan/1" => "day-plans",
        "production_span/1" => "production-spans",
        "decision/1" => "decisions",
        "day_event/1" => "day-events",
        "seam_check/1" => "seam-checks",
        "retraction/1" => "retractions",
        "photo/1" => "photos",
        "shared_decision/1" => "shared-decisions",
        _ => return None,
    })
}
