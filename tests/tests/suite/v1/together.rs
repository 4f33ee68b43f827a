//! Single records that come at the same time are stored together, and nobody notices but by the clock.

use std::time::Duration;

use chrono::TimeDelta;
use futures_util::future::join_all;
use lapwatch_tests::harness::{App, Caller, Reply, Shop};
use serde_json::{Value, json};
use uuid::Uuid;

fn event(crew: Uuid, app: &App, minute: i64) -> Value {
    json!({ "id": Uuid::now_v7(), "crew_id": crew, "at": app.now() - TimeDelta::minutes(minute), "kind": "start" })
}

async fn send(caller: &Caller<'_>, record: &Value) -> Reply {
    caller.post("/v1/day-events", record).await
}

async fn kept(app: &App) -> Vec<Value> {
    let answer = app.director().get("/v1/day-events").await.expect(200);
    answer["items"].as_array().expect("items").clone()
}

/// Each of a crowd hears of its own record, and what is refused takes nothing else with it.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn each_hears_of_its_own() {
    let app = App::start().await;
    let director = app.director();
    let ours = Shop::open(&director).await;
    let theirs = ours.another_crew(&director).await;
    let of_crew = app.app_of_crew(&["plans:write"], ours.crew).await;
    let (revoked, id) = app.add_app(&json!({ "name": "Old", "scopes": ["plans:write"] })).await;
    director.delete(&format!("/v1/apps/{id}")).await.expect_status(204);
    let before = event(ours.crew, &app, 1000);
    send(&director, &before).await.expect(201);
    let mut other = before.clone();
    other["remarks"] = json!("Something else");

    let (mut sent, mut accepted) = (Vec::new(), vec![before.clone()]);
    for round in 0..12 {
        let (mine, another) = (event(ours.crew, &app, round), event(theirs.crew, &app, round));
        accepted.extend([mine.clone(), another.clone()]);
        sent.push((&of_crew, mine, 201));
        sent.push((&director, another.clone(), 201));
        sent.push((&director, before.clone(), 200));
        sent.push((&director, other.clone(), 409));
        sent.push((&of_crew, event(theirs.crew, &app, round), 403));
        sent.push((&revoked, event(ours.crew, &app, round), 401));
        sent.push((&director, event(Uuid::nil(), &app, round), 422));
    }
    let replies = join_all(sent.iter().map(|(caller, record, _)| send(caller, record))).await;
    for (reply, (_, record, status)) in replies.iter().zip(&sent) {
        reply.expect_status(*status);
        match status {
            200 | 201 => assert_eq!(reply.json()["id"], record["id"]),
            422 => {
                reply.problem(422, "invalid_record").points_at(&[("/crew_id", "unknown_id")]);
            }
            _ => {}
        }
    }
    let mut ids: Vec<Value> = kept(&app).await.iter().map(|event| event["id"].clone()).collect();
    let mut expected: Vec<Value> = accepted.iter().map(|event| event["id"].clone()).collect();
    ids.sort_by_key(Value::to_string);
    expected.sort_by_key(Value::to_string);
    assert_eq!(ids, expected);
    // And each is told of once.
    let feed = director.get("/v1/changes?kinds=day_event&limit=500").await.expect(200);
    let mut told: Vec<Value> =
        feed["items"].as_array().expect("items").iter().map(|change| change["id"].clone()).collect();
    told.sort_by_key(Value::to_string);
    assert_eq!(told, expected);
}

/// The same record from many at once is new to one of them.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn the_same_is_new_once() {
    let app = App::start().await;
    let director = app.director();
    let shop = Shop::open(&director).await;
    for round in 0..5 {
        let record = event(shop.crew, &app, round);
        let replies = join_all((0..12).map(|_| send(&director, &record))).await;
        let mut statuses: Vec<u16> = replies.iter().map(|reply| reply.status.as_u16()).collect();
        statuses.sort_unstable();
        assert_eq!((statuses[10], statuses[11]), (200, 201), "{statuses:?}");
    }
    assert_eq!(kept(&app).await.len(), 5);
}

/// Senders that go away in the middle, whosever turn it is, keep nobody else waiting.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn who_goes_away_holds_nobody_up() {
    let app = App::start().await;
    let director = app.director();
    let shop = Shop::open(&director).await;
    let mut stayed = 0;
    for round in 0..8 {
        let records: Vec<Value> = (0..16).map(|minute| event(shop.crew, &app, minute)).collect();
        let impatient = records.iter().enumerate().map(async |(number, record)| {
            if number % 2 == 0 {
                return Some(send(&director, record).await.status.as_u16());
            }
            let patience = Duration::from_millis(1 + 2 * round + number as u64);
            tokio::time::timeout(patience, send(&director, record))
                .await
                .ok()
                .map(|reply| reply.status.as_u16())
        });
        let all = tokio::time::timeout(Duration::from_secs(30), join_all(impatient)).await;
        let all = all.expect("nobody waits for ever");
        assert!(all.iter().flatten().all(|status| *status == 201), "{all:?}");
        stayed += all.iter().flatten().count();
    }
    assert!(kept(&app).await.len() >= stayed);
}
