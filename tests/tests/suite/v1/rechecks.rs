//! `/v1/rechecks`: which unit has to be tried when.
//!
//! The site lies in the zone `America/Halifax`, in June three hours behind UTC; the shift starts at 07:00 local time and
//! the day's trial is due two hours later, at 12:00 UTC.

use chrono::{DateTime, TimeDelta, TimeZone, Utc};
use lapwatch_tests::harness::{App, Shop, Trial};
use serde_json::{Value, json};
use uuid::Uuid;

fn june(day: u32, hour: u32, minute: u32) -> DateTime<Utc> {
    Utc.with_ymd_and_hms(2026, 6, day, hour, minute, 0).single().expect("that moment exists")
}

/// A service on the morning of Tuesday, 9 June, whose unit has had a good sweep at 07:30 local time.
async fn tuesday() -> (App, Shop) {
    let app = App::start_at(june(9, 10, 30)).await;
    let shop = Shop::open(&app.director()).await;
    app.director().post("/v1/trials", &Trial::good_sweep(&shop, app.now()).json()).await.expect(201);
    (app, shop)
}

/// The unit's recheck of a local day, `Null` if there is none.
async fn recheck_of(app: &App, shop: &Shop, day: &str) -> Value {
    let list = app.director().get(&format!("/v1/rechecks?unit_id={}", shop.unit)).await.expect(200);
    let found: Vec<Value> =
        list["items"].as_array().unwrap().iter().filter(|r| r["due_on"] == day).cloned().collect();
    assert!(found.len() <= 1, "at most one a day: {found:?}");
    found.into_iter().next().unwrap_or_default()
}

async fn plan(app: &App, shop: &Shop, day: &str, welding: bool, units: &[Uuid]) {
    let plan = json!({
        "id": Uuid::now_v7(), "crew_id": shop.crew, "date": day, "welding": welding, "unit_ids": units,
        "recorded_at": app.now(),
    });
    app.director().post("/v1/day-plans", &plan).await.expect(201);
}

/// Due by the site's clock, overdue by nothing but the passing of time, satisfied by a check.
#[tokio::test]
async fn the_trial_of_the_day() {
    let (app, shop) = tuesday().await;
    let today = recheck_of(&app, &shop, "2026-06-09").await;
    assert_ne!(today["state"], "open", "the sweep was the trial of its day: {today}");

    app.pass_until(june(10, 10, 30));
    app.run_jobs().await;
    let due = recheck_of(&app, &shop, "2026-06-10").await;
    assert_eq!(due["state"], "open");
    assert_eq!(due["reasons"], json!(["daily"]));
    assert_eq!(due["purpose"], "confirmation");
    assert_eq!(due["due_at"], json!(june(10, 12, 0)));
    assert_eq!(due["crew_id"], json!(shop.crew));

    // No job and no request changes anything now: the clock alone does.
    app.pass_until(june(10, 12, 1));
    assert_eq!(recheck_of(&app, &shop, "2026-06-10").await["state"], "overdue");
    let fleet = app.director().get("/v1/fleet").await.expect(200);
    assert_eq!(fleet["counts"]["overdue"], 1);
    assert_eq!(fleet["units"][0]["next_recheck"]["state"], "overdue");
    let overdue = app.director().get("/v1/rechecks?state=overdue").await.expect(200);
    assert_eq!(overdue["items"][0]["id"], due["id"], "{overdue}");
    let open = app.director().get("/v1/rechecks?state=open").await.expect(200);
    assert!(!open.to_string().contains(due["id"].as_str().unwrap()), "{open}");

    let check = Trial::confirmation(&shop, app.now(), ["sss", "sss", "sss"]).json();
    let answer = app.director().post("/v1/trials", &check).await.expect(201);
    let satisfied = recheck_of(&app, &shop, "2026-06-10").await;
    assert_eq!((&satisfied["state"], &satisfied["satisfied_by"]), (&json!("satisfied"), &check["id"]));
    assert_eq!(satisfied["id"], due["id"], "it is still the same recheck");
    assert_eq!(answer["next_recheck"]["due_on"], "2026-06-11", "the next working day");
    assert_eq!(app.director().get("/v1/fleet").await.expect(200)["counts"]["overdue"], 0);
}

/// A check that is waited for says what to weld: around the set point, on the crew's scale, never above a ceiling.
#[tokio::test]
async fn a_check_says_what_to_weld() {
    let (app, shop) = tuesday().await;
    app.pass_until(june(10, 10, 30));
    app.run_jobs().await;
    let fleet = app.director().get("/v1/fleet").await.expect(200);
    let set = fleet["units"][0]["set_point"]["value"].as_f64().expect("a set point");
    let steps = async || -> Vec<f64> {
        let due = recheck_of(&app, &shop, "2026-06-10").await;
        let steps = due["suggested_steps"].as_array().unwrap_or_else(|| panic!("no steps: {due}")).clone();
        steps.iter().map(|step| step["value"].as_f64().unwrap()).collect()
    };
    assert_eq!(steps().await, [set - 20.0, set, set + 20.0]);
    let mut membrane = shop.membrane_form();
    membrane["maker_ceiling"] = json!({ "value": set + 5.0, "unit": "Cel" });
    let path = format!("/v1/membranes/{}", shop.membrane);
    membrane["effective_from"] = json!(app.now());
    app.director().put(&path, &membrane).await.expect(200);
    assert_eq!(steps().await, [set - 20.0, set], "nothing above the maker's ceiling");
    let check = Trial::confirmation(&shop, app.now(), ["sss", "sss", "sss"]).json();
    app.director().post("/v1/trials", &check).await.expect(201);
    let done = recheck_of(&app, &shop, "2026-06-10").await;
    assert_eq!((&done["state"], &done["suggested_steps"]), (&json!("satisfied"), &Value::Null));
}

/// A unit that no crew has keeps the hours of UTC: its rechecks are there, and nobody's.
#[tokio::test]
async fn a_unit_without_a_crew() {
    let (app, shop) = tuesday().await;
    let mut form = shop.unit_form();
    form["crew_id"] = Value::Null;
    form["effective_from"] = json!(app.now());
    app.director().put(&format!("/v1/units/{}", shop.unit), &form).await.expect(200);
    app.pass_until(june(10, 6, 30));
    app.run_jobs().await;
    let due = recheck_of(&app, &shop, "2026-06-10").await;
    assert_eq!((&due["state"], &due["crew_id"]), (&json!("open"), &Value::Null), "{due}");
    assert_eq!(due["due_at"], json!(june(10, 9, 0)));
}

/// The same instant is another day elsewhere: 01:30 UTC on Wednesday is still Tuesday on the site.
#[tokio::test]
async fn days_are_local() {
    let (app, shop) = tuesday().await;
    app.pass_until(june(10, 1, 30));
    app.run_jobs().await;
    let late = Trial::confirmation(&shop, app.now(), ["sss", "sss", "sss"]).json();
    app.director().post("/v1/trials", &late).await.expect(201);
    app.pass_until(june(10, 10, 30));
    app.run_jobs().await;
    let wednesday = recheck_of(&app, &shop, "2026-06-10").await;
    assert_eq!(wednesday["state"], "open", "Tuesday evening's check is not Wednesday's: {wednesday}");
}

/// A rain day asks for nothing and nothing of it is overdue; a plan that comes later than the morning counts too.
#[tokio::test]
async fn a_rain_day_is_not_overdue() {
    let (app, shop) = tuesday().await;
    app.pass_until(june(10, 10, 30));
    app.run_jobs().await;
    assert_eq!(recheck_of(&app, &shop, "2026-06-10").await["state"], "open");
    plan(&app, &shop, "2026-06-10", false, &[]).await;
    app.pass_until(june(10, 18, 0));
    app.run_jobs().await;
    assert_eq!(recheck_of(&app, &shop, "2026-06-10").await, Value::Null);
    let fleet = app.director().get("/v1/fleet").await.expect(200);
    assert_eq!(fleet["counts"]["overdue"], 0, "{fleet}");
}

/// With a plan, exactly the units it names are due, even on a Sunday; of two plans the one written last counts.
#[tokio::test]
async fn a_day_plan_says_which_units_are_due() {
    let (app, shop) = tuesday().await;
    let other = shop.another_unit(&app.director()).await;
    app.pass_until(june(13, 18, 0));
    plan(&app, &shop, "2026-06-14", true, &[shop.unit, other.unit]).await;
    app.pass(TimeDelta::minutes(10));
    plan(&app, &shop, "2026-06-14", true, &[other.unit]).await;
    app.pass_until(june(14, 10, 30));
    app.run_jobs().await;
    assert_eq!(recheck_of(&app, &shop, "2026-06-14").await, Value::Null, "left out of the later plan");
    let due = recheck_of(&app, &other, "2026-06-14").await;
    assert_eq!(due["state"], "open", "named, though it is Sunday and it was never used: {due}");
    assert!(
        due["reasons"].as_array().unwrap().contains(&json!("edge_finding")),
        "its edges are unknown: {due}"
    );
    assert_eq!(due["purpose"], "sweep");
}

/// A unit that nobody used for longer than the policy says asks for nothing.
#[tokio::test]
async fn an_idle_unit_is_left_alone() {
    let (app, shop) = tuesday().await;
    app.pass_until(june(24, 10, 30));
    app.run_jobs().await;
    assert_eq!(recheck_of(&app, &shop, "2026-06-24").await, Value::Null);
}

/// Every fourteen days the edges have to be looked for; a check of the set point is not enough then.
#[tokio::test]
async fn edges_are_looked_for_again() {
    let (app, shop) = tuesday().await;
    for day in 10..=22 {
        app.pass_until(june(day, 10, 30));
        let check = Trial::confirmation(&shop, app.now(), ["sss", "sss", "sss"]).json();
        app.director().post("/v1/trials", &check).await.expect(201);
    }
    app.pass_until(june(23, 10, 30));
    app.run_jobs().await;
    let due = recheck_of(&app, &shop, "2026-06-23").await;
    assert_eq!((&due["reasons"], &due["purpose"]), (&json!(["edge_finding", "daily"]), &json!("sweep")));
    let check = Trial::confirmation(&shop, app.now(), ["sss", "sss", "sss"]).json();
    app.director().post("/v1/trials", &check).await.expect(201);
    assert_eq!(recheck_of(&app, &shop, "2026-06-23").await["state"], "open", "a check finds no edges");
    app.director().post("/v1/trials", &Trial::good_sweep(&shop, app.now()).json()).await.expect(201);
    assert_eq!(recheck_of(&app, &shop, "2026-06-23").await["state"], "satisfied");
}

/// An equipment person waives one, says why, and it stays waived.
#[tokio::test]
async fn a_recheck_is_waived() {
    let (app, shop) = tuesday().await;
    app.pass_until(june(10, 10, 30));
    app.run_jobs().await;
    let due = recheck_of(&app, &shop, "2026-06-10").await;
    let decision = json!({
        "id": Uuid::now_v7(), "kind": "waive", "unit_id": shop.unit, "at": app.now(), "seen_id": due["id"],
        "remark": "The unit stays in the shop today.",
    });
    app.director().post("/v1/decisions", &decision).await.expect(201);
    app.pass_until(june(10, 18, 0));
    app.run_jobs().await;
    assert_eq!(recheck_of(&app, &shop, "2026-06-10").await["state"], "waived");
}
