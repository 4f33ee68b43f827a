//! Records of every kind that take the place of others of theirs, and `/v1/records`: trials are in `retractions`.

use std::time::Instant;

use chrono::{DateTime, TimeDelta, Utc};
use lapwatch_tests::harness::{App, Caller, Shop, Trial};
use serde_json::{Value, json};
use uuid::Uuid;

/// An organization with a unit, and a trial of it.
async fn shop() -> (App, Shop, Value) {
    let app = App::start().await;
    let shop = Shop::open(&app.director()).await;
    let sweep = Trial::good_sweep(&shop, app.now() - TimeDelta::days(1)).json();
    app.director().post("/v1/trials", &sweep).await.expect(201);
    (app, shop, sweep)
}

/// The record with another id, written down `minutes` from now, in the place of `first`.
fn correcting(app: &App, first: &Value, minutes: i64) -> Value {
    let mut correction = first.clone();
    correction["id"] = json!(Uuid::now_v7());
    correction["supersedes"] = first["id"].clone();
    correction["recorded_at"] = json!(app.now() + TimeDelta::minutes(minutes));
    correction
}

async fn kept(caller: &Caller<'_>, record: &Value) -> Value {
    caller.get(&format!("/v1/records/{}", record["id"].as_str().unwrap())).await.expect(200)
}

async fn retract(app: &App, record: &Value) {
    let retraction = json!({
        "id": Uuid::now_v7(), "record_id": record["id"], "at": app.now(), "reason": "Written down for the wrong day.",
    });
    app.director().post("/v1/retractions", &retraction).await.expect(201);
}

fn span(shop: &Shop, from: DateTime<Utc>, to: DateTime<Utc>) -> Value {
    json!({ "id": Uuid::now_v7(), "unit_id": shop.unit, "crew_id": shop.crew, "from": from, "to": to, "place": "Hall 3" })
}

fn work(shop: &Shop, at: DateTime<Utc>) -> Value {
    json!({
        "id": Uuid::now_v7(), "unit_id": shop.unit, "performed_at": at, "kind": "heater_replaced", "affects_heat": true,
    })
}

/// One record of each kind that can be corrected, beside trials, with the address of its list.
fn one_of_each(app: &App, shop: &Shop, trial: &Value) -> Vec<(&'static str, Value)> {
    let at = app.now() - TimeDelta::hours(2);
    let id = || json!(Uuid::now_v7());
    let span = span(shop, at, app.now());
    vec![
        ("/v1/service-events", work(shop, at)),
        (
            "/v1/day-plans",
            json!({ "id": id(), "crew_id": shop.crew, "date": app.now().date_naive(), "welding": true,
                "unit_ids": [shop.unit], "recorded_at": at }),
        ),
        (
            "/v1/day-events",
            json!({ "id": id(), "crew_id": shop.crew, "unit_id": shop.unit, "at": at, "kind": "power_loss" }),
        ),
        (
            "/v1/second-readings",
            json!({ "id": id(), "trial_id": trial["id"], "read_by": "Reed", "read_at": at,
                "coupons": trial["coupons"].as_array().unwrap().iter()
                    .map(|coupon| vec!["cold"; coupon["specimens"].as_array().unwrap().len()]).collect::<Vec<_>>() }),
        ),
        ("/v1/production-spans", span.clone()),
        (
            "/v1/seam-checks",
            json!({ "id": id(), "span_id": span["id"], "unit_id": shop.unit, "at": at, "method": "probe",
                "result": "sound" }),
        ),
    ]
}

#[tokio::test]
async fn a_record_of_any_kind_is_corrected_and_given_back() {
    let (app, shop, trial) = shop().await;
    let director = app.director();
    for (path, first) in one_of_each(&app, &shop, &trial) {
        director.post(path, &first).await.expect(201);
        let listed = async || {
            let list = director.get(path).await.expect(200);
            list["items"].as_array().unwrap().iter().map(|item| item["id"].clone()).collect::<Vec<_>>()
        };
        let correction = correcting(&app, &first, 10);
        let shown = director.post(path, &correction).await.expect(201);
        assert_eq!(shown["supersedes"], first["id"], "{path}");
        assert_eq!(listed().await, [correction["id"].clone()], "{path}");
        director.post(path, &correction).await.expect(200);

        // Another device corrected the first as well, and knew nothing of that: the one written last counts.
        let rival = correcting(&app, &first, 5);
        director.post(path, &rival).await.expect(201);
        assert_eq!(listed().await, [correction["id"].clone()], "{path}");
        let first_now = kept(&director, &first).await;
        assert_eq!(first_now["disposition"], "superseded", "{path}");
        assert_eq!(first_now["record"], first, "{path}: as it was sent");
        let chain: Vec<(&Value, &Value)> = first_now["chain"]
            .as_array()
            .unwrap()
            .iter()
            .map(|link| (&link["id"], &link["disposition"]))
            .collect();
        let (superseded, accepted) = (json!("superseded"), json!("accepted"));
        assert_eq!(
            chain,
            [(&first["id"], &superseded), (&rival["id"], &superseded), (&correction["id"], &accepted)],
            "{path}"
        );
        assert_eq!(kept(&director, &correction).await["competing"], json!([rival["id"]]), "{path}");

        retract(&app, &correction).await;
        assert_eq!(listed().await, [rival["id"].clone()], "{path}");
        retract(&app, &rival).await;
        assert_eq!(listed().await, [first["id"].clone()], "{path}");
        assert_eq!(kept(&director, &first).await["disposition"], "accepted", "{path}");
        let again = correcting(&app, &first, 20);
        director.post(path, &again).await.expect(201);
        retract(&app, &first).await;
        assert!(listed().await.is_empty(), "{path}: with its root");
        assert_eq!(kept(&director, &again).await["disposition"], "retracted", "{path}");
        // The checks that follow name a span.
        if path == "/v1/production-spans" {
            let mut anew = first.clone();
            anew["id"] = json!(Uuid::now_v7());
            director.post(path, &anew).await.expect(201);
        }
    }
}

#[tokio::test]
async fn a_correction_follows_the_rules_of_chains() {
    let (app, shop, trial) = shop().await;
    let director = app.director();
    let first = work(&shop, app.now());
    director.post("/v1/service-events", &first).await.expect(201);
    let refused = async |change: &dyn Fn(&mut Value), expected: &[(&str, &str)]| {
        let mut correction = correcting(&app, &first, 10);
        change(&mut correction);
        director
            .post("/v1/service-events", &correction)
            .await
            .problem(422, "invalid_record")
            .points_at(expected);
    };
    refused(&|c| c["recorded_at"] = Value::Null, &[("/recorded_at", "required")]).await;
    refused(&|c| c["supersedes"] = c["id"].clone(), &[("/supersedes", "names_itself")]).await;
    refused(&|c| c["supersedes"] = json!(Uuid::now_v7()), &[("/supersedes", "unknown_id")]).await;
    refused(&|c| c["supersedes"] = trial["id"].clone(), &[("/supersedes", "wrong_kind")]).await;
    let early = json!(app.now() - TimeDelta::minutes(1));
    refused(&|c| c["recorded_at"] = early.clone(), &[("/recorded_at", "not_later")]).await;
    refused(&|c| c["recorded_at"] = json!("2900-01-01T00:00:00Z"), &[("/recorded_at", "out_of_range")]).await;

    // The newer form of service events corrects the older, and may be corrected itself.
    let mut newer = json!({
        "schema": "service_event/2", "id": Uuid::now_v7(), "unit_id": shop.unit, "performed_at": app.now(),
        "work": ["nozzle_cleaned"], "supersedes": first["id"], "recorded_at": app.now() + TimeDelta::minutes(1),
    });
    director.post("/v1/service-events", &newer).await.expect(201);
    newer["supersedes"] = newer["id"].clone();
    newer["id"] = json!(Uuid::now_v7());
    newer["recorded_at"] = json!(app.now() + TimeDelta::minutes(2));
    director.post("/v1/service-events", &newer).await.expect(201);
    let chain = kept(&director, &first).await["chain"].clone();
    assert_eq!(chain.as_array().unwrap().len(), 3, "{chain}");
    assert_eq!(chain[2]["id"], newer["id"], "{chain}");
}

/// Work entered for the wrong welder: its correction, which arrives first, moves it, and both histories are worked out anew.
#[tokio::test]
async fn a_correction_may_arrive_first_and_move_to_another_unit() {
    let (app, shop, _) = shop().await;
    let director = app.director();
    let other = shop.another_unit(&director).await;
    let wrong = work(&shop, app.now() - TimeDelta::hours(3));
    let mut right = correcting(&app, &wrong, 5);
    right["schema"] = json!("service_event/1");
    right["unit_id"] = json!(other.unit);
    let sent = director.post("/v1/envelopes", &json!([right])).await.expect(200);
    assert_eq!(sent["results"][0]["result"], "quarantined", "{sent}");
    assert_eq!(sent["results"][0]["reason"]["code"], "unknown_id", "{sent}");
    director.post("/v1/service-events", &wrong).await.expect(201);
    let services = async |unit: Uuid| {
        let history = director.get(&format!("/v1/units/{unit}/history")).await.expect(200);
        history["service_events"].as_array().unwrap().len()
    };
    assert_eq!((services(shop.unit).await, services(other.unit).await), (1, 0));
    app.run_jobs().await;
    assert_eq!((services(shop.unit).await, services(other.unit).await), (0, 1));
    let told = director.get("/v1/changes?kinds=service_event").await.expect(200);
    let told: Vec<(&Value, &Value, &Value)> =
        told["items"].as_array().unwrap().iter().map(|e| (&e["id"], &e["event"], &e["unit_id"])).collect();
    assert_eq!(
        told,
        [
            (&wrong["id"], &json!("added"), &json!(shop.unit)),
            (&right["id"], &json!("added"), &json!(other.unit)),
            // Whoever only hears of the first unit has to know as well.
            (&wrong["id"], &json!("changed"), &json!(shop.unit)),
        ]
    );
}

/// Seams that were checked stay checked when the span is corrected, to another welder too, and when that is taken back.
#[tokio::test]
async fn a_check_counts_for_the_span_that_stands_now() {
    let (app, shop, _) = shop().await;
    let director = app.director();
    let other = shop.another_unit(&director).await;
    director
        .post("/v1/trials", &Trial::good_sweep(&other, app.now() - TimeDelta::days(1)).json())
        .await
        .expect(201);
    let (from, to) = (app.now() - TimeDelta::hours(5), app.now() - TimeDelta::hours(1));
    let first = span(&shop, from, to);
    director.post("/v1/production-spans", &first).await.expect(201);
    for shop in [&shop, &other] {
        let failed = Trial::confirmation(shop, app.now(), ["ccc", "ccc", "css"]).json();
        director.post("/v1/trials", &failed).await.expect(201);
    }
    let suspects = async |shop: &Shop| {
        let standing = director.get(&format!("/v1/units/{}/standing", shop.unit)).await.expect(200);
        let spans = standing["suspect_spans"].as_array().unwrap().clone();
        spans.iter().map(|span| span["span_id"].clone()).collect::<Vec<_>>()
    };
    assert_eq!(suspects(&shop).await, [first["id"].clone()]);
    let check = json!({
        "id": Uuid::now_v7(), "span_id": first["id"], "unit_id": shop.unit, "at": app.now(), "method": "probe",
        "result": "sound",
    });
    let none: Vec<Value> = Vec::new();
    director.post("/v1/seam-checks", &check).await.expect(201);
    assert_eq!(suspects(&shop).await, none);

    let mut moved = correcting(&app, &first, 10);
    moved["unit_id"] = json!(other.unit);
    director.post("/v1/production-spans", &moved).await.expect(201);
    assert_eq!((suspects(&shop).await, suspects(&other).await), (none.clone(), none.clone()));
    retract(&app, &check).await;
    assert_eq!((suspects(&shop).await, suspects(&other).await), (none.clone(), vec![moved["id"].clone()]));
    let mut anew = check.clone();
    (anew["id"], anew["span_id"], anew["unit_id"]) =
        (json!(Uuid::now_v7()), moved["id"].clone(), json!(other.unit));
    director.post("/v1/seam-checks", &anew).await.expect(201);
    assert_eq!(suspects(&other).await, none);
    retract(&app, &moved).await;
    assert_eq!(suspects(&shop).await, none, "what was checked is the same seam");
}

/// Who acts for a crew corrects its records only, and reads no others.
#[tokio::test]
async fn a_crew_corrects_its_own() {
    let (app, shop, trial) = shop().await;
    let other = shop.another_crew(&app.director()).await;
    let scopes = ["units:read", "units:write", "plans:read", "plans:write"];
    let (own, others) =
        (app.app_of_crew(&scopes, shop.crew).await, app.app_of_crew(&scopes, other.crew).await);
    let first = span(&shop, app.now() - TimeDelta::hours(1), app.now());
    own.post("/v1/production-spans", &first).await.expect(201);
    let mut stolen = correcting(&app, &first, 10);
    stolen["unit_id"] = json!(other.unit);
    stolen["crew_id"] = json!(other.crew);
    others.post("/v1/production-spans", &stolen).await.problem(403, "forbidden");
    others.get(&format!("/v1/records/{}", first["id"].as_str().unwrap())).await.problem(404, "not_found");
    own.post("/v1/production-spans", &correcting(&app, &first, 10)).await.expect(201);
    assert_eq!(kept(&own, &first).await["disposition"], "superseded");
    // A scope for the kind is needed as well.
    own.get(&format!("/v1/records/{}", trial["id"].as_str().unwrap())).await.problem(403, "forbidden");
    own.get(&format!("/v1/records/{}", Uuid::now_v7())).await.problem(404, "not_found");
}

/// Withdrawals, pieces of open trials and decisions are records too.
#[tokio::test]
async fn every_kind_of_record_is_found_by_its_id() {
    let (app, shop, trial) = shop().await;
    let director = app.director();
    let crew = app.app_of_crew(&["units:read", "trials:read", "trials:write"], shop.crew).await;
    let (header, coupons, close) = Trial::good_sweep(&shop, app.now()).pieces();
    crew.post("/v1/open-trials", &header).await.expect(201);
    for coupon in &coupons {
        crew.post("/v1/coupons", coupon).await.expect(201);
    }
    crew.post("/v1/trial-closes", &close).await.expect(201);
    retract(&app, &trial).await;
    let retraction = director.get("/v1/retractions").await.expect(200)["items"][0].clone();
    let kinds = [
        (&header, "open_trial"),
        (&coupons[0], "coupon"),
        (&close, "trial_close"),
        (&retraction, "retraction"),
        (&trial, "trial"),
    ];
    for (record, kind) in kinds {
        let found = kept(&crew, record).await;
        assert_eq!(found["kind"], kind);
        assert_eq!(found["chain"].as_array().unwrap().len(), 1, "{found}");
    }
    assert_eq!(kept(&crew, &trial).await["disposition"], "retracted");
    let stranger = shop.another_crew(&director).await;
    let stranger = app.app_of_crew(&["units:read", "trials:read"], stranger.crew).await;
    for (record, _) in kinds {
        let path = format!("/v1/records/{}", record["id"].as_str().unwrap());
        stranger.get(&path).await.problem(404, "not_found");
    }
}

/// What was corrected and withdrawn in the course of years does not slow what comes.
#[tokio::test]
async fn many_corrections_do_not_slow_the_organization() {
    let (app, shop, _) = shop().await;
    let director = app.director();
    let median = async || {
        let mut times = Vec::new();
        for minute in 0..7 {
            let trial =
                Trial::confirmation(&shop, app.now() - TimeDelta::minutes(minute), ["sss", "sss", "sss"]);
            let begun = Instant::now();
            director.post("/v1/trials", &trial.json()).await.expect(201);
            times.push(begun.elapsed());
        }
        times.sort_unstable();
        times[3]
    };
    let before = median().await;
    let organization = app.organization.id;
    let years = format!(
        "
        INSERT INTO correction (organization_id, record_id, supersedes, root_id, recorded_at)
        SELECT '{organization}', gen_random_uuid(), root.id, root.id, now()
        FROM (SELECT gen_random_uuid() AS id FROM generate_series(1, 10000)) AS root;
        INSERT INTO retraction
        SELECT '{organization}', gen_random_uuid(), gen_random_uuid(), 'trial', now(), 'Twice.', 'app', gen_random_uuid()
        FROM generate_series(1, 5000);
        ANALYZE correction, retraction;
        "
    );
    app.superuser().await.batch_execute(&years).await.expect("years pass");
    let after = median().await;
    assert!(after < 5 * before, "a trial took {before:?} before and takes {after:?}");
}
