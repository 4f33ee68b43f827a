//! `/v1/fleet-fits`: what an organization's own trials say of the numbers behind bands and charts.

use chrono::{DateTime, TimeDelta, Utc};
use lapwatch_tests::harness::{App, Caller, Shop, Trial};
use rand::rngs::StdRng;
use rand::{RngExt, SeedableRng};
use reqwest::Method;
use serde_json::{Value, json};
use uuid::Uuid;

async fn make(caller: &Caller<'_>, status: u16) -> Value {
    caller.send(Method::POST, "/v1/fleet-fits").await.expect(status)
}

/// A normal number, near enough.
fn normal(random: &mut StdRng) -> f64 {
    (0..12).map(|_| random.random::<f64>()).sum::<f64>() - 6.0
}

/// A sweep in steps of 15 K of a unit whose edges lie at 420 and 540 °C, and whose strips scatter by `sigma` about them; half
/// of the scatter is the coupon's.
fn sweep(shop: &Shop, at: DateTime<Utc>, sigma: f64, random: &mut StdRng) -> Value {
    sweep_of(shop, at, [420.0, 540.0], sigma, random)
}

/// The same of a unit with these edges (°C).
pub(super) fn sweep_of(
    shop: &Shop,
    at: DateTime<Utc>,
    edges: [f64; 2],
    sigma: f64,
    random: &mut StdRng,
) -> Value {
    (0..17)
        .map(|step| 360.0 + 15.0 * f64::from(step))
        .fold(Trial::sweep(shop, at), |trial, celsius| {
            let [lower, upper] = edges.map(|edge| edge + sigma * 0.5_f64.sqrt() * normal(random));
            let strips: String = (0..3)
                .map(|_| {
                    let own = sigma * 0.5_f64.sqrt();
                    if celsius < lower + own * normal(random) {
                        'c'
                    } else if celsius > upper + own * normal(random) {
                        'h'
                    } else {
                        's'
                    }
                })
                .collect();
            trial.coupon(celsius, &strips)
        })
        .json()
}

/// Sends `days` sweeps of each of four units, one a day, ending now.
async fn sweeps(app: &App, director: &Caller<'_>, days: i64) -> Shop {
    let seed = 20_261_126;
    println!("seed {seed}");
    let mut random = StdRng::seed_from_u64(seed);
    let shop = Shop::open(director).await;
    let mut units = vec![shop];
    for _ in 0..3 {
        units.push(shop.another_unit(director).await);
    }
    for ago in (0..days).rev() {
        for unit in &units {
            let sent = sweep(unit, app.now() - TimeDelta::days(ago), 26.0, &mut random);
            director.post("/v1/trials", &sent).await.expect(201);
        }
    }
    shop
}

/// A fleet whose strips scatter more than usual is judged by its own scatter, from a day after the fit on; what was performed
/// before stays as it was, whenever it arrives.
#[tokio::test]
async fn trials_are_judged_by_the_fit_of_their_day() {
    let app = App::start().await;
    let shop = sweeps(&app, &app.director(), 6).await;
    let performed = app.now();
    let before = Trial::good_sweep(&shop, performed).json();
    let first = app.director().post("/v1/trials", &before).await.expect(201);
    assert_eq!(first["assumed"]["fleet_fit_id"], Value::Null);
    assert_eq!(first["assumed"]["correlation"], 0.5);
    assert_eq!(first["assumed"]["scatter"], json!({ "value": 17.0, "unit": "K" }));
    assert_eq!(first["assumed"]["scatter_ln_standard_deviation"], 0.9);

    let fit = make(&app.director(), 201).await;
    assert_eq!((fit["trials"].as_u64(), fit["units"].as_u64()), (Some(25), Some(4)));
    assert_eq!(
        (&fit["scatter"]["basis"], &fit["correlation"]["basis"]),
        (&json!("fitted"), &json!("fitted"))
    );
    let [low, high] =
        ["median_low", "median_high"].map(|end| fit["scatter"][end]["value"].as_f64().expect("a number"));
    assert!(17.0 < low && low < 26.0 && 26.0 < high, "{}", fit["scatter"]);
    assert!(fit["sentences"][2].as_str().unwrap().contains("of 4 units"), "{}", fit["sentences"]);

    // Not yet.
    app.pass(TimeDelta::hours(23));
    let next = Trial::good_sweep(&shop, app.now()).json();
    let answer = app.director().post("/v1/trials", &next).await.expect(201);
    assert_eq!(answer["assumed"]["fleet_fit_id"], Value::Null);
    assert_eq!(answer["edges"], first["edges"]);

    app.pass(TimeDelta::hours(2));
    let after = Trial::good_sweep(&shop, app.now()).json();
    let answer = app.director().post("/v1/trials", &after).await.expect(201);
    assert_eq!(answer["assumed"]["fleet_fit_id"], fit["id"]);
    let assumed = answer["assumed"]["correlation"].as_f64().unwrap();
    assert!((assumed - fit["correlation"]["estimate"]["mean"].as_f64().unwrap()).abs() <= 0.005);
    assert_eq!(answer["assumed"]["scatter"]["value"], fit["scatter"]["median"]["value"]);
    assert!(answer["assumed"]["sentence"].as_str().unwrap().contains("own trials of 20"));
    // The same strips, but known to scatter more: the band is narrower.
    let width = |answer: &Value| {
        answer["band"]["high"]["value"].as_f64().unwrap() - answer["band"]["low"]["value"].as_f64().unwrap()
    };
    assert!(width(&answer) < width(&first) - 1.0, "{} {}", width(&answer), width(&first));

    // Read again, each is what it was; and one of the day before, that comes only now, is judged as then.
    for (sent, answered) in [(&before, &first), (&after, &answer)] {
        let path = format!("/v1/trials/{}", sent["id"].as_str().unwrap());
        let read = app.director().get(&path).await.expect(200);
        assert_eq!(
            (&read["answer"]["assumed"], &read["answer"]["band"]),
            (&answered["assumed"], &answered["band"])
        );
    }
    let late = Trial::good_sweep(&shop, performed).json();
    let answer = app.director().post("/v1/trials", &late).await.expect(201);
    assert_eq!((&answer["assumed"], &answer["band"]), (&first["assumed"], &first["band"]));
}

/// Few trials leave the usual values, and say why.
#[tokio::test]
async fn a_small_fleet_keeps_the_usual_values() {
    let app = App::start().await;
    make(&app.director(), 422).await;
    let shop = Shop::open(&app.director()).await;
    app.director().post("/v1/trials", &Trial::good_sweep(&shop, app.now()).json()).await.expect(201);
    let fit = make(&app.director(), 201).await;
    assert_eq!(fit["scatter"]["basis"], "few_units");
    assert_eq!(fit["scatter"]["median"], json!({ "value": 17.0, "unit": "K" }));
    assert_eq!(fit["heat_shares"][0]["basis"], "few_units");
    assert_eq!(fit["heat_shares"][0]["mean"]["mean"], 0.27);
    assert!(fit["sentences"][1].as_str().unwrap().contains("stays at the usual 0.5"), "{fit}");
    // Asked again within the hour, the same; then another.
    assert_eq!(make(&app.director(), 200).await, fit);
    app.pass(TimeDelta::minutes(61));
    assert_ne!(make(&app.director(), 201).await["id"], fit["id"]);
    let listed = app.director().get("/v1/fleet-fits").await.expect(200);
    assert_eq!(listed["items"].as_array().unwrap().len(), 2);
    assert_eq!(listed["items"][1], fit);
}

/// The job makes one when there is something to make it from, and not again before a week has brought more.
#[tokio::test]
async fn a_fit_is_made_once_a_week() {
    let app = App::start().await;
    let count = async || {
        app.run_jobs().await;
        let listed = app.director().get("/v1/fleet-fits").await.expect(200);
        listed["items"].as_array().unwrap().len()
    };
    assert_eq!(count().await, 0);
    let shop = Shop::open(&app.director()).await;
    let sweeps = async |number: i64| {
        for ago in 0..number {
            let sweep = Trial::good_sweep(&shop, app.now() - TimeDelta::minutes(ago)).json();
            app.director().post("/v1/trials", &sweep).await.expect(201);
        }
    };
    sweeps(29).await;
    assert_eq!(count().await, 0);
    // One that was withdrawn is none.
    let sent = Trial::good_sweep(&shop, app.now()).json();
    app.director().post("/v1/trials", &sent).await.expect(201);
    let withdrawn = json!({
        "id": Uuid::now_v7(), "record_id": sent["id"], "at": app.now(), "reason": "A test.",
    });
    app.director().post("/v1/retractions", &withdrawn).await.expect(201);
    assert_eq!(count().await, 0);
    sweeps(1).await;
    assert_eq!((count().await, count().await), (1, 1));
    app.pass(TimeDelta::days(6));
    sweeps(30).await;
    assert_eq!(count().await, 1);
    app.pass(TimeDelta::days(1));
    assert_eq!(count().await, 2);
    app.pass(TimeDelta::days(8));
    assert_eq!(count().await, 2);
}

/// Who acts for one crew sees what holds for all, and the shares of its own units.
#[tokio::test]
async fn a_crew_sees_the_shares_of_its_own_units() {
    let app = App::start().await;
    let director = app.director();
    let shop = Shop::open(&director).await;
    let other = shop.another_crew(&director).await;
    for shop in [&shop, &other] {
        director.post("/v1/trials", &Trial::good_sweep(shop, app.now()).json()).await.expect(201);
    }
    let fit = make(&director, 201).await;
    let path = format!("/v1/fleet-fits/{}", fit["id"].as_str().unwrap());
    let whole = director.get(&path).await.expect(200);
    assert_eq!(whole["fit"], fit);
    assert_eq!(whole["units"].as_array().unwrap().len(), 2);
    let own = app.app_of_crew(&["units:read"], shop.crew).await.get(&path).await.expect(200);
    assert_eq!(own["fit"], fit);
    let units = own["units"].as_array().unwrap();
    assert_eq!(units.len(), 1);
    assert_eq!(units[0]["unit_id"], shop.unit.to_string());
    assert!(units[0]["sentence"].as_str().unwrap().contains("do not tell"), "{}", units[0]);
}

/// Three welders that fade say how fast that goes in this fleet; the fit leads what is said of when their margins are gone, and so
/// do the criteria.
#[tokio::test]
async fn fades_tell_how_fast_a_fleet_fades() {
    const BEFORE: i64 = 35;
    const DAYS: i64 = 95;
    let app = App::start().await;
    let director = app.director();
    let mut random = StdRng::seed_from_u64(20_261_128);
    let shop = Shop::open(&director).await;
    let mut units = vec![shop];
    for _ in 0..2 {
        units.push(shop.another_unit(&director).await);
    }
    for (unit, rate) in units.iter().zip([0.5, 0.6, 0.7]) {
        let sent: Vec<Value> = (0..DAYS)
            .map(|day| {
                let moved = rate * (day - BEFORE).max(0) as f64;
                let at = app.now() - TimeDelta::days(DAYS - 1 - day);
                sweep_of(unit, at, [420.0 + moved, 540.0 + moved], 15.0, &mut random)
            })
            .collect();
        let answer = director.post("/v1/envelopes", &json!(sent)).await.expect(200);
        assert!(answer["results"].as_array().unwrap().iter().all(|result| result["result"] == "created"));
    }
    let fit = make(&director, 201).await;
    let fades = &fit["fades"];
    assert_eq!((&fades["basis"], &fades["units"]), (&json!("fitted"), &json!(3)), "{fades}");
    let kelvin = |member: &str| fades[member]["value"].as_f64().expect("a number");
    assert!(kelvin("change_low") < 0.6 && 0.6 < kelvin("change_high"), "{fades}");
    let told = fit["sentences"].as_array().unwrap().last().unwrap().as_str().unwrap();
    assert!(told.contains("from 3 fades of 3 units"), "{told}");

    // Two days later the fit holds, and a trial a day tells when the margin is gone.
    let middle = async |days: i64, random: &mut StdRng| {
        app.pass(TimeDelta::days(1));
        let moved = 0.6 * (DAYS - 1 - BEFORE + days) as f64;
        let edges = [420.0 + moved, 540.0 + moved];
        let sent = sweep_of(&units[1], app.now(), edges, 15.0, random);
        app.director().post("/v1/trials", &sent).await.expect(201);
        let flags = app.director().get(&format!("/v1/flags?unit_id={}", units[1].unit)).await.expect(200);
        let lower = |flag: &&Value| flag["kind"] == "drift_up" && flag["series"] == "pvc.lower";
        let drift = flags["items"].as_array().unwrap().iter().find(lower).expect("it drifts");
        drift["margin_used_up"].clone()
    };
    middle(1, &mut random).await;
    let by_tenth = middle(2, &mut random).await;
    let mut criteria = app.director().get("/v1/criteria").await.expect(200);
    criteria["share_limit"] = json!(0.005);
    criteria.as_object_mut().unwrap().remove("effective_from");
    app.director().put("/v1/criteria", &criteria).await.expect(200);
    let by_less = middle(3, &mut random).await;
    let day =
        |told: &Value| told["middle"].as_str().expect("a time").parse::<DateTime<Utc>>().expect("a time");
    assert!(
        day(&by_less) < day(&by_tenth) - TimeDelta::days(7),
        "the margin is narrower: {by_tenth} {by_less}"
    );

    // Fits of before fades were looked at leave the usual rate.
    let sql = "UPDATE fleet_fit SET fade_basis = NULL, fade_units = NULL, fade_count = NULL, fade_k_per_day = NULL, \
               fade_ln_rate = NULL";
    app.superuser().await.execute(sql, &[]).await.expect("as before");
    let old = &app.director().get("/v1/fleet-fits").await.expect(200)["items"][0]["fades"];
    assert_eq!((&old["basis"], &old["units"]), (&json!("few_units"), &json!(0)));
    assert_eq!(
        old["change_in_a_day"]["value"].as_f64().map(|kelvin| (kelvin * 10.0).round()),
        Some(5.0),
        "{old}"
    );
}
