//! Items that are taken in together.

use chrono::TimeDelta;
use lapwatch_tests::harness::{App, Shop, Trial};
use serde_json::{Value, json};
use uuid::Uuid;

use super::{each, event, send, send_lines};

/// Trials of a unit on many days, as an envelope has them.
fn trials(app: &App, shop: &Shop, days: std::ops::Range<i64>) -> Vec<Value> {
    let trial = |day| {
        let mut trial = Trial::good_sweep(shop, app.now() - TimeDelta::days(day)).json();
        trial["schema"] = json!("trial/1");
        trial
    };
    days.map(trial).collect()
}

/// What is wrong with some leaves nothing of them behind and costs the others nothing, even when it is found out late: a
/// correction is looked at when its trial is written already.
#[tokio::test]
async fn each_stands_for_itself() {
    let app = App::start().await;
    let director = app.director();
    let shop = Shop::open(&director).await;
    let mut items = trials(&app, &shop, 1..9);
    items[2]["supersedes"] = items[1]["id"].clone();
    items[2]["recorded_at"] = json!(app.now() - TimeDelta::days(30));
    items[4]["unit_id"] = json!(Uuid::now_v7());
    items[6]["id"] = items[5]["id"].clone();
    let twice = items[0].clone();
    items.push(twice);
    items.push(event(shop.unit, "0001-01-01T00:00:00Z".parse().expect("a time")));
    items.push(event(shop.unit, app.now()));
    let results = send(&director, &json!(items)).await;
    let outcomes = [
        "created",
        "created",
        "quarantined",
        "created",
        "quarantined",
        "created",
        "conflict",
        "created",
        "duplicate",
        "quarantined",
        "created",
    ];
    assert_eq!(each(&results, "result"), outcomes);
    let reasons: Vec<&Value> = [2, 4].map(|index| &results[index]["reason"]["code"]).to_vec();
    assert_eq!(reasons, ["not_later", "unknown_id"]);
    let known = director.get("/v1/trials?limit=100").await.expect(200);
    assert_eq!(known["items"].as_array().expect("a list").len(), 5, "{known}");
    let refused = format!("/v1/trials/{}", items[2]["id"].as_str().expect("an id"));
    director.get(&refused).await.problem(404, "not_found");
}

/// The same state, receipts aside, as when each comes alone.
#[tokio::test]
async fn together_or_alone_leaves_the_same() {
    let app = App::start().await;
    let (ours, neighbours) = (&app.organization, app.found("Dunlin Roofing").await);
    let shop = Shop::plan();
    let items = [trials(&app, &shop, 1..40), vec![event(shop.unit, app.now() - TimeDelta::days(5))]].concat();
    let mut states = Vec::new();
    for (organization, size) in [(ours, 1), (&neighbours, items.len())] {
        let director = app.director_of(organization);
        shop.add_to(&director).await;
        for some in items.chunks(size) {
            let lines: Vec<String> = some.iter().map(Value::to_string).collect();
            let results = send_lines(&director, &lines).await;
            assert_eq!(each(&results, "result"), vec!["created"; some.len()]);
        }
        let mut state = Vec::new();
        for path in ["standing", "history"] {
            let reply = director.get(&format!("/v1/units/{}/{path}", shop.unit)).await;
            reply.expect_status(200);
            state.push(reply.text());
        }
        for path in ["/v1/flags", "/v1/rechecks", "/v1/trials?limit=100"] {
            let list = director.get(path).await.expect(200);
            state.push(list["items"].to_string());
        }
        states.push(state);
    }
    assert_eq!(states[0], states[1]);
}
