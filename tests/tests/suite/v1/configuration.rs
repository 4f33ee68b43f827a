//! Sites, crews, membranes, lots, units, criteria and policy: versions, and what refers to what.

use chrono::TimeDelta;
use lapwatch_tests::harness::{App, Shop, Trial};
use serde_json::{Value, json};
use uuid::Uuid;

/// What was sent comes back from all three operations that show it, with the defaults filled in.
#[tokio::test]
async fn what_is_added_can_be_read_and_listed() {
    let app = App::start().await;
    let director = app.director();
    let shop = Shop::plan();
    for (path, form) in [
        ("/v1/sites", shop.site_form()),
        ("/v1/crews", shop.crew_form()),
        ("/v1/membranes", shop.membrane_form()),
        ("/v1/lots", shop.lot_form()),
        ("/v1/units", shop.unit_form()),
    ] {
        let added = director.post(path, &form).await.expect(201);
        for (member, sent) in form.as_object().unwrap() {
            let kept = &added[member];
            let same = kept == sent
                || member == "rated_power"
                || kept["value"].as_f64().is_some_and(|value| Some(value) == sent["value"].as_f64());
            assert!(same, "{path} {member}: {kept} for {sent}");
        }
        assert_eq!(added["retired"], false);
        let id = form["id"].as_str().unwrap();
        assert_eq!(director.get(&format!("{path}/{id}")).await.expect(200), added);
        assert_eq!(director.get(path).await.expect(200)["items"], json!([added]));
    }
    let unit = director.get(&format!("/v1/units/{}", shop.unit)).await.expect(200);
    assert_eq!(unit["rated_power"], json!({ "value": 4600.0, "unit": "W" }));
}

/// The service makes an id where the request has none.
#[tokio::test]
async fn an_id_is_made_if_there_is_none() {
    let app = App::start().await;
    let added = app
        .director()
        .post("/v1/sites", &json!({ "name": "Mole Head", "time_zone": "UTC" }))
        .await
        .expect(201);
    let id = Uuid::parse_str(added["id"].as_str().unwrap()).unwrap();
    assert_eq!(id.get_version_num(), 7);
    assert_eq!(added["effective_from"], json!(app.now()), "in force from now");
}

/// A trial is judged by what was in force when it was performed, whatever has been changed since.
#[tokio::test]
async fn a_trial_is_judged_by_the_versions_of_its_time() {
    let app = App::start().await;
    let director = app.director();
    let shop = Shop::open(&director).await;
    let before = Trial::good_sweep(&shop, app.now() - TimeDelta::days(2)).json();
    let first = director.post("/v1/trials", &before).await.expect(201);

    let mut membrane = shop.membrane_form();
    membrane["effective_from"] = json!(app.now() - TimeDelta::days(1));
    membrane["maker_ceiling"] = json!({ "value": 465, "unit": "Cel" });
    director.put(&format!("/v1/membranes/{}", shop.membrane), &membrane).await.expect(200);

    let after = director.post("/v1/trials", &Trial::good_sweep(&shop, app.now()).json()).await.expect(201);
    let to_set = |answer: &Value| answer["set_point"]["to_set"]["value"].as_f64().unwrap();
    assert!(to_set(&first) > 470.0 && to_set(&after) <= 465.0, "{} {}", to_set(&first), to_set(&after));
    let again = director.get(&format!("/v1/trials/{}", before["id"].as_str().unwrap())).await.expect(200);
    assert_eq!(to_set(&again["answer"]), to_set(&first));
    // One that arrives late is judged by its own time, too.
    let late = Trial::good_sweep(&shop, app.now() - TimeDelta::days(3)).json();
    let late = director.post("/v1/trials", &late).await.expect(201);
    assert_eq!(to_set(&late), to_set(&first));
}

#[tokio::test]
async fn retired_units_leave_the_fleet_and_keep_their_past() {
    let app = App::start().await;
    let director = app.director();
    let shop = Shop::open(&director).await;
    director.post("/v1/trials", &Trial::good_sweep(&shop, app.now()).json()).await.expect(201);
    let mut unit = shop.unit_form();
    unit["retired"] = json!(true);
    unit["effective_from"] = json!(app.now());
    director.put(&format!("/v1/units/{}", shop.unit), &unit).await.expect(200);
    assert_eq!(director.get("/v1/fleet").await.expect(200)["units"], json!([]));
    assert_eq!(director.get("/v1/units").await.expect(200)["items"][0]["retired"], true);
    let history = director.get(&format!("/v1/units/{}/history", shop.unit)).await.expect(200);
    assert_eq!(history["series"][0]["lower"]["points"].as_array().unwrap().len(), 1);
}

#[tokio::test]
async fn broken_rules_are_named() {
    let app = App::start().await;
    let director = app.director();
    let shop = Shop::open(&director).await;
    let measure = |value: f64, unit: &str| json!({ "value": value, "unit": unit });
    let cases: [(&str, Value, &str, Value, &str, &str); 17] = [
        ("/v1/sites", shop.site_form(), "time_zone", json!("Halifax"), "/time_zone", "unknown_time_zone"),
        ("/v1/sites", shop.site_form(), "latitude_deg", json!(91), "/latitude_deg", "out_of_range"),
        ("/v1/sites", shop.site_form(), "latitude_deg", json!(null), "/latitude_deg", "incomplete"),
        ("/v1/sites", shop.site_form(), "name", json!(" \u{0}"), "/name", "wrong_type"),
        ("/v1/crews", shop.crew_form(), "site_id", json!(Uuid::nil()), "/site_id", "unknown_id"),
        ("/v1/crews", shop.crew_form(), "temperature_unit", json!("F"), "/temperature_unit", "unknown_unit"),
        ("/v1/crews", shop.crew_form(), "speed_unit", json!("mph"), "/speed_unit", "unknown_unit"),
        (
            "/v1/membranes",
            shop.membrane_form(),
            "material_class",
            json!("pe"),
            "/material_class",
            "unknown_code",
        ),
        (
            "/v1/membranes",
            shop.membrane_form(),
            "thickness",
            measure(0.0, "mm"),
            "/thickness/value",
            "not_positive",
        ),
        ("/v1/lots", shop.lot_form(), "membrane_id", json!(Uuid::nil()), "/membrane_id", "unknown_id"),
        ("/v1/lots", shop.lot_form(), "produced_on", json!("2026-02-30"), "/produced_on", "wrong_type"),
        ("/v1/units", shop.unit_form(), "crew_id", json!(Uuid::nil()), "/crew_id", "unknown_id"),
        ("/v1/units", shop.unit_form(), "weld_method", json!("robot"), "/weld_method", "unknown_code"),
        (
            "/v1/units",
            shop.unit_form(),
            "display_step",
            measure(0.0, "K"),
            "/display_step/value",
            "out_of_range",
        ),
        (
            "/v1/units",
            shop.unit_form(),
            "display_step",
            measure(10.0, "Cel"),
            "/display_step/unit",
            "unknown_unit",
        ),
        (
            "/v1/units",
            shop.unit_form(),
            "rated_voltage",
            measure(-230.0, "V"),
            "/rated_voltage/value",
            "negative",
        ),
        ("/v1/units", shop.unit_form(), "colour", json!("red"), "/colour", "unknown_field"),
    ];
    for (path, form, member, spoilt, pointer, code) in cases {
        let mut form = form;
        form[member] = spoilt.clone();
        eprintln!("{path} {member} = {spoilt}");
        director.post(path, &form).await.problem(422, "invalid_record").points_at(&[(pointer, code)]);
    }
}

/// Nothing that the database refuses may come so far: zero is no voltage, and no double is too large for an answer.
#[tokio::test]
async fn odd_numbers_are_refused_before_the_database() {
    let app = App::start().await;
    let director = app.director();
    let shop = Shop::open(&director).await;
    for (member, value, unit) in [
        ("rated_voltage", 0.0, "V"),
        ("rated_power", 0.0, "W"),
        ("rated_power", 1e300, "kW"),
        ("nozzle_width", 1e300, "m"),
        ("maximum_set_temperature", 1e300, "Cel"),
        ("maximum_set_temperature", -1.0, "Cel"),
    ] {
        let mut form = shop.unit_form();
        form[member] = json!({ "value": value, "unit": unit });
        let reply = director.post("/v1/units", &form).await;
        let problem = reply.problem(422, "invalid_record");
        assert_eq!(problem.findings()[0].0, format!("/{member}/value"), "{value} {unit}");
    }
    for time in ["-200000-01-01T00:00:00Z", "+200000-01-01T00:00:00Z", "0001-01-01T00:00:00Z"] {
        let mut form = shop.unit_form();
        form["effective_from"] = json!(time);
        let reply = director.post("/v1/units", &form).await;
        assert!(!reply.status.is_server_error(), "{time}: {}", reply.text());
    }
}

#[tokio::test]
async fn an_address_and_its_body_name_one_thing() {
    let app = App::start().await;
    let director = app.director();
    let shop = Shop::open(&director).await;
    let mut form = shop.unit_form();
    form["id"] = json!(Uuid::now_v7());
    let reply = director.put(&format!("/v1/units/{}", shop.unit), &form).await;
    reply.problem(422, "invalid_record").points_at(&[("/id", "wrong_id")]);
}

#[tokio::test]
async fn criteria_and_policy_have_sensible_limits() {
    let app = App::start().await;
    let director = app.director();
    for (path, changes) in [
        (
            "/v1/criteria",
            vec![
                ("share_limit", json!(0), "/share_limit"),
                ("share_limit", json!(0.5), "/share_limit"),
                ("minimum_strips", json!(0), "/minimum_strips"),
                ("cold_weight", json!(0), "/cold_weight"),
                ("hot_weight", json!(1e9), "/hot_weight"),
                ("bond_width_hand", json!({ "value": 0, "unit": "mm" }), "/bond_width_hand/value"),
            ],
        ),
        (
            "/v1/policy",
            vec![
                ("working_days", json!([0]), "/working_days/0"),
                ("trial_due_after_min", json!(721), "/trial_due_after_min"),
                ("in_use_days", json!(0), "/in_use_days"),
                ("edge_finding_interval_days", json!(366), "/edge_finding_interval_days"),
                ("promise_arl_trials", json!(19), "/promise_arl_trials"),
                ("shift_start", json!("25:00:00"), "/shift_start"),
            ],
        ),
    ] {
        let current = director.get(path).await.expect(200);
        for (member, value, pointer) in changes {
            let mut changed = current.clone();
            changed[member] = value;
            let problem = director.put(path, &changed).await.problem(422, "invalid_record");
            assert_eq!(problem.findings()[0].0, pointer);
        }
        assert_eq!(director.get(path).await.expect(200), current, "nothing was changed");
    }
}
