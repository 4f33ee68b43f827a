//! What a crew's phone is told of.

use std::collections::BTreeSet;

use chrono::{DateTime, TimeDelta, Utc};
use lapwatch_tests::harness::{App, Caller, Shop, Trial};
use serde_json::{Value, json};
use uuid::Uuid;

use super::{event, read_all};

const SCOPES: [&str; 5] = ["trials:read", "units:read", "rechecks:read", "plans:read", "configuration:read"];

fn ids<'i>(items: &'i [Value], kind: &str) -> Vec<(&'i str, String)> {
    let of_kind = items.iter().filter(|item| item["kind"] == kind);
    of_kind.map(|item| (item["event"].as_str().unwrap(), item["id"].as_str().unwrap().to_owned())).collect()
}

#[tokio::test]
async fn a_crew_hears_of_its_own_and_of_what_concerns_everybody() {
    let app = App::start().await;
    let director = app.director();
    let ours = Shop::open(&director).await;
    let theirs = ours.another_crew(&director).await;
    for shop in [ours, theirs] {
        let failed = Trial::confirmation(&shop, app.now(), ["ccc", "ccc", "ccc"]).json();
        director.post("/v1/trials", &failed).await.expect(201);
        director.post("/v1/service-events", &event(shop.unit, app.now())).await.expect(201);
    }
    let phone = app.app_of_crew(&SCOPES, ours.crew).await;
    let (items, _) = read_all(&phone, "limit=500", None).await;
    let text = Value::from(items.clone()).to_string();
    assert!(text.contains(&ours.unit.to_string()) && !text.contains(&theirs.unit.to_string()), "{text}");
    for kind in ["trial", "service_event", "standing", "flag", "recheck", "unit", "site", "membrane", "lot"] {
        assert!(!ids(&items, kind).is_empty(), "no {kind} in {text}");
    }
    // The office sees what the phone sees, if it asks for the crew.
    let (seen, _) = read_all(&director, &format!("limit=500&crew_id={}", ours.crew), None).await;
    assert_eq!(seen, items);
    phone.get(&format!("/v1/changes?crew_id={}", theirs.crew)).await.problem(403, "forbidden");
}

#[tokio::test]
async fn a_unit_that_goes_to_another_crew_is_gone_from_its_own() {
    let app = App::start().await;
    let director = app.director();
    let ours = Shop::open(&director).await;
    let theirs = ours.another_crew(&director).await;
    let (a, b) = (app.app_of_crew(&SCOPES, ours.crew).await, app.app_of_crew(&SCOPES, theirs.crew).await);
    let (_, from_a) = read_all(&a, "limit=500", None).await;
    let (_, from_b) = read_all(&b, "limit=500", None).await;
    app.pass(TimeDelta::minutes(5));
    let mut form = ours.unit_form();
    let members = form.as_object_mut().expect("an object");
    members.remove("id");
    members.insert("crew_id".into(), json!(theirs.crew));
    members.insert("effective_from".into(), json!(app.now()));
    director.put(&format!("/v1/units/{}", ours.unit), &form).await.expect(200);
    let (at_a, from_a) = read_all(&a, "kinds=unit", Some(&from_a)).await;
    assert_eq!(ids(&at_a, "unit"), [("gone", ours.unit.to_string())]);
    assert_eq!(at_a[0]["href"], Value::Null);
    let (at_b, _) = read_all(&b, "kinds=unit", Some(&from_b)).await;
    assert_eq!(ids(&at_b, "unit"), [("changed", ours.unit.to_string())]);
    // From here on the first crew hears no more of it.
    director.post("/v1/service-events", &event(ours.unit, app.now())).await.expect(201);
    let (at_a, _) = read_all(&a, "kinds=service_event,standing", Some(&from_a)).await;
    assert_eq!(at_a, Vec::<Value>::new());
}

/// What no longer follows from the records is told of as gone.
#[tokio::test]
async fn a_flag_that_late_evidence_explains_away_or_replaces_is_gone() {
    let app = App::start().await;
    let director = app.director();
    let shop = Shop::open(&director).await;
    let phone = app.app_of_crew(&SCOPES, shop.crew).await;
    let failed =
        |hours| Trial::confirmation(&shop, app.now() - TimeDelta::hours(hours), ["ccc", "ccc", "ccc"]);
    director.post("/v1/trials", &failed(2).json()).await.expect(201);
    let (before, place) = read_all(&phone, "kinds=flag", None).await;
    // An earlier failure becomes the first evidence: the flag gets another id.
    director.post("/v1/trials", &failed(4).json()).await.expect(201);
    let (after, _) = read_all(&phone, "kinds=flag", Some(&place)).await;
    let first = &ids(&before, "flag")[0].1;
    assert!(ids(&after, "flag").contains(&("gone", first.clone())), "{after:?}");
    assert!(after.iter().any(|item| item["event"] == "added"), "{after:?}");
}

/// What a phone knows: a snapshot, and what the feed has told of since.
struct Phone {
    units: BTreeSet<String>,
    place: String,
}

impl Phone {
    async fn begin(caller: &Caller<'_>) -> Self {
        let snapshot = caller.get("/v1/device-snapshot").await.expect(200);
        let units = snapshot["units"].as_array().expect("units");
        let units = units.iter().map(|unit| unit["unit"]["id"].as_str().expect("an id").to_owned()).collect();
        Self { units, place: snapshot["through"].as_str().expect("a cursor").to_owned() }
    }

    async fn go_on(&mut self, caller: &Caller<'_>) {
        let (items, through) = read_all(caller, "kinds=unit&limit=2", Some(&self.place)).await;
        for item in items {
            let id = item["id"].as_str().expect("an id").to_owned();
            if item["event"] == "gone" {
                self.units.remove(&id)
            } else {
                self.units.insert(id)
            };
        }
        self.place = through;
    }
}

#[tokio::test]
async fn a_snapshot_and_what_came_since_are_what_a_new_snapshot_says() {
    let app = App::start().await;
    let director = app.director();
    let ours = Shop::open(&director).await;
    let theirs = ours.another_crew(&director).await;
    director.post("/v1/trials", &Trial::good_sweep(&ours, app.now()).json()).await.expect(201);
    let caller = app.app_of_crew(&SCOPES, ours.crew).await;

    let snapshot = caller.get("/v1/device-snapshot").await.expect(200);
    assert_eq!(snapshot["crew"]["id"], json!(ours.crew));
    assert_eq!(snapshot["sites"][0]["id"], json!(ours.site));
    assert_eq!(snapshot["units"].as_array().expect("units").len(), 1);
    let unit = &snapshot["units"][0];
    assert_eq!((&unit["unit"]["id"], &unit["state"]["unit_id"]), (&json!(ours.unit), &json!(ours.unit)));
    assert!(unit["state"]["set_point"]["value"].is_number(), "{unit}");
    assert_eq!(snapshot["membranes"][0]["id"], json!(ours.membrane));
    assert_eq!(snapshot["lots"][0]["id"], json!(ours.lot));
    assert!(snapshot["criteria"]["share_limit"].is_number() && snapshot["policy"]["shift_start"].is_string());
    assert!(!snapshot.to_string().contains(&theirs.unit.to_string()), "{snapshot}");
    assert_eq!(snapshot["fresh_until"], Value::Null);
    caller.get(&format!("/v1/device-snapshot?crew_id={}", theirs.crew)).await.problem(403, "forbidden");
    let whole = director.get("/v1/device-snapshot").await.expect(200);
    assert_eq!((whole["units"].as_array().expect("units").len(), &whole["crew"]), (2, &Value::Null));
    director.get(&format!("/v1/device-snapshot?crew_id={}", ours.unit)).await.problem(404, "not_found");

    // Units come, go to another crew, come back, and are retired; some of it is recorded for a later time.
    let mut phone = Phone::begin(&caller).await;
    let form = |unit: Uuid, crew: Uuid, retired: bool, from: DateTime<Utc>| {
        let mut form = Shop { unit, crew, ..ours }.unit_form();
        form["effective_from"] = json!(from);
        form["retired"] = json!(retired);
        form
    };
    let others: Vec<Uuid> = (0..3).map(|_| Uuid::now_v7()).collect();
    let steps = [
        (ours.unit, theirs.crew, false, 0),
        (others[0], ours.crew, false, 0),
        (others[1], ours.crew, false, 0),
        (others[2], theirs.crew, false, 0),
        (theirs.unit, ours.crew, false, 0),
        (others[0], ours.crew, true, 0),
        (others[1], theirs.crew, false, 30),
        (others[2], ours.crew, false, 30),
        (theirs.unit, theirs.crew, false, 0),
    ];
    for (unit, crew, retired, later_min) in steps {
        app.pass(TimeDelta::minutes(1));
        let from = app.now() + TimeDelta::minutes(later_min);
        director.post("/v1/units", &form(unit, crew, retired, from)).await.expect(201);
        phone.go_on(&caller).await;
        assert_eq!(phone.units, Phone::begin(&caller).await.units);
    }
    let fresh = caller.get("/v1/device-snapshot").await.expect(200);
    assert!(fresh["fresh_until"].is_string(), "two moves are to come: {fresh}");
    // Their time comes.
    app.pass(TimeDelta::minutes(35));
    app.run_jobs().await;
    phone.go_on(&caller).await;
    assert_eq!(phone.units, BTreeSet::from([others[2].to_string()]));
    assert_eq!(phone.units, Phone::begin(&caller).await.units);
    // It is told of once.
    let place = phone.place.clone();
    app.run_jobs().await;
    let (again, _) = read_all(&caller, "kinds=unit", Some(&place)).await;
    assert_eq!(again, Vec::<Value>::new());
}

/// A retraction concerns whom the record concerned that it withdraws.
#[tokio::test]
async fn a_crew_hears_that_its_records_are_withdrawn() {
    let app = App::start().await;
    let director = app.director();
    let ours = Shop::open(&director).await;
    let theirs = ours.another_crew(&director).await;
    let (phone, other) =
        (app.app_of_crew(&SCOPES, ours.crew).await, app.app_of_crew(&SCOPES, theirs.crew).await);
    let inspection = event(ours.unit, app.now());
    director.post("/v1/service-events", &inspection).await.expect(201);
    let withdrawn = json!({ "id": Uuid::now_v7(), "record_id": inspection["id"], "at": app.now(), "reason": "The wrong unit." });
    director.post("/v1/retractions", &withdrawn).await.expect(201);
    let (items, _) = read_all(&phone, "kinds=retraction", None).await;
    assert_eq!(ids(&items, "retraction"), [("added", withdrawn["id"].as_str().expect("an id").to_owned())]);
    assert_eq!(items[0]["unit_id"], json!(ours.unit));
    let (items, _) = read_all(&other, "kinds=retraction", None).await;
    assert_eq!(items, Vec::<Value>::new());
}

/// A rare kind far behind: the feed is looked through piece by piece, and nothing of it is missed.
#[tokio::test]
async fn a_rare_kind_is_found_behind_many_others() {
    let app = App::start().await;
    let director = app.director();
    let shop = Shop::open(&director).await;
    let database = app.superuser().await;
    let sql = "INSERT INTO change SELECT $1, n, 'policy', $1, now() FROM generate_series(7, 25006) AS n";
    database.execute(sql, &[&app.organization.id]).await.expect("many entries");
    database.execute("UPDATE change_counter SET seq = 25006", &[]).await.expect("the counter");
    director.post("/v1/service-events", &event(shop.unit, app.now())).await.expect(201);
    let page = director.get("/v1/changes?kinds=service_event").await.expect(200);
    assert_eq!((&page["items"], &page["more"]), (&json!([]), &json!(true)));
    let (items, _) = read_all(&director, "kinds=service_event", None).await;
    assert_eq!(items.len(), 1);
    // Who waits does not wait for what is there.
    let waited = director.get("/v1/changes?kinds=service_event&wait_seconds=30").await.expect(200);
    assert_eq!(waited["items"], json!(items));
}
