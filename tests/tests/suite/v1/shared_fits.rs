//! `/v1/shared-fits`: a production run that moves the edges of all welders is the run's trouble, not theirs.

use chrono::TimeDelta;
use lapwatch_tests::harness::{App, Caller, Shop};
use rand::SeedableRng;
use rand::rngs::StdRng;
use reqwest::Method;
use serde_json::{Value, json};
use uuid::Uuid;

use super::fleet_fits::sweep_of;
use crate::console::pages::{get_with, sign_in};

const UNITS: usize = 4;
const DAYS: i64 = 28;
const SIGMA_K: f64 = 14.0;

pub(super) async fn make(caller: &Caller<'_>, status: u16) -> Value {
    caller.send(Method::POST, "/v1/shared-fits").await.expect(status)
}

/// Sends a sweep a day of each unit. Unit k changes lots k days after days 6, 12 and 18; the last moves its edges by `moved`.
pub(super) async fn sweeps(app: &App, director: &Caller<'_>, moved: f64, random: &mut StdRng) -> Vec<Shop> {
    let shop = Shop::open(director).await;
    let mut units = vec![shop];
    for _ in 1..UNITS {
        units.push(shop.another_unit(director).await);
    }
    let mut lots = vec![shop.lot];
    for _ in 0..3 {
        let next = Shop { lot: Uuid::now_v7(), ..shop };
        director.post("/v1/lots", &next.lot_form()).await.expect(201);
        lots.push(next.lot);
    }
    for day in 0..DAYS {
        for (place, unit) in units.iter().enumerate() {
            let lot = usize::try_from((day - place as i64).clamp(0, 18) / 6).expect("from 0 to 3");
            let level = 415.0 + 5.0 * place as f64 + if lot == 3 { moved } else { 0.0 };
            let unit = Shop { lot: lots[lot], ..*unit };
            let at = app.now() - TimeDelta::days(DAYS - 1 - day);
            let sent = sweep_of(&unit, at, [level, level + 120.0], SIGMA_K, random);
            director.post("/v1/trials", &sent).await.expect(201);
        }
    }
    units.iter().map(|unit| Shop { lot: lots[3], ..*unit }).collect()
}

/// How many units have a drift flag that stands.
async fn drifting(director: &Caller<'_>) -> usize {
    let flags = director.get("/v1/flags").await.expect(200);
    let stands = |flag: &&Value| {
        flag["state"] == "open" && flag["kind"].as_str().is_some_and(|kind| kind.starts_with("drift"))
    };
    let mut units: Vec<&str> = flags["items"]
        .as_array()
        .unwrap()
        .iter()
        .filter(stands)
        .map(|flag| flag["unit_id"].as_str().unwrap())
        .collect();
    units.sort_unstable();
    units.dedup();
    units.len()
}

#[tokio::test]
async fn a_bad_lot_is_flagged_once_and_its_welders_are_left_alone() {
    let seed = 20_261_127;
    println!("seed {seed}");
    let app = App::start().await;
    let units = sweeps(&app, &app.director(), 45.0, &mut StdRng::seed_from_u64(seed)).await;
    assert!(drifting(&app.director()).await >= 3, "nothing was known of the lot yet");

    let made = make(&app.director(), 201).await;
    assert_eq!((made["fit"]["trials"].as_u64(), made["fit"]["units"].as_u64()), (Some(112), Some(4)));
    let notable: Vec<&Value> =
        made["shifts"].as_array().unwrap().iter().filter(|shift| shift["notable"] == true).collect();
    assert_eq!(notable.len(), 1, "{made}");
    let bad = notable[0];
    assert_eq!((&bad["kind"], &bad["lot_id"]), (&json!("lot"), &json!(units[0].lot)));
    assert_eq!((&bad["membrane_id"], &bad["date"]), (&Value::Null, &Value::Null));
    let low = bad["lower"]["low"]["value"].as_f64().unwrap();
    let high = bad["lower"]["high"]["value"].as_f64().unwrap();
    assert!(15.0 < low && low < 45.0 && 30.0 < high, "{bad}");
    assert!(bad["sentences"][2].as_str().unwrap().contains("not flagged"), "{bad}");

    // Within a quarter of an hour each unit is derived anew.
    app.pass(TimeDelta::minutes(16));
    app.run_jobs().await;
    assert_eq!(drifting(&app.director()).await, 0);

    // Whoever looks at the fleet sees it, until the lot is history.
    let session = sign_in(&app).await;
    let page = get_with(&app, "/fleet", &session).await.text().to_owned();
    assert!(
        page.contains("Lot SG15-2604.</strong> This production run moves the lower edge up by"),
        "{page}"
    );

    // Kept as it was made.
    assert_eq!(make(&app.director(), 200).await, made);
    let path = format!("/v1/shared-fits/{}", made["fit"]["id"].as_str().unwrap());
    assert_eq!(app.director().get(&path).await.expect(200), made);
    let listed = app.director().get("/v1/shared-fits").await.expect(200);
    assert_eq!(listed["items"], json!([made["fit"]]));

    // What is wrong with one of them beside is still found: the others say nothing of it.
    let mut random = StdRng::seed_from_u64(seed + 1);
    for minutes in 1..=8 {
        let sent = sweep_of(
            &units[0],
            app.now() - TimeDelta::minutes(10 - minutes),
            [505.0, 625.0],
            SIGMA_K,
            &mut random,
        );
        app.director().post("/v1/trials", &sent).await.expect(201);
    }
    assert_eq!(drifting(&app.director()).await, 1);
}

/// Levels are those on ordinary sheets, but advice is for the sheets at hand.
#[tokio::test]
async fn the_next_trial_on_a_bad_lot_is_expected_where_it_moves_the_edges() {
    let seed = 20_261_128;
    println!("seed {seed}");
    let app = App::start().await;
    let units = sweeps(&app, &app.director(), 45.0, &mut StdRng::seed_from_u64(seed)).await;
    make(&app.director(), 201).await;
    app.pass(TimeDelta::minutes(16));
    app.run_jobs().await;
    let level = async || {
        let history = app.director().get(&format!("/v1/units/{}/history", units[0].unit)).await.expect(200);
        history["series"][0]["lower"]["level"]["value"].as_f64().expect("a level")
    };
    let level = level().await;
    assert!(level < 440.0, "{level}");
    let asked = json!({
        "upper_membrane_id": units[0].membrane, "lower_membrane_id": units[0].membrane, "purpose": "confirmation",
        "speed_set": { "value": 3.05, "unit": "m/min" }, "sheet_temperature": { "value": 20, "unit": "Cel" },
    });
    let path = format!("/v1/units/{}/starting-steps", units[0].unit);
    let steps = app.director().post(&path, &asked).await.expect(200);
    let expected = steps["from"]["lower"]["mean"]["value"].as_f64().expect("an edge");
    assert!(expected > level + 15.0, "{expected} {level}: {steps}");
    assert!(steps["explanation"][2].as_str().unwrap().contains("these sheets move"), "{steps}");
}

/// Once a day, when there were trials; a small fleet is told that it is small.
#[tokio::test]
async fn a_fit_is_made_once_a_day() {
    let app = App::start().await;
    make(&app.director(), 422).await;
    let shop = Shop::open(&app.director()).await;
    let mut random = StdRng::seed_from_u64(5);
    let sent = sweep_of(&shop, app.now(), [420.0, 540.0], SIGMA_K, &mut random);
    app.director().post("/v1/trials", &sent).await.expect(201);
    app.pass(TimeDelta::minutes(1));
    let count = async || {
        app.run_jobs().await;
        let listed = app.director().get("/v1/shared-fits").await.expect(200);
        listed["items"].as_array().unwrap().len()
    };
    assert_eq!((count().await, count().await), (1, 1));
    app.pass(TimeDelta::hours(25));
    assert_eq!(count().await, 1, "no trial since");
    let sent = sweep_of(&shop, app.now(), [420.0, 540.0], SIGMA_K, &mut random);
    app.director().post("/v1/trials", &sent).await.expect(201);
    assert_eq!(count().await, 2);
    let made = make(&app.director(), 200).await;
    assert_eq!((&made["shifts"], &made["fit"]["trial_noise"]["basis"]), (&json!([]), &json!("few_units")));
    assert_eq!(made["fit"]["trial_noise"]["value"], json!({ "value": 8.0, "unit": "K" }));
}
