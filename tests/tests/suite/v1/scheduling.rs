//! `/v1/rechecks/what-if` and `/v1/policies/preview`: what would be due, and what would have been.

use chrono::{DateTime, TimeDelta, TimeZone, Utc};
use lapwatch_tests::harness::{App, Shop, Trial};
use serde_json::{Value, json};
use uuid::Uuid;

fn june(day: u32, hour: u32, minute: u32) -> DateTime<Utc> {
    Utc.with_ymd_and_hms(2026, 6, day, hour, minute, 0).single().expect("that moment exists")
}

/// A service on the morning of Tuesday, 9 June (zone `America/Halifax`), whose unit has had a good sweep at 07:30 local time.
async fn tuesday() -> (App, Shop) {
    let app = App::start_at(june(9, 10, 30)).await;
    let shop = Shop::open(&app.director()).await;
    app.director().post("/v1/trials", &Trial::good_sweep(&shop, app.now()).json()).await.expect(201);
    (app, shop)
}

async fn what_if(app: &App, question: Value) -> Vec<Value> {
    let answer = app.director().post("/v1/rechecks/what-if", &question).await.expect(200);
    answer["items"].as_array().unwrap().clone()
}

fn colder(by: f64) -> Value {
    json!({ "sheet_temperature_change": { "value": by, "unit": "K" } })
}

/// A degree matters to nobody; what a trial's margin does not cover is added to the day's trial. Nothing of it is kept.
#[tokio::test]
async fn a_colder_tomorrow() {
    let (app, shop) = tuesday().await;
    let before = app.director().get("/v1/rechecks").await.expect(200);
    let [one] = &what_if(&app, colder(-1.0)).await[..] else { panic!("one unit is in use") };
    assert_eq!(
        (&one["unit_id"], &one["due_on"], &one["reasons"], &one["added_reasons"]),
        (&json!(shop.unit), &json!("2026-06-10"), &json!(["daily"]), &json!([]))
    );
    let [one] = &what_if(&app, colder(-20.0)).await[..] else { panic!("one unit is in use") };
    assert_eq!(one["reasons"], json!(["conditions_changed", "daily"]));
    assert_eq!(one["added_reasons"], json!(["conditions_changed"]));
    let (by, margin) = (&one["band_shift"]["by"]["value"], &one["band_shift"]["margin"]["value"]);
    assert!(by.as_f64() > margin.as_f64() && margin.as_f64() > Some(0.0), "{one}");
    assert!(one["band_shift"]["sentence"].as_str().unwrap().contains("higher"), "{one}");
    let warmer = &what_if(&app, colder(20.0)).await[0];
    assert!(warmer["band_shift"]["by"]["value"].as_f64() < Some(0.0), "{warmer}");
    let windy = &what_if(&app, json!({ "wind_speed": { "value": 12, "unit": "m/s" } })).await[0];
    assert_eq!(windy["added_reasons"], json!(["conditions_changed"]));
    assert_eq!(windy["band_shift"], Value::Null);
    assert_eq!(app.director().get("/v1/rechecks").await.expect(200), before, "nothing was stored");
    let events = app.director().get("/v1/day-events").await.expect(200);
    assert_eq!(events["items"], json!([]));
}

/// The day's trial has been made, so only the weather asks for another today; a Sunday and somebody else's units ask for none.
#[tokio::test]
async fn a_colder_today_and_a_day_off() {
    let (app, shop) = tuesday().await;
    app.pass(TimeDelta::minutes(40));
    let on = |date: &str| {
        let mut question = colder(-20.0);
        question["date"] = json!(date);
        question
    };
    let today = what_if(&app, on("2026-06-09")).await;
    // The unit was never used before today, so nothing was due: the sweep was of its own accord.
    assert_eq!(today, Vec::<Value>::new());
    assert_eq!(what_if(&app, on("2026-06-14")).await, Vec::<Value>::new(), "Sunday");
    let mut elsewhere = colder(-20.0);
    elsewhere["crew_id"] = json!(Uuid::now_v7());
    assert_eq!(what_if(&app, elsewhere).await, Vec::<Value>::new());
    let mut own = colder(-20.0);
    own["unit_id"] = json!(shop.unit);
    assert_eq!(what_if(&app, own).await.len(), 1);

    app.pass_until(june(10, 10, 30));
    let check = Trial::confirmation(&shop, app.now(), ["sss", "sss", "sss"]).json();
    app.director().post("/v1/trials", &check).await.expect(201);
    app.pass(TimeDelta::minutes(40));
    let today = what_if(&app, on("2026-06-10")).await;
    assert_eq!(today[0]["added_reasons"], json!(["conditions_changed"]), "{today:?}");
}

#[tokio::test]
async fn what_is_wrong_with_a_question_is_named() {
    let (app, _) = tuesday().await;
    let mut both = colder(-20.0);
    both["sheet_temperature"] = json!({ "value": 4, "unit": "Cel" });
    both["date"] = json!("2026-08-01");
    let refused = app.director().post("/v1/rechecks/what-if", &both).await.problem(422, "invalid_record");
    refused.points_at(&[("/sheet_temperature", "wrong_count"), ("/date", "out_of_range")]);
    let mut question = preview(&app, 14).await;
    question["policy"]["working_days"] = json!([9]);
    question["from"] = json!(june(9, 10, 30) - TimeDelta::days(400));
    let refused = app.director().post("/v1/policies/preview", &question).await.problem(422, "invalid_record");
    refused.points_at(&[("/from", "out_of_range"), ("/policy/working_days/0", "out_of_range")]);
    question["policy"]["working_days"] = json!([1]);
    question["from"] = json!(june(12, 0, 0));
    let refused = app.director().post("/v1/policies/preview", &question).await.problem(422, "invalid_record");
    refused.points_at(&[("/from", "out_of_order")]);
}

/// The policy in force with another interval between searches for the edges, over June so far.
async fn preview(app: &App, interval_days: u16) -> Value {
    let mut policy = app.director().get("/v1/policy").await.expect(200);
    for days in
        ["edge_finding_interval_days", "least_edge_finding_interval_days", "most_edge_finding_interval_days"]
    {
        policy[days] = json!(interval_days);
    }
    json!({ "policy": policy, "from": june(1, 0, 0) })
}

/// Two weeks of checks and a day missed: with edges due every 3 days instead of 14 more is asked for, and more is late.
#[tokio::test]
async fn another_policy_beside_the_one_in_force() {
    let (app, shop) = tuesday().await;
    for day in [10, 11, 12, 15, 16, 17, 19] {
        app.pass_until(june(day, 10, 30));
        let check = Trial::confirmation(&shop, app.now(), ["sss", "sss", "sss"]).json();
        app.director().post("/v1/trials", &check).await.expect(201);
    }
    app.pass_until(june(19, 20, 0));
    app.run_jobs().await;
    let before = app.director().get("/v1/rechecks").await.expect(200);
    let ask = async |days| {
        let question = preview(&app, days).await;
        app.director().post("/v1/policies/preview", &question).await.expect(200)
    };
    let same = ask(14).await;
    assert_eq!(same["in_force"], same["proposed"], "the policy in force against itself");
    assert_eq!(same["units"], 1);
    // Wednesday to Friday, Saturday (a working day, missed), Monday to Friday.
    let due = before["items"].as_array().unwrap();
    let by_now = due.iter().filter(|recheck| recheck["due_at"].as_str() <= Some("2026-06-19T20:00:00Z"));
    assert_eq!(same["in_force"]["rechecks"], by_now.count(), "as they are stored");
    let missed = due.iter().filter(|recheck| recheck["state"] == "missed").count();
    assert!(missed >= 2, "Saturday and Thursday: {due:?}");
    assert_eq!(same["in_force"]["missed"], missed);

    let often = ask(3).await;
    assert_eq!(often["in_force"], same["in_force"]);
    let count = |tally: &Value, code: &str| {
        let found = tally["by_reason"].as_array().unwrap().iter().find(|count| count["code"] == code);
        found.map_or(0, |count| count["count"].as_u64().unwrap())
    };
    assert_eq!(count(&often["in_force"], "edge_finding"), 0);
    assert!(count(&often["proposed"], "edge_finding") >= 5, "{often}");
    assert!(often["proposed"]["overdue"].as_u64() > often["in_force"]["overdue"].as_u64(), "{often}");
    assert_eq!(app.director().get("/v1/rechecks").await.expect(200), before, "nothing was stored");
}

/// Flags are counted by kind, and those of the time before the span are not.
#[tokio::test]
async fn flags_of_the_span_are_counted() {
    let (app, shop) = tuesday().await;
    let failed = Trial::confirmation(&shop, app.now() + TimeDelta::minutes(5), ["ccc", "ccc", "ccc"]).json();
    app.pass(TimeDelta::minutes(30));
    app.director().post("/v1/trials", &failed).await.expect(201);
    let mut question = preview(&app, 14).await;
    question["policy"]["promise_arl_trials"] = json!(100);
    let found = app.director().post("/v1/policies/preview", &question).await.expect(200);
    let expected = json!([{ "code": "failed_trial", "count": 1 }]);
    assert_eq!((&found["in_force"]["flags"], &found["proposed"]["flags"]), (&expected, &expected));
    question["to"] = json!(june(9, 10, 31));
    let before = app.director().post("/v1/policies/preview", &question).await.expect(200);
    assert_eq!(before["proposed"]["flags"], json!([]));
}
