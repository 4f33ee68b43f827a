//! `/v1/exports`: tables for spreadsheets and other programs.

use chrono::TimeDelta;
use lapwatch_tests::harness::{App, Caller, Scale, Shop, Trial};
use serde_json::{Value, json};

/// The lines of a table in JSON.
async fn lines(caller: &Caller<'_>, path: &str) -> Vec<Value> {
    let reply = caller.get(path).await;
    reply.expect_status(200);
    assert_eq!(reply.header("content-type"), "application/x-ndjson");
    reply.text().lines().map(|line| serde_json::from_str(line).expect("a JSON object")).collect()
}

#[tokio::test]
async fn a_trial_has_a_row_for_each_strip() {
    let app = App::start().await;
    let director = app.director();
    let shop = Shop::open(&director).await;
    let trial = Trial::good_sweep(&shop, app.now())
        .on(Scale::Fahrenheit)
        .coupon(600.0, "")
        .member("operator", json!("=cmd|'/c calc'!A1"))
        .member("substrate", json!("wood, \"old\""))
        .json();
    let answer = director.post("/v1/trials", &trial).await.expect(201);
    let reply = director.get("/v1/exports/trials").await;
    reply.expect_status(200);
    assert!(reply.header("content-type").starts_with("text/csv"), "{}", reply.header("content-type"));
    assert_eq!(reply.header("content-disposition"), "attachment; filename=\"trials.csv\"");
    let text = reply.text();
    let table: Vec<&str> = text.split_terminator("\r\n").collect();
    assert_eq!(table.len(), 1 + 6 * 3 + 1, "a line of names, 18 strips, a coupon without any");
    assert!(table[0].contains(",set_temperature (Cel),") && table[0].ends_with("result_set_point (Cel)"));
    assert!(table[1].contains(",'=cmd|'/c calc'!A1,"), "no formula: {}", table[1]);
    assert!(table[1].contains(",\"wood, \"\"old\"\"\","), "{}", table[1]);

    let rows = lines(&director, "/v1/exports/trials?format=ndjson").await;
    assert_eq!((rows.len(), &rows[0]["operator"]), (19, &trial["operator"]));
    assert_eq!((&rows[3]["coupon"], &rows[3]["strip"]), (&json!("2"), &json!("1")));
    assert_eq!(
        (&rows[3]["set_temperature (Cel)"], &rows[3]["mode"]),
        (&json!(420.0), &json!("interface_opened"))
    );
    assert_eq!((&rows[18]["coupon"], &rows[18]["mode"]), (&json!("7"), &Value::Null));
    for row in &rows {
        assert_eq!(
            (&row["trial_id"], &row["unit"], &row["crew"]),
            (&trial["id"], &json!("SM-07"), &json!("Heron crew"))
        );
        assert_eq!(
            (&row["result_outcome"], &row["result_disposition"]),
            (&answer["outcome"]["code"], &json!("accepted"))
        );
    }
    let us = lines(&director, "/v1/exports/trials?format=ndjson&units=us").await;
    assert_eq!(us[3]["set_temperature ([degF])"], 788.0);
    assert_eq!(us[3]["width ([in_i])"], 1.0);
    director.get("/v1/exports/trials?format=xlsx").await.problem(400, "bad_request");
    director.get("/v1/exports/trials?units=imperial").await.problem(400, "bad_request");
}

/// More trials than are read at a time: none is missing, none stands twice, and the crew's are those of its list.
#[tokio::test]
async fn a_long_table_is_whole() {
    let app = App::start().await;
    let director = app.director();
    let shop = Shop::open(&director).await;
    let other = shop.another_crew(&director).await;
    let trials: Vec<Value> = (0..420)
        .map(|number| {
            let shop = if number % 3 == 0 { &other } else { &shop };
            // Some at the same time.
            let at = app.now() - TimeDelta::minutes(number / 2);
            Trial::confirmation(shop, at, ["s", "s", "s"]).json()
        })
        .collect();
    for some in trials.chunks(140) {
        director.post("/v1/envelopes", &json!(some)).await.expect(200);
    }
    let ids = |rows: &[Value]| {
        let mut ids: Vec<String> = rows.iter().map(|row| row["trial_id"].to_string()).collect();
        ids.dedup();
        ids
    };
    let rows = lines(&director, "/v1/exports/trials?format=ndjson").await;
    assert_eq!(rows.len(), 3 * 420);
    let mut found = ids(&rows);
    assert_eq!(found.len(), 420, "the rows of a trial stand together");
    found.sort();
    found.dedup();
    assert_eq!(found.len(), 420);
    let theirs = app.app_of_crew(&["trials:read", "units:read", "rechecks:read"], other.crew).await;
    let rows = lines(&theirs, "/v1/exports/trials?format=ndjson").await;
    assert_eq!(ids(&rows).len(), 140);
    assert!(rows.iter().all(|row| row["unit_id"] == json!(other.unit)));
    for table in ["histories", "rechecks"] {
        let rows = lines(&theirs, &format!("/v1/exports/{table}?format=ndjson")).await;
        assert!(!rows.is_empty() && rows.iter().all(|row| row["unit_id"] == json!(other.unit)), "{table}");
    }
}

/// Records that carry more than the service holds of them at a time are in the table like any other.
#[tokio::test]
async fn a_table_of_large_records_is_whole() {
    let app = App::start().await;
    let director = app.director();
    let shop = Shop::open(&director).await;
    let mut expected = Vec::new();
    for number in 0..7 {
        // 5 MB, more than goes at a time, among small ones.
        let extra = json!({ "trace": "7".repeat(if number % 3 == 1 { 5_000_000 } else { 10 }) });
        let at = app.now() - TimeDelta::minutes(number);
        let trial = Trial::confirmation(&shop, at, ["s", "s", "s"]).member("extra", extra).json();
        director.post("/v1/trials", &trial).await.expect(201);
        expected.push(trial["id"].clone());
    }
    let rows = lines(&director, "/v1/exports/trials?format=ndjson").await;
    let mut found: Vec<Value> = rows.iter().map(|row| row["trial_id"].clone()).collect();
    found.dedup();
    assert_eq!(found, expected);
}

/// They say what the operations of single units say.
#[tokio::test]
async fn histories_and_rechecks_are_those_of_the_units() {
    let app = App::start().await;
    let director = app.director();
    let shop = Shop::open(&director).await;
    for day in 0..5 {
        let trial = Trial::good_sweep(&shop, app.now() - TimeDelta::days(day));
        director.post("/v1/trials", &trial.json()).await.expect(201);
    }
    let rows = lines(&director, "/v1/exports/histories?format=ndjson").await;
    let history = director.get(&format!("/v1/units/{}/history", shop.unit)).await.expect(200);
    let points = history["series"][0]["lower"]["points"].as_array().unwrap();
    assert_eq!((rows.len(), points.len()), (10, 5));
    for (row, point) in rows.iter().zip(points) {
        assert_eq!((&row["edge"], &row["trial_id"]), (&json!("lower"), &point["trial_id"]));
        assert_eq!(row["middle (Cel)"], point["middle"]["value"]);
        assert_eq!(row["chart_up"], point["chart_up"]);
    }
    let rows = lines(&director, "/v1/exports/rechecks?format=ndjson").await;
    let rechecks = director.get("/v1/rechecks").await.expect(200);
    let rechecks = rechecks["items"].as_array().unwrap();
    assert_eq!(rows.len(), rechecks.len());
    for (row, recheck) in rows.iter().zip(rechecks) {
        assert_eq!((&row["recheck_id"], &row["state"]), (&recheck["id"], &recheck["state"]));
    }
    let text = director.get("/v1/exports/rechecks").await.text();
    assert!(text.starts_with("recheck_id,unit,unit_id,crew,"), "{text}");
}
