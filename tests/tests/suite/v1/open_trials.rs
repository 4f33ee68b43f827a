//! `/v1/open-trials`, `/v1/coupons`, `/v1/trial-closes`: trials that are sent piece by piece.

use chrono::TimeDelta;
use lapwatch_tests::harness::{App, Caller, Shop, Trial};
use serde_json::{Value, json};
use uuid::Uuid;

use crate::season::derived;

async fn send_all(caller: &Caller<'_>, (header, coupons, close): &(Value, Vec<Value>, Value)) -> Value {
    caller.post("/v1/open-trials", header).await.expect(201);
    for coupon in coupons {
        caller.post("/v1/coupons", coupon).await.expect(201);
    }
    caller.post("/v1/trial-closes", close).await.expect(201)
}

async fn unfinished(caller: &Caller<'_>) -> Vec<Value> {
    caller.get("/v1/open-trials").await.expect(200)["items"].as_array().expect("a list").clone()
}

/// While a crew welds it is told after each coupon what to weld next, as it would be told of the whole.
#[tokio::test]
async fn each_coupon_is_answered_with_what_to_weld_next() {
    let app = App::start().await;
    let director = app.director();
    let shop = Shop::open(&director).await;
    let whole = Trial::good_sweep(&shop, app.now());
    let (header, coupons, close) = whole.clone().pieces();

    let begun = director.post("/v1/open-trials", &header).await;
    assert_eq!(begun.header("location"), format!("/v1/open-trials/{}", header["id"].as_str().unwrap()));
    let begun = begun.expect(201);
    assert_eq!((&begun["evaluation"], &begun["record"]), (&Value::Null, &header));
    assert_eq!(begun["open_trial"]["crew_id"], json!(shop.crew));
    let mut advised = Vec::new();
    for (count, coupon) in (1..).zip(&coupons) {
        let answer = director.post("/v1/coupons", coupon).await.expect(201);
        assert_eq!(answer["open_trial"]["coupon_count"], count);
        let mut partial = whole.clone().json();
        partial["coupons"].as_array_mut().unwrap().truncate(count);
        let expected = director.post("/v1/calculations/trial", &partial).await.expect(200);
        assert_eq!(answer["evaluation"], expected, "as the same coupons sent whole");
        advised.push(answer["evaluation"]["next_coupon"]["temperature"]["value"].clone());
    }
    advised.dedup();
    assert!(advised.len() > 2, "the advice follows the coupons: {advised:?}");
    assert_eq!(unfinished(&director).await[0]["id"], header["id"]);
    let count = director.get("/v1/trials").await.expect(200)["items"].as_array().unwrap().len();
    assert_eq!(count, 0, "it enters nothing yet");

    let answer = director.post("/v1/trial-closes", &close).await;
    assert_eq!(answer.header("location"), format!("/v1/trials/{}", close["trial_id"].as_str().unwrap()));
    let answer = answer.expect(201);
    assert_eq!(answer["trial"]["id"], close["trial_id"]);
    assert_eq!(unfinished(&director).await, Vec::<Value>::new());
    let path = format!("/v1/open-trials/{}", header["id"].as_str().unwrap());
    let seen = director.get(&path).await.expect(200);
    assert_eq!(
        (&seen["open_trial"]["state"], &seen["open_trial"]["closed_as"]),
        (&json!("closed"), &close["trial_id"])
    );
    assert_eq!(seen["coupons"], json!(coupons));
    for (kind, piece) in [("coupons", &coupons[2]), ("trial-closes", &close)] {
        let path = format!("/v1/{kind}/{}", piece["id"].as_str().unwrap());
        assert_eq!(&director.get(&path).await.expect(200), piece);
    }
    // Each once more: nothing is doubled.
    director.post("/v1/open-trials", &header).await.expect(200);
    director.post("/v1/coupons", &coupons[0]).await.expect(200);
    assert_eq!(director.post("/v1/trial-closes", &close).await.expect(200)["duplicate"], true);
}

/// Piece by piece or whole, in order or not, sent by one or held until the rest comes: the same trial, the same unit.
#[tokio::test]
async fn pieces_in_any_order_leave_what_the_whole_leaves() {
    let (whole, ordered, reversed) = (App::start().await, App::start().await, App::start().await);
    let shop = Shop::plan();
    for app in [&whole, &ordered, &reversed] {
        shop.add_to(&app.director()).await;
    }
    for day in 0..3 {
        let at = whole.now() - TimeDelta::days(3 - day);
        let trial = Trial::good_sweep(&shop, at).member("extra", json!({ "of": "the client" }));
        let pieces = trial.pieces();
        let (header, coupons, close) = &pieces;
        // As the service puts it together.
        let mut record = header.clone();
        record["schema"] = json!("trial/1");
        record["id"] = close["trial_id"].clone();
        record["recorded_at"] = close["recorded_at"].clone();
        let strip = |coupon: &Value| {
            let mut coupon = coupon.clone();
            for name in ["schema", "open_trial_id", "recorded_at"] {
                coupon.as_object_mut().unwrap().remove(name);
            }
            coupon
        };
        record["coupons"] = coupons.iter().map(strip).collect();
        let sent = whole.director().post("/v1/trials", &record).await.expect(201);
        let answer = send_all(&ordered.director(), &pieces).await;
        for member in ["coupons", "edges", "band", "set_point", "carried", "standing", "explanation"] {
            assert_eq!(answer[member], sent[member], "{member}");
        }
        let path = format!("/v1/trials/{}", close["trial_id"].as_str().unwrap());
        assert_eq!(ordered.director().get(&path).await.expect(200)["record"], record);

        let mut items = [vec![header.clone()], coupons.clone(), vec![close.clone()]].concat();
        items.reverse();
        let kept = reversed.director().post("/v1/envelopes", &json!(items)).await.expect(200);
        assert_eq!(kept["results"][0]["result"], "quarantined", "{kept}");
    }
    // A close waits for coupons that wait for their header.
    for _ in 0..2 {
        reversed.run_jobs().await;
    }
    for app in [&whole, &ordered] {
        app.run_jobs().await;
    }
    let held = reversed.director().get("/v1/custody?state=open").await.expect(200);
    assert_eq!(held["items"], json!([]));
    let expected = derived(&whole.director(), &shop).await;
    assert!(
        json!(expected).to_string().contains("steady") || json!(expected).to_string().contains("learning")
    );
    assert_eq!(derived(&ordered.director(), &shop).await, expected);
    assert_eq!(derived(&reversed.director(), &shop).await, expected);
}

#[tokio::test]
async fn what_is_wrong_with_a_piece_is_said_where_it_stands() {
    let app = App::start().await;
    let director = app.director();
    let shop = Shop::open(&director).await;
    let (header, coupons, close) = Trial::good_sweep(&shop, app.now()).pieces();
    let refused = async |path: &str, body: &Value| {
        director.post(path, body).await.problem(422, "invalid_record").findings()
    };
    let found = |pointer: &str, code: &str| vec![(pointer.to_owned(), code.to_owned())];
    let with = |body: &Value, member: &str, value: Value| {
        let mut body = body.clone();
        body[member] = value;
        body
    };

    let early = with(&header, "coupons", json!([]));
    assert_eq!(refused("/v1/open-trials", &early).await, found("/coupons", "unknown_field"));
    let odd = with(&header, "colour", json!("red"));
    assert_eq!(refused("/v1/open-trials", &odd).await, found("/colour", "unknown_field"));
    let hot = with(&header, "set_point_before", json!({ "value": 2000, "unit": "Cel" }));
    assert_eq!(refused("/v1/open-trials", &hot).await[0].0, "/set_point_before/value");
    let whole = with(&header, "schema", json!("trial/1"));
    assert_eq!(refused("/v1/open-trials", &whole).await, found("/schema", "schema_unknown"));
    director.post_text("/v1/open-trials", "[").await.problem(400, "malformed_json");

    assert_eq!(refused("/v1/coupons", &coupons[0]).await, found("/open_trial_id", "unknown_id"));
    director.post("/v1/open-trials", &header).await.expect(201);
    let hot = with(&coupons[0], "set_temperature", json!({ "value": 700, "unit": "Cel" }));
    assert_eq!(refused("/v1/coupons", &hot).await[0].0, "/set_temperature/value");
    director.post("/v1/coupons", &coupons[0]).await.expect(201);
    assert_eq!(
        refused("/v1/trial-closes", &close).await,
        (1..6).map(|index| (format!("/coupon_ids/{index}"), "unknown_id".to_owned())).collect::<Vec<_>>()
    );
    let twice = with(&close, "coupon_ids", json!([coupons[0]["id"], coupons[0]["id"]]));
    assert_eq!(refused("/v1/trial-closes", &twice).await, found("/coupon_ids/1", "named_twice"));
    let own = with(&close, "trial_id", close["id"].clone());
    assert_eq!(refused("/v1/trial-closes", &own).await, found("/trial_id", "names_itself"));
    let (other, others, _) = Trial::good_sweep(&shop, app.now()).pieces();
    director.post("/v1/open-trials", &other).await.expect(201);
    director.post("/v1/coupons", &others[0]).await.expect(201);
    let foreign = with(&close, "coupon_ids", json!([coupons[0]["id"], others[0]["id"]]));
    assert_eq!(refused("/v1/trial-closes", &foreign).await, found("/coupon_ids/1", "other_trial"));
}

/// A second close takes the place of the first, or waits for a person; a withdrawn trial opens again.
#[tokio::test]
async fn second_thoughts_about_a_close() {
    let app = App::start().await;
    let director = app.director();
    let shop = Shop::open(&director).await;
    let pieces = Trial::good_sweep(&shop, app.now() - TimeDelta::hours(2)).pieces();
    send_all(&director, &pieces).await;
    let (header, coupons, first) = pieces;
    let mut second = first.clone();
    second["id"] = json!(Uuid::now_v7());
    second["trial_id"] = json!(Uuid::now_v7());
    second["recorded_at"] = json!(app.now());
    second["coupon_ids"] = coupons[1..].iter().map(|coupon| coupon["id"].clone()).collect();

    let problem = director.post("/v1/trial-closes", &second).await.problem(422, "invalid_record");
    assert_eq!(problem.findings(), [("/supersedes".to_owned(), "already_closed".to_owned())]);
    problem.advises(first["trial_id"].as_str().unwrap());
    let held = director.post("/v1/envelopes", &json!([second])).await.expect(200);
    assert_eq!(held["results"][0]["reason"]["code"], "already_closed");

    let mut correction = second.clone();
    correction["supersedes"] = first["trial_id"].clone();
    correction["id"] = json!(Uuid::now_v7());
    correction["trial_id"] = json!(Uuid::now_v7());
    let answer = director.post("/v1/trial-closes", &correction).await.expect(201);
    assert_eq!(answer["coupons"].as_array().unwrap().len(), 5);
    let disposition = async |id: &Value| {
        let path = format!("/v1/trials/{}", id.as_str().unwrap());
        director.get(&path).await.expect(200)["answer"]["disposition"].clone()
    };
    assert_eq!(disposition(&first["trial_id"]).await, "superseded");
    let state = async || {
        let path = format!("/v1/open-trials/{}", header["id"].as_str().unwrap());
        let seen = director.get(&path).await.expect(200)["open_trial"].clone();
        (seen["state"].clone(), seen["closed_as"].clone())
    };
    assert_eq!(state().await, (json!("closed"), correction["trial_id"].clone()));

    let withdraw = async |record: &Value, status: u16| {
        let body = json!({ "id": Uuid::now_v7(), "record_id": record, "at": app.now(), "reason": "A test." });
        let reply = director.post("/v1/retractions", &body).await;
        reply.expect_status(status);
        reply.json()
    };
    let refused = withdraw(&first["id"], 422).await;
    assert_eq!(refused["errors"][0]["code"], "not_retractable");
    // The root takes its corrections with it.
    withdraw(&first["trial_id"], 201).await;
    assert_eq!(state().await, (json!("open"), Value::Null));
    // What was held because the trial was closed already waits no longer.
    app.run_jobs().await;
    assert_eq!(state().await, (json!("closed"), second["trial_id"].clone()));
    withdraw(&second["trial_id"], 201).await;
    assert_eq!(unfinished(&director).await[0]["id"], header["id"]);
    // A withdrawn coupon is out of the advice; a withdrawn beginning is out of the list.
    withdraw(&coupons[5]["id"], 201).await;
    assert_eq!(unfinished(&director).await[0]["coupon_count"], 5);
    withdraw(&header["id"], 201).await;
    assert_eq!(unfinished(&director).await, Vec::<Value>::new());
    assert_eq!(state().await.0, "retracted");
}

/// A phone sees and writes what is its crew's.
#[tokio::test]
async fn a_crew_has_its_own_open_trials() {
    let app = App::start().await;
    let director = app.director();
    let shop = Shop::open(&director).await;
    let other = shop.another_crew(&director).await;
    let ours = app.app_of_crew(&["trials:write", "trials:read", "units:read"], shop.crew).await;
    let theirs = app.app_of_crew(&["trials:write", "trials:read", "units:read"], other.crew).await;
    let (header, coupons, close) = Trial::good_sweep(&shop, app.now()).pieces();
    theirs.post("/v1/open-trials", &header).await.problem(403, "forbidden");
    ours.post("/v1/open-trials", &header).await.expect(201);
    theirs.post("/v1/coupons", &coupons[0]).await.problem(403, "forbidden");
    for coupon in &coupons {
        ours.post("/v1/coupons", coupon).await.expect(201);
    }
    theirs.post("/v1/trial-closes", &close).await.problem(403, "forbidden");
    assert_eq!(unfinished(&theirs).await, Vec::<Value>::new());
    for (kind, id) in [("open-trials", &header["id"]), ("coupons", &coupons[0]["id"])] {
        let path = format!("/v1/{kind}/{}", id.as_str().unwrap());
        theirs.get(&path).await.problem(404, "not_found");
        ours.get(&path).await.expect(200);
    }
    assert_eq!(unfinished(&ours).await.len(), 1);
    ours.post("/v1/trial-closes", &close).await.expect(201);
    // What happened is told to whom it concerns.
    let kinds = async |caller: &Caller<'_>| {
        let page =
            caller.get("/v1/changes?limit=500&kinds=open_trial,coupon,trial_close,trial").await.expect(200);
        let kinds = page["items"]
            .as_array()
            .unwrap()
            .iter()
            .map(|change| change["kind"].as_str().unwrap().to_owned());
        kinds
            .filter(|kind| ["open_trial", "coupon", "trial_close", "trial"].contains(&kind.as_str()))
            .collect::<Vec<_>>()
    };
    let expected = [vec!["open_trial"], vec!["coupon"; 6], vec!["trial", "trial_close"]].concat();
    assert_eq!(kinds(&ours).await, expected);
    assert_eq!(kinds(&theirs).await, Vec::<String>::new());
    let page = ours.get("/v1/changes?limit=500&kinds=open_trial,coupon,trial_close,trial").await.expect(200);
    for change in page["items"].as_array().unwrap() {
        let href = change["href"].as_str().unwrap();
        ours.get(href).await.expect(200);
    }
}

/// Two phones close the same open trial at once: one trial counts.
#[tokio::test]
async fn closes_that_race_leave_one_trial() {
    let app = App::start_for_a_crowd().await;
    let director = app.director();
    let shop = Shop::open(&director).await;
    let (header, coupons, close) = Trial::good_sweep(&shop, app.now()).pieces();
    director.post("/v1/open-trials", &header).await.expect(201);
    for coupon in &coupons {
        director.post("/v1/coupons", coupon).await.expect(201);
    }
    let closes: Vec<Value> = (0..8)
        .map(|_| {
            let mut close = close.clone();
            close["id"] = json!(Uuid::now_v7());
            close["trial_id"] = json!(Uuid::now_v7());
            close
        })
        .collect();
    let sent = closes.iter().map(|close| director.post("/v1/trial-closes", close));
    let replies = futures_util::future::join_all(sent).await;
    let count = |status: u16| replies.iter().filter(|reply| reply.status.as_u16() == status).count();
    assert_eq!((count(201), count(422)), (1, 7));
    let trials = director.get("/v1/trials").await.expect(200);
    assert_eq!(trials["items"].as_array().unwrap().len(), 1);
}
