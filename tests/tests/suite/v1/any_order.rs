//! Everything that bears on a unit, in any order and grouping: the same standing, flags, rechecks and suspects, byte for byte.

use futures_util::future::join_all;
use lapwatch_tests::harness::{App, Caller, Shop, seed};
use rand::rngs::StdRng;
use rand::seq::SliceRandom;
use rand::{RngExt, SeedableRng};
use serde_json::{Value, json};

use crate::season::{derived, season};

async fn send(caller: &Caller<'_>, items: &[Value]) {
    let answer = caller.post("/v1/envelopes", &json!(items)).await.expect(200);
    for result in answer["results"].as_array().unwrap() {
        let kept = ["created", "duplicate", "quarantined"].contains(&result["result"].as_str().unwrap());
        assert!(kept, "{result}");
    }
}

#[tokio::test]
async fn any_order_and_grouping_of_everything_leaves_the_same() {
    let mut random = StdRng::seed_from_u64(seed());
    let (alone, crowd) = (App::start().await, App::start_for_a_crowd().await);
    let shop = Shop::plan();
    for app in [&alone, &crowd] {
        shop.add_to(&app.director()).await;
    }
    let mut records = season(&shop, alone.now(), 44, &mut random);
    for record in &records {
        send(&alone.director(), std::slice::from_ref(record)).await;
    }

    // Shuffled, a third of them twice, in envelopes of any size, by four senders at once.
    let again: Vec<Value> = records.iter().step_by(3).cloned().collect();
    records.extend(again);
    records.shuffle(&mut random);
    let mut envelopes = Vec::new();
    while !records.is_empty() {
        let size = random.random_range(1..=12).min(records.len());
        envelopes.push(records.split_off(records.len() - size));
    }
    for turn in envelopes.chunks(4) {
        let director = crowd.director();
        join_all(turn.iter().map(|items| send(&director, items))).await;
    }
    // What had to wait for its span is taken in by the jobs.
    // A retraction of a retraction may have to wait for one that waits itself.
    for app in [&crowd, &alone] {
        for _ in 0..3 {
            app.run_jobs().await;
        }
    }
    let held = crowd.director().get("/v1/custody?state=open").await.expect(200);
    assert_eq!(held["items"], json!([]));

    let (expected, found) =
        (derived(&alone.director(), &shop).await, derived(&crowd.director(), &shop).await);
    for (path, expected) in &expected {
        assert_eq!(found[path], *expected, "{path} differs");
    }
    let text = json!(expected).to_string();
    for word in ["drift_up", "\"closed\"", "failed_trial", "restarted", "set_up_changed", "waived", "defect"]
    {
        assert!(text.contains(word), "the season has no {word}: a test of nothing");
    }
}
