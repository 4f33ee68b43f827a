//! Everything that can go wrong between a roof and the database, at once: what was acknowledged is there, once, and the end is
//! that of a quiet day.
//!
//! Forty devices over a season, about 20,000 items, take some minutes:
//!
//! ```sh
//! LAPWATCH_FAULT_DEVICES=40 LAPWATCH_FAULT_DAYS=150 LAPWATCH_FAULT_TURNS=20 cargo test -p lapwatch-tests faults -- --nocapture
//! ```
//!
//! On 29 November 2026, seed 10503468609914247696, two-core x86-64 machine with a build beside it: 21,400 items of 40 devices handed over
//! in 163.4 s (the whole test 597 s), 17,840 accepted, 2,219 held, the others duplicates; records of most kinds corrected and withdrawn,
//! every second device of a newer make, with service events of version 2; 20 times the service killed and 20 times its database, 169
//! requests and 167 answers cut; 6,080 answers of 200, 1,829 of 503, none of 500, 1,307 times no answer; state a59863d1ef3c4dbe, which
//! is that of the clean run.

mod device;
mod ground;
mod load;
pub(crate) mod network;

use std::collections::{BTreeMap, HashMap};
use std::time::{Duration, Instant};

use anyhow::{Context, Result, ensure};
use chrono::{DateTime, SubsecRound, TimeDelta, Utc};
use futures_util::future::try_join_all;
use lapwatch_tests::harness::{App, Caller, Shop, seed};
use rand::rngs::StdRng;
use rand::{RngExt, SeedableRng};
use serde_json::{Value, json};
use sha2::{Digest, Sha256};
use tokio::sync::watch;
use uuid::Uuid;

use device::Met;
use ground::Ground;
use load::{Load, Make, Skew, load};
use network::Line;

use crate::season::derived;

/// How much of it.
#[derive(Debug, Clone, Copy)]
struct Scale {
    devices: usize,
    days: i64,
    /// How often the service is killed, and how often its database.
    turns: usize,
}

impl Scale {
    fn from_environment() -> Self {
        let number = |name: &str, usual: usize| {
            let given = std::env::var(name).ok();
            given.map_or(usual, |given| given.parse().unwrap_or_else(|_| panic!("{name}={given}: no number")))
        };
        Self {
            devices: number("LAPWATCH_FAULT_DEVICES", 4),
            days: number("LAPWATCH_FAULT_DAYS", 44).max(44).try_into().expect("days"),
            turns: number("LAPWATCH_FAULT_TURNS", 4),
        }
    }
}

/// A device with what it sends.
struct Device {
    shop: Shop,
    token: String,
    load: Load,
}

#[tokio::test(flavor = "multi_thread")]
async fn nothing_acknowledged_is_lost_and_the_end_is_that_of_a_quiet_day() -> Result<()> {
    let (seed, scale) = (seed(), Scale::from_environment());
    let mut random = StdRng::seed_from_u64(seed);
    let ground = Ground::prepare()?;
    let begun = Utc::now().trunc_subsecs(0);

    let quiet = ground.open(begun).await?;
    let founded = quiet.found().await?;
    let http = reqwest::Client::builder().no_proxy().build()?;
    let base = format!("http://{}", ground.address);
    let token = quiet.token(&founded);
    let devices = devices(&Caller::new(&http, &base, Some(token)), begun, scale, &mut random).await;
    quiet.close().await?;

    let started = Instant::now();
    let met = under_fire(&ground, &devices, scale, &mut random).await?;
    let took = started.elapsed();
    let items: usize = devices.iter().map(|device| device.load.items.len()).sum();
    let failed = ground.answered(500)?;
    assert_eq!(failed, Vec::<String>::new(), "no answer is 500");

    // Both ends are looked at from one instant.
    let end = Utc::now().trunc_subsecs(0) + TimeDelta::hours(1);
    let quiet = ground.open(end).await?;
    // Before anything is fitted to a fleet of which part is still held.
    quiet.release(founded.organization).await?;
    let kept = Kept::read(&quiet.superuser().await?).await?;
    for item in devices.iter().flat_map(|device| &device.load.items) {
        kept.check(item)?;
    }

    let clean = clean_run(begun, &devices, &kept).await?;
    clean.pass_until(end);
    quiet.run_jobs().await;
    clean.run_jobs().await;
    let stormy = Caller::new(&http, &base, Some(quiet.token(&founded)));
    let director = clean.director();
    let mut state = Sha256::new();
    for device in &devices {
        let (found, expected) =
            (derived(&stormy, &device.shop).await, derived(&director, &device.shop).await);
        for (path, expected) in &expected {
            assert_eq!(found[path], *expected, "{path} differs; seed {seed}");
        }
        state.update(json!(found).to_string());
    }
    quiet.close().await?;
    let state: String = state.finalize().iter().take(8).map(|byte| format!("{byte:02x}")).collect();
    eprintln!(
        "{items} items of {} devices in {took:.1?}: {} accepted, {} held; {met}; state {state}",
        scale.devices,
        kept.accepted.len(),
        kept.held.len(),
    );
    Ok(())
}

/// Devices, each of a crew of its own with a unit, known to the service. Every third clock is right, the others are off by
/// days, and half of those devices know it.
async fn devices(
    director: &Caller<'_>,
    now: DateTime<Utc>,
    scale: Scale,
    random: &mut StdRng,
) -> Vec<Device> {
    let first = Shop::open(director).await;
    let mut devices = Vec::new();
    for number in 0..scale.devices {
        let shop = if number == 0 { first } else { first.another_site(director).await };
        let form = json!({
            "name": format!("Device {number}"), "crew_id": shop.crew,
            "scopes": ["trials:write", "units:write", "plans:write", "decisions:write"],
        });
        let added = director.post("/v1/apps", &form).await.expect(201);
        let token = added["access_token"].as_str().expect("a token").to_owned();
        let hours = if number % 3 == 0 { 0 } else { random.random_range(-80..80) };
        let skew = Skew { ahead: TimeDelta::hours(hours), known: number % 2 == 0 };
        let make = Make { skew, newer: number % 2 == 1 };
        devices.push(Device { shop, token, load: load(&shop, now, scale.days, make, random) });
    }
    devices
}

/// What was met on the way.
struct Storm {
    statuses: BTreeMap<u16, u32>,
    cut_requests: u32,
    cut_answers: u32,
    kills: usize,
    crashes: usize,
}

impl std::fmt::Display for Storm {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let Self { statuses, cut_requests, cut_answers, kills, crashes } = self;
        write!(
            f,
            "{kills} times the service killed, {crashes} times its database, {cut_requests} requests and {cut_answers} answers cut; \
             statuses {statuses:?}"
        )
    }
}

/// All devices send while the service and its database are killed in turn, until everything is handed over.
async fn under_fire(ground: &Ground, devices: &[Device], scale: Scale, random: &mut StdRng) -> Result<Storm> {
    let line = Line::lead_to(ground.address, random.random()).await?;
    let turns = 2 * scale.turns;
    let (faults, _) = watch::channel(0);
    let seeds: Vec<u64> = devices.iter().map(|_| random.random()).collect();
    let sending = try_join_all(devices.iter().zip(seeds).enumerate().map(|(number, (device, seed))| {
        let (base, faults) = (line.base.as_str(), (faults.subscribe(), turns));
        let file = ground.file(&format!("{number}.outbox"));
        async move {
            let (token, items) = (device.token.as_str(), device.load.items.as_slice());
            if number % 4 == 3 {
                let mut random = StdRng::seed_from_u64(seed);
                device::one_by_one(base, token, items, &mut random, faults).await
            } else {
                device::with_outbox(base, token, &file, items, faults).await
            }
        }
    }));
    let mut process = Some(ground.start().await?);
    let firing = async {
        for turn in 0..turns {
            tokio::time::sleep(Duration::from_millis(random.random_range(300..900))).await;
            if turn % 2 == 0 {
                process.take().context("it runs")?.kill().await?;
                process = Some(ground.start().await?);
            } else {
                process.as_ref().context("it runs")?.crash_database().await?;
            }
            ground.wait_until_ready().await?;
            faults.send_replace(turn + 1);
        }
        anyhow::Ok(())
    };
    let (met, ()) = tokio::try_join!(sending, firing)?;
    process.take().context("it runs")?.kill().await?;
    ensure!(met.iter().all(|met: &Met| met.for_a_person == 0), "something was too large");
    let mut statuses = BTreeMap::new();
    for (status, count) in met.iter().flat_map(|met| &met.statuses) {
        *statuses.entry(*status).or_default() += count;
    }
    let count = |cuts: &std::sync::atomic::AtomicU32| cuts.load(std::sync::atomic::Ordering::Relaxed);
    Ok(Storm {
        statuses,
        cut_requests: count(&line.cuts.requests),
        cut_answers: count(&line.cuts.answers),
        kills: scale.turns,
        crashes: scale.turns,
    })
}

/// An accepted record.
struct Accepted {
    bytes: Vec<u8>,
    received_at: DateTime<Utc>,
}

/// Everything that the service keeps.
struct Kept {
    accepted: HashMap<Uuid, Accepted>,
    digests: HashMap<Vec<u8>, u32>,
    held: HashMap<Vec<u8>, Vec<String>>,
}

impl Kept {
    async fn read(superuser: &tokio_postgres::Client) -> Result<Self> {
        let rows =
            superuser.query("SELECT record_id, bytes, received_at, digest FROM submission", &[]).await?;
        let mut kept = Self { accepted: HashMap::new(), digests: HashMap::new(), held: HashMap::new() };
        for row in rows {
            let (bytes, digest): (Vec<u8>, Vec<u8>) = (row.get(1), row.get(3));
            ensure!(Sha256::digest(&bytes).to_vec() == digest, "bytes and digest differ");
            kept.accepted.insert(row.get(0), Accepted { bytes, received_at: row.get(2) });
            *kept.digests.entry(digest).or_default() += 1;
        }
        for row in superuser.query("SELECT digest, held_as FROM custody", &[]).await? {
            kept.held.entry(row.get(0)).or_default().push(row.get(1));
        }
        Ok(kept)
    }

    /// Whether this item, which was acknowledged, is kept exactly once: as it is, or as the same value in other bytes.
    fn check(&self, item: &[u8]) -> Result<()> {
        let digest = Sha256::digest(item).to_vec();
        let (accepted, held) = (self.digests.get(&digest), self.held.get(&digest));
        let text = String::from_utf8_lossy(item);
        ensure!(accepted.is_none_or(|times| *times == 1), "accepted more than once: {text}");
        ensure!(held.is_none_or(|as_what| as_what.len() == 1), "held more than once: {text}");
        let conflict = held.is_some_and(|as_what| as_what[0] == "conflict");
        if accepted.is_some() || (held.is_some() && !conflict) {
            return Ok(());
        }
        let value: Value = serde_json::from_slice(item).with_context(|| format!("lost: {text}"))?;
        let id =
            value["id"].as_str().and_then(|id| id.parse().ok()).with_context(|| format!("lost: {text}"))?;
        let first = self.accepted.get(&id).with_context(|| format!("lost: {text}"))?;
        let same = plain(&serde_json::from_slice(&first.bytes)?) == plain(&value);
        ensure!(same != conflict, "held as a conflict, or another stands in its place: {text}");
        Ok(())
    }
}

/// A value whose whole numbers are written alike.
fn plain(value: &Value) -> Value {
    match value {
        Value::Object(members) => members.iter().map(|(name, value)| (name.clone(), plain(value))).collect(),
        Value::Array(items) => items.iter().map(plain).collect(),
        Value::Number(number) => json!(number.as_f64()),
        other => other.clone(),
    }
}

/// The accepted records once more, each once and in order, to a service that nothing happens to; each at the time at which it was
/// first received.
async fn clean_run(begun: DateTime<Utc>, devices: &[Device], kept: &Kept) -> Result<App> {
    let app = App::start_at(begun).await;
    let director = app.director();
    let first = devices.first().context("a device")?.shop;
    first.add_to(&director).await;
    for device in &devices[1..] {
        for (path, form) in [
            ("/v1/sites", device.shop.site_form()),
            ("/v1/crews", device.shop.crew_form()),
            ("/v1/units", device.shop.unit_form()),
        ] {
            director.post(path, &form).await.expect(201);
        }
    }
    let mut sent = 0;
    for device in devices {
        for record in &device.load.season {
            let id: Uuid = record["id"].as_str().context("an id")?.parse()?;
            let Some(accepted) = kept.accepted.get(&id) else { continue };
            app.pass_until(accepted.received_at);
            let item = [accepted.bytes.as_slice(), b"\n"].concat();
            let request = app.director().request(reqwest::Method::POST, "/v1/envelopes");
            let answer = request.header("content-type", "application/x-ndjson").body(item).send().await?;
            let result: Value = serde_json::from_slice(&answer.bytes().await?)?;
            ensure!(result["result"] == "created", "{result}");
            sent += 1;
        }
    }
    ensure!(
        sent == kept.accepted.len(),
        "{sent} of {} accepted records are of a season",
        kept.accepted.len()
    );
    Ok(app)
}
