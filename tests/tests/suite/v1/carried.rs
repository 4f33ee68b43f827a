//! What a unit's history adds: the member `carried` of a trial's answer, and `/v1/units/{id}/starting-steps`.

use chrono::TimeDelta;
use lapwatch_tests::harness::{App, Caller, Shop, Trial};
use serde_json::{Value, json};

/// Sends so many good sweeps, one a day, ending yesterday.
async fn good_past(app: &App, director: &Caller<'_>, shop: &Shop, days: i64) {
    for ago in (1..=days).rev() {
        let sweep = Trial::good_sweep(shop, app.now() - TimeDelta::days(ago)).json();
        director.post("/v1/trials", &sweep).await.expect(201);
    }
}

fn start(shop: &Shop, purpose: &str) -> Value {
    json!({
        "upper_membrane_id": shop.membrane, "lower_membrane_id": shop.membrane, "purpose": purpose,
        "speed_set": { "value": 3.05, "unit": "m/min" }, "sheet_temperature": { "value": 20, "unit": "Cel" },
    })
}

fn number(measurement: &Value) -> f64 {
    assert_eq!(measurement["unit"], "Cel");
    measurement["value"].as_f64().expect("a number")
}

/// A check's strips leave both edges open; with the history both are known.
#[tokio::test]
async fn a_check_of_a_known_unit_knows_both_edges() {
    let app = App::start().await;
    let director = app.director();
    let shop = Shop::open(&director).await;
    let first = Trial::good_sweep(&shop, app.now() - TimeDelta::days(7)).json();
    let answer = director.post("/v1/trials", &first).await.expect(201);
    assert_eq!(answer["carried"]["code"], "no_history");
    assert_eq!(answer["carried"]["edges"], Value::Null);
    assert_eq!(answer["carried"]["explanation"].as_array().unwrap().len(), 1);
    good_past(&app, &director, &shop, 6).await;

    let check = Trial::confirmation(&shop, app.now(), ["sss", "sss", "sss"]).json();
    let answer = director.post("/v1/trials", &check).await.expect(201);
    let carried = &answer["carried"];
    assert_eq!(carried["code"], "carried", "{carried}");
    assert_eq!(carried["from"]["trials"], 7);
    assert!(carried["agreement"].as_f64().unwrap() > 0.5);
    // The trial alone cannot say where the edges are.
    assert_eq!(answer["edges"]["lower"]["mean"], Value::Null);
    let lower = number(&carried["edges"]["lower"]["mean"]);
    let upper = number(&carried["edges"]["upper"]["mean"]);
    assert!((lower - 412.0).abs() < 10.0 && (upper - 539.0).abs() < 10.0, "{lower}, {upper}");
    // Alone the band ends with the steps; carried it reaches beyond, and says so.
    assert_eq!(number(&answer["band"]["high"]), 495.0);
    assert!(number(&carried["band"]["high"]) > 495.0 && carried["band"]["above_tried"] == true);
    let to_set = number(&carried["set_point"]["to_set"]);
    assert!((455.0..=495.0).contains(&to_set), "{to_set}");
    assert_eq!(carried["next_coupon"]["action"], "stop");
    assert!(carried["explanation"][3].as_str().unwrap().contains("earlier trials only"), "{carried}");

    // Read again it is the same; so is that of an earlier trial, from what was known before *it*.
    let path = |trial: &Value| format!("/v1/trials/{}", trial["id"].as_str().unwrap());
    let read = director.get(&path(&check)).await.expect(200);
    assert_eq!(&read["answer"]["carried"], carried);
    let earlier = director.get(&path(&first)).await.expect(200);
    assert_eq!(earlier["answer"]["carried"]["code"], "no_history");
}

/// A failed unit is not smoothed away: the answer says that the strips contradict the history, and advises from them alone.
#[tokio::test]
async fn strips_that_contradict_the_history_are_believed() {
    let app = App::start().await;
    let director = app.director();
    let shop = Shop::open(&director).await;
    good_past(&app, &director, &shop, 6).await;
    let shifted = Trial::sweep(&shop, app.now())
        .coupon(420.0, "ccc")
        .coupon(460.0, "ccc")
        .coupon(500.0, "css")
        .coupon(540.0, "sss")
        .coupon(580.0, "sss")
        .json();
    let answer = director.post("/v1/trials", &shifted).await.expect(201);
    let carried = &answer["carried"];
    assert_eq!(carried["code"], "contradicted");
    assert!(carried["agreement"].as_f64().unwrap() < 0.1);
    for advice in ["edges", "band", "set_point", "next_coupon"] {
        assert_eq!(carried[advice], Value::Null, "{advice}");
    }
    assert!(carried["explanation"].to_string().contains("carried advice is withheld"));
    assert!(number(&answer["set_point"]["to_set"]) >= 540.0);
}

/// The same strips give the same evidence, to the byte, on a unit with a history and on one without.
#[tokio::test]
async fn histories_never_see_what_was_carried() {
    let app = App::start().await;
    let director = app.director();
    let shop = Shop::open(&director).await;
    let fresh = shop.another_unit(&director).await;
    good_past(&app, &director, &shop, 6).await;
    let mut answers = Vec::new();
    let mut stored = Vec::new();
    let database = app.superuser().await;
    for shop in [&shop, &fresh] {
        let trial = Trial::confirmation(shop, app.now(), ["css", "sss", "sss"]).json();
        answers.push(director.post("/v1/trials", &trial).await.expect(201));
        let id: uuid::Uuid = trial["id"].as_str().unwrap().parse().unwrap();
        let rows = database
            .query("SELECT edge, profile FROM evidence WHERE trial_id = $1 ORDER BY edge", &[&id])
            .await
            .expect("the evidence is stored");
        stored.push(rows.iter().map(|row| (row.get(0), row.get(1))).collect::<Vec<(String, Vec<u8>)>>());
    }
    assert_eq!(answers[0]["carried"]["code"], "carried");
    assert_eq!(answers[1]["carried"]["code"], "no_history");
    for member in ["edges", "band", "set_point", "next_coupon", "outcome", "explanation"] {
        assert_eq!(answers[0][member], answers[1][member], "{member}");
    }
    assert_eq!(stored[0].len(), 2);
    assert_eq!(stored[0], stored[1]);
}

/// A trial that was performed earlier and arrives later changes what is carried, and nothing else.
#[tokio::test]
async fn a_late_arrival_changes_carried_advice_only() {
    let app = App::start().await;
    let director = app.director();
    let shop = Shop::open(&director).await;
    good_past(&app, &director, &shop, 4).await;
    let check = Trial::confirmation(&shop, app.now(), ["sss", "sss", "sss"]).json();
    let before = director.post("/v1/trials", &check).await.expect(201);
    let late = Trial::good_sweep(&shop, app.now() - TimeDelta::days(9)).json();
    director.post("/v1/trials", &late).await.expect(201);
    let path = format!("/v1/trials/{}", check["id"].as_str().unwrap());
    let after = director.get(&path).await.expect(200)["answer"].clone();
    assert_eq!(
        (&before["carried"]["from"]["trials"], &after["carried"]["from"]["trials"]),
        (&json!(4), &json!(5))
    );
    for member in ["edges", "band", "set_point", "explanation"] {
        assert_eq!(before[member], after[member], "{member}");
    }
}

#[tokio::test]
async fn a_known_unit_begins_around_its_set_point() {
    let app = App::start().await;
    let director = app.director();
    let shop = Shop::open(&director).await;
    let path = format!("/v1/units/{}/starting-steps", shop.unit);
    let unknown = director.post(&path, &start(&shop, "confirmation")).await.expect(200);
    assert_eq!((&unknown["code"], &unknown["reason"]), (&json!("full_sweep"), &json!("no_history")));
    assert_eq!(unknown["steps"], json!([{ "value": 400.0, "unit": "Cel" }]));
    assert!(unknown["explanation"].to_string().contains("full sweep, starting at 400 °C"));

    good_past(&app, &director, &shop, 6).await;
    let known = director.post(&path, &start(&shop, "confirmation")).await.expect(200);
    assert_eq!((&known["code"], &known["reason"]), (&json!("carried"), &Value::Null));
    let steps: Vec<f64> = known["steps"].as_array().unwrap().iter().map(number).collect();
    assert_eq!(steps.len(), 3);
    assert!((steps[1] - 475.0).abs() < 5.0 && (steps[1] - steps[0] - 20.0).abs() < 0.02, "{steps:?}");
    assert_eq!(known["from"]["trials"], 6);
    assert!(known["explanation"].to_string().contains("the latest a day before"));
    assert_eq!(known["slower"], Value::Null);
    let sweep = director.post(&path, &start(&shop, "sweep")).await.expect(200);
    assert!(sweep["steps"].as_array().unwrap().len() >= 4);

    // A colder sheet asks for hotter air; by hand nothing is carried.
    let mut cold = start(&shop, "confirmation");
    cold["sheet_temperature"]["value"] = json!(10);
    let cold = director.post(&path, &cold).await.expect(200);
    assert!(number(&cold["steps"][1]) > steps[1] + 15.0);
    let mut slow = start(&shop, "confirmation");
    slow["speed_set"]["value"] = json!(0.3);
    assert_eq!(director.post(&path, &slow).await.expect(200)["reason"], "dwell_too_long");
}

#[tokio::test]
async fn conditions_that_make_no_sense_are_named() {
    let app = App::start().await;
    let director = app.director();
    let shop = Shop::open(&director).await;
    let path = format!("/v1/units/{}/starting-steps", shop.unit);
    let mut wrong = start(&shop, "guess");
    wrong["sheet_temperature"]["value"] = json!(400);
    wrong["speed_set"]["unit"] = json!("K");
    director.post(&path, &wrong).await.problem(422, "invalid_record").points_at(&[
        ("/purpose", "unknown_code"),
        ("/speed_set/unit", "unknown_unit"),
        ("/sheet_temperature/value", "out_of_range"),
    ]);
}
