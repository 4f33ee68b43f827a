//! Many writers at once: what follows depends on what was sent, not on the order in which it came.

use std::collections::BTreeMap;
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};

use chrono::TimeDelta;
use futures_util::future::join_all;
use lapwatch_tests::harness::{App, Caller, Organization, Shop, Trial, seed};
use rand::rngs::StdRng;
use rand::seq::SliceRandom;
use rand::{RngExt, SeedableRng};
use serde_json::{Value, json};
use uuid::Uuid;

const WRITERS: usize = 16;
const TRIALS: usize = 60;

/// A unit's spring: mostly checks, a sweep every eighth trial, edges that wander up, a failure now and then.
fn spring(shop: &Shop, app: &App, random: &mut StdRng) -> Vec<Value> {
    (0..TRIALS)
        .map(|number| {
            let at = app.now() - TimeDelta::hours(20 * (TRIALS - number) as i64);
            let id = Uuid::from_u128(random.random());
            let trial = match number % 8 {
                0 => {
                    let wander = (number / 8) as f64 * 4.0;
                    let coupon =
                        |trial: Trial, (celsius, strips): (f64, &str)| trial.coupon(celsius + wander, strips);
                    let steps =
                        [(380.0, "ccc"), (420.0, "css"), (460.0, "sss"), (500.0, "sss"), (540.0, "shh")];
                    steps.into_iter().fold(Trial::sweep(shop, at), coupon)
                }
                5 if random.random_bool(0.4) => Trial::confirmation(shop, at, ["ccc", "css", "sss"]),
                _ => Trial::confirmation(shop, at, ["sss", "sss", "sss"]),
            };
            trial.id(id).json()
        })
        .collect()
}

/// Everything that is derived of a unit, as it is answered, without when it was received.
async fn derived(caller: &Caller<'_>, unit: Uuid) -> BTreeMap<String, String> {
    let mut answers = BTreeMap::new();
    for path in [
        format!("/v1/units/{unit}/standing"),
        format!("/v1/units/{unit}/history"),
        format!("/v1/flags?unit_id={unit}"),
        format!("/v1/rechecks?unit_id={unit}"),
        format!("/v1/trials?unit_id={unit}&limit=200"),
        "/v1/fleet".to_owned(),
    ] {
        let mut answer = caller.get(&path).await.expect(200);
        remove(&mut answer, "received_at");
        answers.insert(path, serde_json::to_string_pretty(&answer).expect("JSON can be written"));
    }
    answers
}

fn remove(value: &mut Value, member: &str) {
    match value {
        Value::Object(members) => {
            members.remove(member);
            members.values_mut().for_each(|inner| remove(inner, member));
        }
        Value::Array(items) => items.iter_mut().for_each(|inner| remove(inner, member)),
        _ => {}
    }
}

/// Sends everything with so many writers, each taking the next that nobody has taken.
async fn send_all(records: &[(Caller<'_>, Value)], writers: usize) {
    let next = Arc::new(AtomicUsize::new(0));
    join_all((0..writers).map(|_| {
        let next = Arc::clone(&next);
        async move {
            while let Some((caller, record)) = records.get(next.fetch_add(1, Ordering::Relaxed)) {
                let reply = caller.post("/v1/trials", record).await;
                assert!(matches!(reply.status.as_u16(), 200 | 201), "{}: {}", reply.status, reply.text());
            }
        }
    }))
    .await;
}

#[tokio::test]
async fn sixteen_writers_in_any_order_leave_what_one_leaves() {
    let mut random = StdRng::seed_from_u64(seed());
    let crowd = App::start_for_a_crowd().await;
    let alone = App::start().await;
    let shop = Shop::plan();
    shop.add_to(&crowd.director()).await;
    shop.add_to(&alone.director()).await;
    let trials = spring(&shop, &crowd, &mut random);

    let in_order: Vec<(Caller<'_>, Value)> =
        trials.iter().map(|trial| (alone.director(), trial.clone())).collect();
    send_all(&in_order, 1).await;

    // Shuffled, and every fourth of them twice.
    let mut shuffled: Vec<(Caller<'_>, Value)> = trials
        .iter()
        .chain(trials.iter().step_by(4))
        .map(|trial| (crowd.director(), trial.clone()))
        .collect();
    shuffled.shuffle(&mut random);
    send_all(&shuffled, WRITERS).await;

    let expected = derived(&alone.director(), shop.unit).await;
    let found = derived(&crowd.director(), shop.unit).await;
    for (path, expected) in &expected {
        assert_eq!(&found[path], expected, "{path} differs");
    }
    let standing = &expected[&format!("/v1/units/{}/standing", shop.unit)];
    assert!(!standing.contains("\"code\": \"new\""), "{TRIALS} trials say something: {standing}");
    assert_feed_is_complete(&crowd, &[(&crowd.organization, TRIALS)]).await;
}

/// Writers of several organizations and units do not wait for each other for ever, and no change is lost.
#[tokio::test]
async fn sixteen_writers_over_units_and_organizations() {
    let mut random = StdRng::seed_from_u64(seed());
    let app = App::start_for_a_crowd().await;
    let neighbours = app.found("Dunlin Roofing").await;
    let mut records = Vec::new();
    for director in [app.director(), app.director_of(&neighbours)] {
        let shop = Shop::open(&director).await;
        for _ in 0..4 {
            let shop = shop.another_unit(&director).await;
            for day in 0..8 {
                let trial = Trial::good_sweep(&shop, app.now() - TimeDelta::days(day)).json();
                records.push((director.clone(), trial));
            }
        }
    }
    records.shuffle(&mut random);
    send_all(&records, WRITERS).await;
    assert_feed_is_complete(&app, &[(&app.organization, 32), (&neighbours, 32)]).await;
}

/// Each organization's change feed runs from 1 to its counter without a gap, and has one entry for each trial.
async fn assert_feed_is_complete(app: &App, organizations: &[(&Organization, usize)]) {
    let database = app.superuser().await;
    for (organization, trials) in organizations {
        let sql = "SELECT seq, kind, subject_id FROM change WHERE organization_id = $1 ORDER BY seq";
        let rows = database.query(sql, &[&organization.id]).await.unwrap();
        let found: Vec<i64> = rows.iter().map(|row| row.get("seq")).collect();
        assert_eq!(found, (1..=rows.len() as i64).collect::<Vec<_>>(), "gaps in the feed");
        let sql = "SELECT seq FROM change_counter WHERE organization_id = $1";
        let counter: i64 = database.query_one(sql, &[&organization.id]).await.unwrap().get(0);
        assert_eq!(counter, rows.len() as i64, "the counter is ahead of the feed");
        let mut told: Vec<Uuid> = rows
            .iter()
            .filter(|row| row.get::<_, &str>("kind") == "trial")
            .map(|row| row.get("subject_id"))
            .collect();
        assert_eq!(told.len(), *trials);
        told.sort_unstable();
        told.dedup();
        assert_eq!(told.len(), *trials, "a trial is told of twice");
    }
}

/// One id, sixteen senders at the same moment: one of them creates it.
#[tokio::test]
async fn one_record_from_sixteen_senders_is_created_once() {
    let app = App::start_for_a_crowd().await;
    let director = app.director();
    let shop = Shop::open(&director).await;
    let trial = Trial::good_sweep(&shop, app.now()).json();
    let replies = join_all((0..WRITERS).map(|_| director.post("/v1/trials", &trial))).await;
    let mut statuses: Vec<u16> = replies.iter().map(|reply| reply.status.as_u16()).collect();
    statuses.sort_unstable();
    let mut expected = vec![200; WRITERS];
    expected[WRITERS - 1] = 201;
    assert_eq!(statuses, expected);
    let receipts: Vec<Value> = replies.iter().map(|reply| reply.json()["trial"].clone()).collect();
    assert!(receipts.iter().all(|receipt| *receipt == receipts[0]), "{receipts:?}");
    assert_feed_is_complete(&app, &[(&app.organization, 1)]).await;
}

/// Different content under one id at the same moment: one stands, all others are conflicts.
#[tokio::test]
async fn sixteen_contents_under_one_id_leave_one() {
    let app = App::start_for_a_crowd().await;
    let director = app.director();
    let shop = Shop::open(&director).await;
    let trial = Trial::good_sweep(&shop, app.now());
    let contents: Vec<Value> = (0..WRITERS)
        .map(|number| trial.clone().member("operator", json!(format!("operator {number}"))).json())
        .collect();
    let replies = join_all(contents.iter().map(|content| director.post("/v1/trials", content))).await;
    let created = replies.iter().filter(|reply| reply.status.as_u16() == 201).count();
    assert_eq!(created, 1);
    for reply in replies.iter().filter(|reply| reply.status.as_u16() != 201) {
        reply.problem(409, "conflict");
    }
}

/// A trial repeated while others of its unit arrive is answered each time, from one moment.
#[tokio::test]
async fn a_repeated_trial_is_answered_amid_others() {
    const REPEATS: usize = 60;
    let app = App::start_for_a_crowd().await;
    let shop = Shop::open(&app.director()).await;
    let known = Trial::good_sweep(&shop, app.now()).json();
    app.director().post("/v1/trials", &known).await.expect(201);
    // One sender in three repeats, the others bring new trials: the answer reads what they are just storing.
    let record = |number: usize| match number % 3 {
        0 => known.clone(),
        _ => Trial::good_sweep(&shop, app.now() - TimeDelta::hours(number as i64)).json(),
    };
    let records: Vec<_> = (0..3 * REPEATS).map(|number| (app.director(), record(number))).collect();
    send_all(&records, WRITERS).await;
    assert_feed_is_complete(&app, &[(&app.organization, 2 * REPEATS + 1)]).await;
}
