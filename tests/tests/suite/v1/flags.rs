//! `/v1/flags`, `/v1/decisions` and the standing of a unit: from a failed trial to a release, from a drift to its closing.

use chrono::TimeDelta;
use lapwatch_tests::harness::{App, Shop, Trial};
use serde_json::{Value, json};
use uuid::Uuid;

const SOUND: [&str; 3] = ["sss", "sss", "sss"];
const COLD: [&str; 3] = ["ccc", "ccc", "css"];

/// A unit with a good sweep yesterday.
async fn a_unit() -> (App, Shop) {
    let app = App::start().await;
    let shop = Shop::open(&app.director()).await;
    app.director()
        .post("/v1/trials", &Trial::good_sweep(&shop, app.now() - TimeDelta::days(1)).json())
        .await
        .expect(201);
    (app, shop)
}

async fn post(app: &App, trial: Trial) -> Value {
    app.director().post("/v1/trials", &trial.json()).await.expect(201)
}

async fn standing(app: &App, shop: &Shop) -> Value {
    app.director().get(&format!("/v1/units/{}/standing", shop.unit)).await.expect(200)
}

async fn flags(app: &App, shop: &Shop, kind: &str) -> Vec<Value> {
    let list = app.director().get(&format!("/v1/flags?unit_id={}", shop.unit)).await.expect(200);
    list["items"].as_array().unwrap().iter().filter(|flag| flag["kind"] == kind).cloned().collect()
}

/// Sends a decision about the unit, made now.
async fn decide(app: &App, shop: &Shop, kind: &str, more: Value) {
    let mut decision = json!({
        "id": Uuid::now_v7(), "kind": kind, "unit_id": shop.unit, "at": app.now(), "remark": "Seen on site.",
    });
    for (member, value) in more.as_object().into_iter().flatten() {
        decision[member] = value.clone();
    }
    app.director().post("/v1/decisions", &decision).await.expect(201);
}

fn span(shop: &Shop, app: &App, place: &str, from: TimeDelta, to: TimeDelta) -> Value {
    json!({
        "id": Uuid::now_v7(), "unit_id": shop.unit, "crew_id": shop.crew, "from": app.now() + from,
        "to": app.now() + to, "place": place,
    })
}

/// A failed check: stop, what to probe before it is covered, a flag, a repetition.
#[tokio::test]
async fn a_failed_check_lists_what_was_welded_since_the_last_good_trial() {
    let (app, shop) = a_unit().await;
    let director = app.director();
    let hours = TimeDelta::hours;
    let good = post(&app, Trial::confirmation(&shop, app.now() - hours(6), SOUND)).await;
    let before = span(&shop, &app, "Hall 3, rows 1 to 3", hours(-9), hours(-7));
    let across = span(&shop, &app, "Hall 3, rows 4 to 9", hours(-7), hours(-4));
    let inside = span(&shop, &app, "Hall 4, curb", hours(-3), hours(-1));
    for span in [&before, &across, &inside] {
        director.post("/v1/production-spans", span).await.expect(201);
    }
    let failed = post(&app, Trial::confirmation(&shop, app.now(), COLD)).await;
    assert_eq!(failed["outcome"]["code"], "failed");
    assert!(failed["explanation"].to_string().to_lowercase().contains("stop"), "{}", failed["explanation"]);

    let suspects = failed["suspect_spans"].as_array().unwrap();
    let places: Vec<&str> = suspects.iter().filter_map(|span| span["place"].as_str()).collect();
    assert_eq!(places, ["Hall 3, rows 4 to 9", "Hall 4, curb"], "not what the good trial vouched for");
    assert_eq!(suspects[0]["from"], json!(app.now() - hours(6)), "from the good trial on");
    for suspect in suspects {
        assert_eq!(suspect["reason"], "failed_trial");
        assert_eq!(suspect["urgency"], "before_covering");
        assert_eq!(suspect["last_good_trial_id"], good["trial"]["id"]);
        assert_eq!(suspect["evidence_trial_id"], failed["trial"]["id"]);
    }
    assert_eq!(failed["standing"]["code"], "warning");
    assert_eq!(failed["standing"]["reasons"][0], "trial_failed");
    assert_eq!(failed["next_recheck"]["reasons"][0], "failed_trial", "{}", failed["next_recheck"]);

    let raised = flags(&app, &shop, "failed_trial").await;
    assert_eq!(raised.len(), 1);
    assert_eq!((&raised[0]["state"], &raised[0]["severity"]), (&json!("open"), &json!("severe")));
    let one = director.get(&format!("/v1/flags/{}", raised[0]["id"].as_str().unwrap())).await.expect(200);
    assert_eq!(one, raised[0]);

    // A good repetition settles it; the spans stay listed until somebody has looked.
    app.pass(hours(1));
    let repeated = post(&app, Trial::confirmation(&shop, app.now(), SOUND)).await;
    assert_eq!(repeated["suspect_spans"], json!([]));
    assert_eq!(flags(&app, &shop, "failed_trial").await[0]["state"], "closed");
    let after = standing(&app, &shop).await;
    assert_ne!(after["standing"]["code"], "warning", "{after}");
    assert_eq!(after["suspect_spans"].as_array().unwrap().len(), 2, "{after}");
}

/// A step beside the set point fails: no reason to stop, but the margin is gone.
#[tokio::test]
async fn a_lost_margin_asks_for_a_new_set_point() {
    let (app, shop) = a_unit().await;
    let answer = post(&app, Trial::confirmation(&shop, app.now(), ["css", "sss", "sss"])).await;
    assert_eq!(answer["outcome"]["code"], "margin_lost");
    assert_eq!(answer["suspect_spans"], json!([]));
    assert_eq!(flags(&app, &shop, "margin_lost").await.len(), 1);
    let reasons = &answer["next_recheck"]["reasons"];
    assert_eq!(reasons[0], "margin_lost", "{reasons}");
    assert_eq!(answer["next_recheck"]["purpose"], "sweep");
}

/// Out of use after two failures; back only after service, two good trials and a release, in that order.
#[tokio::test]
async fn two_failures_withdraw_a_unit_until_it_is_released() {
    let (app, shop) = a_unit().await;
    let next = async |trial: Trial| {
        app.pass(TimeDelta::minutes(30));
        post(&app, trial.member("performed_at", json!(app.now()))).await["standing"].clone()
    };
    let check = |strips| Trial::confirmation(&shop, app.now(), strips);
    assert_eq!(next(check(COLD)).await["code"], "warning");
    let withdrawn = next(check(COLD)).await;
    assert_eq!(withdrawn["code"], "withdrawn");
    assert_eq!(withdrawn["reasons"], json!(["two_failures_in_a_row", "awaits_service"]));
    assert_eq!(flags(&app, &shop, "withdrawn").await[0]["severity"], "severe");

    // Good trials and a release without a cause do not bring it back.
    next(check(SOUND)).await;
    next(check(SOUND)).await;
    decide(&app, &shop, "release", json!({ "concern": "withdrawn" })).await;
    assert_eq!(standing(&app, &shop).await["standing"]["reasons"][1], "awaits_service");

    app.pass(TimeDelta::minutes(30));
    let service = json!({
        "id": Uuid::now_v7(), "unit_id": shop.unit, "performed_at": app.now(), "kind": "heater_replaced",
        "affects_heat": true, "parts": ["heating element"],
    });
    app.director().post("/v1/service-events", &service).await.expect(201);
    assert_eq!(standing(&app, &shop).await["standing"]["reasons"][1], "awaits_two_good_trials");
    assert_eq!(next(Trial::good_sweep(&shop, app.now())).await["reasons"][1], "awaits_two_good_trials");
    assert_eq!(next(check(SOUND)).await["reasons"][1], "awaits_release");

    app.pass(TimeDelta::minutes(30));
    decide(&app, &shop, "release", json!({ "concern": "withdrawn" })).await;
    let back = standing(&app, &shop).await;
    assert_ne!(back["standing"]["code"], "withdrawn", "{back}");
    assert_eq!(flags(&app, &shop, "withdrawn").await[0]["state"], "closed");
}

/// Both edges move up by 45 °C after twelve sweeps: the chart signals, and asks for the edges.
#[tokio::test]
async fn a_drifting_unit_is_flagged_and_closing_the_flag_quiets_it() {
    let app = App::start().await;
    let shop = Shop::open(&app.director()).await;
    let sweep = |shift: f64| {
        let steps =
            [(380.0, "ccc"), (420.0, "css"), (460.0, "sss"), (500.0, "sss"), (540.0, "shh"), (580.0, "hhh")];
        let coupon = |trial: Trial, (celsius, strips): (f64, &str)| trial.coupon(celsius + shift, strips);
        steps.into_iter().fold(Trial::sweep(&shop, app.now()), coupon)
    };
    let mut answer = Value::Null;
    for _ in 0..12 {
        answer = post(&app, sweep(0.0)).await;
        app.pass(TimeDelta::days(2));
    }
    assert_eq!(answer["standing"]["code"], "steady", "{}", answer["standing"]);
    assert_eq!(answer["flags"], json!([]));
    let mut shifted = 0;
    let lower = |flag: &Value| flag["kind"] == "drift_up" && flag["series"] == "pvc.lower";
    while !answer["flags"].as_array().unwrap().iter().any(lower) {
        assert!(shifted < 12, "twelve shifted sweeps raised no flag: {}", answer["standing"]);
        answer = post(&app, sweep(40.0)).await;
        app.pass(TimeDelta::days(2));
        shifted += 1;
    }
    assert!(shifted >= 2, "one odd trial is no drift");
    assert_eq!(answer["standing"]["code"], "drifting");
    assert!(answer["standing"]["reasons"].as_array().unwrap().contains(&json!("lower_edge_up")), "{answer}");

    let drifts = flags(&app, &shop, "drift_up").await;
    let drift = drifts.into_iter().find(lower).unwrap();
    assert_eq!(drift["state"], "open");
    let shift = drift["shift"]["value"].as_f64().unwrap();
    assert!((15.0..=60.0).contains(&shift), "a shift of 40 K is estimated as {shift} K");
    assert!(drift["onset"]["from"].as_str() <= drift["onset"]["to"].as_str(), "{drift}");
    assert!(drift["causes"]["ranked"].as_array().unwrap().len() >= 2, "{drift}");
    app.run_jobs().await;
    let standing_now = standing(&app, &shop).await;
    let pending: Vec<&Value> = standing_now["rechecks"]
        .as_array()
        .unwrap()
        .iter()
        .filter(|r| r["state"] == "open" || r["state"] == "overdue")
        .collect();
    assert!(pending.iter().any(|r| r["reasons"].to_string().contains("drift_flag")), "{standing_now}");

    // Seen, then settled by a person; the history keeps the signal.
    let series = drift["series"].clone();
    decide(
        &app,
        &shop,
        "acknowledge",
        json!({ "series": series, "concern": "drift_up", "seen_id": drift["id"] }),
    )
    .await;
    let state_of = async |id: &Value| {
        app.director().get(&format!("/v1/flags/{}", id.as_str().unwrap())).await.expect(200)["state"].clone()
    };
    assert_eq!(state_of(&drift["id"]).await, "acknowledged");
    app.pass(TimeDelta::minutes(5));
    decide(&app, &shop, "close", json!({ "concern": "drift_up" })).await;
    assert_eq!(state_of(&drift["id"]).await, "closed");
    let open = app.director().get(&format!("/v1/flags?unit_id={}&state=open", shop.unit)).await.expect(200);
    assert!(!open.to_string().contains("drift_up"), "{open}");
    let history = app.director().get(&format!("/v1/units/{}/history", shop.unit)).await.expect(200);
    let signals = history["series"][0]["lower"]["signals"].as_array().unwrap();
    assert!(signals.iter().all(|signal| signal["stands"] == false), "{signals:?}");
}

/// A sweep whose edges lie so many kelvins higher than usual.
fn moved_sweep(app: &App, shop: &Shop, by: f64) -> Trial {
    [(380.0, "ccc"), (420.0, "css"), (460.0, "sss"), (500.0, "sss"), (540.0, "shh"), (580.0, "hhh")]
        .into_iter()
        .fold(Trial::sweep(shop, app.now()), |trial, (celsius, strips)| trial.coupon(celsius + by, strips))
}

/// The sensor reads 40 K high: probes at the nozzle and timed runs, sent with the trials, single it out.
#[tokio::test]
async fn what_was_measured_beside_the_strips_tells_the_cause() {
    let app = App::start().await;
    let shop = Shop::open(&app.director()).await;
    let probed = |by: f64| {
        let mut trial =
            moved_sweep(&app, &shop, by).member("speed_timed", json!({ "value": 3.05, "unit": "m/min" }));
        trial = trial.probe(2, 460.0).probe(4, 540.0);
        post(&app, trial)
    };
    for _ in 0..10 {
        probed(0.0).await;
        app.pass(TimeDelta::days(2));
    }
    for _ in 0..6 {
        probed(40.0).await;
        app.pass(TimeDelta::days(2));
    }
    let drifts = flags(&app, &shop, "drift_up").await;
    assert!(!drifts.is_empty());
    for drift in drifts {
        assert_eq!(drift["causes"]["named"], "sensor_bias", "{}", drift["causes"]);
        assert_eq!(drift["causes"]["tell_apart"], json!([]));
    }
}

/// A fade that goes on tells when it has used up the margin; an edge that moved away from the set point says nothing of it.
#[tokio::test]
async fn a_fade_tells_when_the_margin_is_used_up() {
    let app = App::start().await;
    let shop = Shop::open(&app.director()).await;
    let mut states = Vec::new();
    for trial in 0..35 {
        let by = 2.0 * f64::from((trial - 14).max(0));
        post(&app, moved_sweep(&app, &shop, by)).await;
        app.pass(TimeDelta::days(2));
        let lower = |flag: &&Value| flag["series"] == "pvc.lower" && flag["state"] == "open";
        if let Some(flag) = flags(&app, &shop, "drift_up").await.iter().find(lower) {
            let limit = &flag["margin_used_up"];
            let state = limit["state"].as_str().unwrap().to_owned();
            let times: Vec<&str> =
                ["earliest", "middle", "latest"].iter().filter_map(|at| limit[*at].as_str()).collect();
            assert_eq!(times.len(), if state == "between" { 3 } else { 0 }, "{limit}");
            assert!(times.is_sorted(), "{limit}");
            states.push(state);
        }
    }
    assert!(states.iter().any(|state| state == "between" || state == "reached"), "{states:?}");
    let upper = flags(&app, &shop, "drift_up").await;
    let upper = upper.iter().find(|flag| flag["series"] == "pvc.upper").expect("the upper edge moved too");
    assert_eq!(upper["margin_used_up"], Value::Null);
}

/// A heater on a sagging supply: flagged while the measured voltage leaves too little above the set point.
#[tokio::test]
async fn a_sagging_supply_raises_a_flag_and_a_good_one_settles_it() {
    let (app, shop) = a_unit().await;
    let on = async |volts: f64| {
        let supply = json!({ "source": "generator", "voltage_loaded": { "value": volts, "unit": "V" } });
        let trial = post(&app, Trial::good_sweep(&shop, app.now()).member("supply", supply)).await;
        app.pass(TimeDelta::hours(1));
        trial
    };
    let answer = on(190.0).await;
    assert_eq!(answer["flags"][0]["kind"], "heater_limit", "{}", answer["flags"]);
    assert_eq!(answer["standing"]["reasons"][0], "heater_near_limit");
    assert!(answer["flags"][0]["sentence"].as_str().unwrap().contains("what the heater can reach"));
    on(230.0).await;
    assert_eq!(flags(&app, &shop, "heater_limit").await[0]["state"], "closed");
}

/// A drive that begins to slip: the timed speed says so, with edges that a few trials cannot tell yet.
#[tokio::test]
async fn a_slipping_drive_is_flagged_by_its_timed_speed() {
    let (app, shop) = a_unit().await;
    let timed = async |speed: f64| {
        let timed = json!({ "value": speed, "unit": "m/min" });
        let trial = Trial::confirmation(&shop, app.now(), SOUND).member("speed_timed", timed);
        app.pass(TimeDelta::days(1));
        post(&app, trial).await
    };
    for trial in 0..12 {
        let answer = timed(3.05 + 0.02 * f64::from(trial % 3 - 1)).await;
        assert_eq!(answer["flags"], json!([]), "{}", answer["flags"]);
    }
    let mut answer = Value::Null;
    for _ in 0..6 {
        answer = timed(2.75).await;
    }
    let flag = answer["flags"]
        .as_array()
        .unwrap()
        .iter()
        .find(|flag| flag["kind"] == "channel_down")
        .expect("a flag");
    assert_eq!(flag["series"], "channel.timed_speed");
    assert!(flag["sentence"].as_str().unwrap().contains('%'), "{flag}");
    assert_eq!(answer["standing"]["reasons"][0], "channel_moved", "{}", answer["standing"]);
    app.pass(TimeDelta::minutes(5));
    decide(&app, &shop, "close", json!({ "concern": "channel_down", "series": "channel.timed_speed" })).await;
    assert_eq!(flags(&app, &shop, "channel_down").await[0]["state"], "closed");
}

/// What settles something says why, for those who read it years later; and it is kept as it was sent.
#[tokio::test]
async fn decisions_say_why_and_are_kept() {
    let (app, shop) = a_unit().await;
    let director = app.director();
    for kind in ["waive", "close", "release"] {
        let mute = json!({ "id": Uuid::now_v7(), "kind": kind, "unit_id": shop.unit, "at": app.now() });
        director
            .post("/v1/decisions", &mute)
            .await
            .problem(422, "invalid_record")
            .points_at(&[("/remark", "required")]);
    }
    for (member, value, code) in [
        ("series", "pvc.middle", "unknown_code"),
        ("concern", "bad_luck", "unknown_code"),
        ("kind", "ignore", "unknown_code"),
    ] {
        let mut decision =
            json!({ "id": Uuid::now_v7(), "kind": "remark", "unit_id": shop.unit, "at": app.now() });
        decision[member] = json!(value);
        let problem = director.post("/v1/decisions", &decision).await.problem(422, "invalid_record");
        problem.points_at(&[(&format!("/{member}"), code)]);
    }
    // About something that is not there (any more): kept all the same.
    decide(&app, &shop, "close", json!({ "concern": "drift_up", "seen_id": Uuid::now_v7() })).await;
    let kept = director.get(&format!("/v1/decisions?unit_id={}", shop.unit)).await.expect(200);
    assert_eq!(kept["items"].as_array().unwrap().len(), 1, "{kept}");
    assert_eq!(kept["items"][0]["remark"], "Seen on site.");
}
