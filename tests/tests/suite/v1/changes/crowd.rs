//! Sixteen writers and eight readers at once: each reader is told of every entry once, in order.

use std::sync::atomic::{AtomicI64, AtomicUsize, Ordering};

use futures_util::future::{join, join_all};
use lapwatch_api::service::change;
use lapwatch_tests::harness::{App, Caller, Shop, Trial};
use rand::RngExt;
use serde_json::{Value, json};
use uuid::Uuid;

use super::stream::Line;
use super::{Told, event, stored, told};

const WRITERS: usize = 16;
const READERS: usize = 8;
const RECORDS: usize = 240;

/// Records of several kinds about four units, by as many writers as there are.
async fn write(app: &App, shops: &[Shop]) {
    let next = AtomicUsize::new(0);
    let director = app.director();
    join_all((0..WRITERS).map(async |_| {
        loop {
            let number = next.fetch_add(1, Ordering::Relaxed);
            if number >= RECORDS {
                return;
            }
            let shop = &shops[number % shops.len()];
            let reply = match number % 6 {
                0 => director.post("/v1/trials", &Trial::good_sweep(shop, app.now()).json()).await,
                1 => {
                    let plan = json!({ "id": Uuid::now_v7(), "crew_id": shop.crew, "date": "2026-06-10",
                                       "welding": true, "unit_ids": [shop.unit] });
                    director.post("/v1/day-plans", &plan).await
                }
                // One that is held, between two that are kept.
                2 => {
                    let kept = || {
                        let mut event = event(shop.unit, app.now());
                        event["schema"] = json!("service_event/1");
                        event
                    };
                    director.post("/v1/envelopes", &json!([kept(), { "a": number }, kept()])).await
                }
                _ => director.post("/v1/service-events", &event(shop.unit, app.now())).await,
            };
            assert!(reply.status.is_success(), "{}", reply.text());
        }
    }))
    .await;
}

/// A reader: what it was told, and where it stands.
#[derive(Default)]
struct Reader {
    told: Vec<Told>,
    place: Option<String>,
    /// How often it was told to start anew.
    resyncs: usize,
}

impl Reader {
    fn last(&self) -> i64 {
        self.told.last().map_or(0, |(seq, ..)| *seq)
    }

    fn hear(&mut self, change: &Value) {
        self.told.push(told(change));
        self.place = Some(change["cursor"].as_str().expect("a cursor").to_owned());
    }

    /// What it knows counts no more.
    fn start_anew(&mut self) {
        *self = Self { resyncs: self.resyncs + 1, ..Self::default() };
    }

    /// Long polls, until it was told of the entry with the number `end`.
    async fn poll(&mut self, caller: &Caller<'_>, end: &AtomicI64) {
        while self.last() < end.load(Ordering::Acquire) {
            let place = self.place.as_ref().map(|place| format!("&after={place}")).unwrap_or_default();
            let reply = caller.get(&format!("/v1/changes?wait_seconds=1&limit=7{place}")).await;
            match reply.status.as_u16() {
                410 => self.start_anew(),
                503 => tokio::task::yield_now().await,
                _ => reply.expect(200)["items"]
                    .as_array()
                    .expect("items")
                    .iter()
                    .for_each(|item| self.hear(item)),
            }
        }
    }

    /// Streams, each cut off after some events in the middle of another, until it was told of the entry `end`.
    async fn follow(&mut self, caller: &Caller<'_>, end: &AtomicI64) {
        while self.last() < end.load(Ordering::Acquire) {
            let response = Line::open(caller, "", self.place.as_deref()).await;
            match response.status().as_u16() {
                410 => self.start_anew(),
                503 => tokio::task::yield_now().await,
                _ => {
                    let patience = rand::rng().random_range(1..40);
                    self.hear_line(Line::of(response), patience, end).await;
                }
            }
        }
    }

    async fn hear_line(&mut self, mut line: Line, patience: usize, end: &AtomicI64) {
        let mut heard = 0;
        while heard < patience && self.last() < end.load(Ordering::Acquire) {
            let Some(event) = line.next().await else { return };
            match event.name.as_str() {
                "change" => {
                    self.hear(&event.data.expect("data"));
                    heard += 1;
                }
                "problem" if event.data.as_ref().expect("data")["code"] == "cursor_lost" => {
                    return self.start_anew();
                }
                "problem" => return,
                _ => {}
            }
        }
    }
}

/// Writes while everybody reads, until everybody has read to the end.
async fn write_and_read(app: &App, shops: &[Shop], readers: &mut [Reader]) {
    let end = AtomicI64::new(i64::MAX);
    let caller = app.director();
    let reading = join_all(readers.iter_mut().enumerate().map(async |(number, reader)| {
        if number % 2 == 0 { reader.poll(&caller, &end).await } else { reader.follow(&caller, &end).await }
    }));
    let writing = async {
        write(app, shops).await;
        let (last, ..) = stored(app).await.pop().expect("something was written");
        end.store(last, Ordering::Release);
    };
    join(reading, writing).await;
}

async fn shops(app: &App) -> Vec<Shop> {
    let shop = Shop::open(&app.director()).await;
    let mut shops = vec![shop];
    for _ in 0..3 {
        shops.push(shop.another_unit(&app.director()).await);
    }
    shops
}

fn assert_all_told(readers: &[Reader], stored: &[Told]) {
    assert!(stored.iter().map(|(seq, ..)| *seq).eq(1..=stored.len() as i64), "the feed has gaps");
    for (number, reader) in readers.iter().enumerate() {
        assert_eq!(reader.told.len(), stored.len(), "reader {number}");
        assert_eq!(reader.told, stored, "reader {number}");
    }
}

#[tokio::test]
async fn eight_readers_are_told_of_everything_that_sixteen_writers_send() {
    let app = App::start_for_a_crowd().await;
    let shops = shops(&app).await;
    let mut readers: Vec<Reader> = (0..READERS).map(|_| Reader::default()).collect();
    write_and_read(&app, &shops, &mut readers).await;
    let stored = stored(&app).await;
    assert!(stored.len() > RECORDS, "{}", stored.len());
    assert_all_told(&readers, &stored);
    assert!(readers.iter().all(|reader| reader.resyncs == 0));
}

/// The database is lost and a backup takes its place: nobody goes on where other entries have taken the numbers that they know.
#[tokio::test]
async fn after_a_restored_backup_everybody_starts_anew_and_misses_nothing() {
    let app = App::start_for_a_crowd().await;
    let shops = shops(&app).await;
    let mut readers: Vec<Reader> = (0..READERS).map(|_| Reader::default()).collect();
    write_and_read(&app, &shops, &mut readers).await;
    let copy = app.back_up().await;
    // Written and read after the backup: it will be lost.
    write_and_read(&app, &shops, &mut readers).await;
    let lost = stored(&app).await;
    assert_all_told(&readers, &lost);

    app.restore(&copy).await;
    assert!(stored(&app).await.len() < lost.len(), "the tail is lost");
    change::new_epoch(&app.running().service).await.expect("another epoch begins");
    write_and_read(&app, &shops, &mut readers).await;
    let stored = stored(&app).await;
    assert_ne!(stored[..lost.len().min(stored.len())], lost, "other entries have the same numbers");
    assert_all_told(&readers, &stored);
    assert!(readers.iter().all(|reader| reader.resyncs == 1), "each was told once");
}
