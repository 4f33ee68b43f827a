//! `/v1/fleet` and `/v1/units/{id}`: the fleet at a glance, one unit in full.

use chrono::TimeDelta;
use lapwatch_tests::harness::{App, Shop, Trial};
use serde_json::{Value, json};

#[tokio::test]
async fn the_fleet_shows_every_unit_by_label() {
    let app = App::start().await;
    let director = app.director();
    let shop = Shop::open(&director).await;
    let fresh = shop.another_crew(&director).await;
    let answer = director.post("/v1/trials", &Trial::good_sweep(&shop, app.now()).json()).await.expect(201);

    let fleet = director.get("/v1/fleet").await.expect(200);
    assert_eq!(fleet["as_of"], json!(app.now()));
    let units = fleet["units"].as_array().unwrap();
    assert_eq!(units.len(), 2);
    let unit = |id: uuid::Uuid| units.iter().find(|unit| unit["unit_id"] == json!(id)).unwrap();
    let tried = unit(shop.unit);
    assert_eq!(tried["last_trial"]["id"], answer["trial"]["id"]);
    assert_eq!(tried["last_trial"]["outcome"], "stands");
    assert_eq!(tried["set_point"], answer["set_point"]["to_set"]);
    assert_eq!(tried["margin_below"], answer["set_point"]["margin_below"]);
    assert_eq!(tried["margin_above"], answer["set_point"]["margin_above"]);
    assert_eq!((&tried["crew"], &tried["site"]), (&json!("Heron crew"), &json!("Eelgrass Quay")));
    let untried = unit(fresh.unit);
    assert_eq!(untried["standing"]["code"], "new");
    assert_eq!(untried["last_trial"], Value::Null);
    let counts = fleet["counts"].as_object().unwrap();
    let total: u64 =
        counts.iter().filter(|(name, _)| *name != "overdue").filter_map(|(_, n)| n.as_u64()).sum();
    assert_eq!(total, 2, "{counts:?}");
}

/// Whatever the order in which trials arrive, the history is in the order in which they were performed.
#[tokio::test]
async fn a_history_is_in_order_and_open_edges_are_open() {
    let app = App::start().await;
    let director = app.director();
    let shop = Shop::open(&director).await;
    let now = app.now();
    let check = Trial::confirmation(&shop, now - TimeDelta::hours(1), ["sss", "sss", "sss"]).json();
    let sweep = Trial::good_sweep(&shop, now - TimeDelta::hours(5)).json();
    // A phone whose clock is two days slow, and knows it.
    let slow = Trial::good_sweep(&shop, now - TimeDelta::days(2) - TimeDelta::hours(3))
        .member("clock_offset_s", json!(172_800.0))
        .json();
    for trial in [&check, &slow, &sweep] {
        director.post("/v1/trials", trial).await.expect(201);
    }
    let history = director.get(&format!("/v1/units/{}/history", shop.unit)).await.expect(200);
    assert_eq!(history["series"].as_array().unwrap().len(), 1);
    assert_eq!(history["series"][0]["material_class"], "pvc");
    let points = history["series"][0]["upper"]["points"].as_array().unwrap();
    let ids: Vec<&Value> = points.iter().map(|point| &point["trial_id"]).collect();
    assert_eq!(ids, [&sweep["id"], &slow["id"], &check["id"]]);
    assert_eq!(points[1]["at"], json!(now - TimeDelta::hours(3)), "by the best clock known");
    let open = |point: &Value| point["open_above"].as_bool().unwrap();
    assert_eq!(
        points.iter().map(open).collect::<Vec<_>>(),
        [false, false, true],
        "a check finds no upper edge"
    );
}

/// The answer speaks the scale of the crew's display; the fleet is in °C.
#[tokio::test]
async fn standing_tells_why() {
    let app = App::start().await;
    let director = app.director();
    let shop = Shop::open(&director).await;
    let path = format!("/v1/units/{}/standing", shop.unit);
    let new = director.get(&path).await.expect(200);
    assert_eq!(new["standing"]["code"], "new");
    assert_eq!(new["standing"]["since"], Value::Null);
    director.post("/v1/trials", &Trial::good_sweep(&shop, app.now()).json()).await.expect(201);
    let tried = director.get(&path).await.expect(200);
    assert!(!tried["explanation"].as_array().unwrap().is_empty(), "{tried}");
    let reasons = tried["standing"]["reasons"].as_array().unwrap().len();
    assert_eq!(tried["explanation"].as_array().unwrap().len(), reasons);
    let text = tried.to_string();
    assert!(!text.contains("may weld"), "nobody is told that they may weld");
}
