//! `/v1/shared-decisions`: what people do about a shift that several welders share.

use chrono::TimeDelta;
use lapwatch_tests::harness::{App, Shop};
use rand::SeedableRng;
use rand::rngs::StdRng;
use serde_json::{Value, json};
use uuid::Uuid;

use super::shared_fits::{make, sweeps};
use crate::console::pages::{get_with, sign_in};

/// A decision about a lot.
fn decision(app: &App, lot: Uuid, kind: &str, remark: Option<&str>) -> Value {
    json!({ "id": Uuid::now_v7(), "kind": kind, "lot_id": lot, "at": app.now(), "remark": remark })
}

/// The bad lot's shift of the latest fit.
async fn shift(app: &App) -> Value {
    let list = app.director().get("/v1/shared-fits").await.expect(200);
    let path = format!("/v1/shared-fits/{}", list["items"][0]["id"].as_str().expect("an id"));
    let fit = app.director().get(&path).await.expect(200);
    let shifts = fit["shifts"].as_array().expect("a list");
    assert!(shifts.iter().all(|shift| shift["notable"] == true || shift["state"].is_null()), "{fit}");
    shifts.iter().find(|shift| shift["notable"] == true).expect("a notable shift").clone()
}

async fn fleet_page(app: &App) -> String {
    let session = sign_in(app).await;
    get_with(app, "/fleet", &session).await.text()
}

#[tokio::test]
async fn what_is_closed_is_told_to_nobody_until_it_moves_on() {
    let app = App::start().await;
    let units = sweeps(&app, &app.director(), 45.0, &mut StdRng::seed_from_u64(20_261_127)).await;
    let lot = units[0].lot;
    make(&app.director(), 201).await;
    let send = async |decision: &Value| {
        app.director().post("/v1/shared-decisions", decision).await.expect(201);
    };
    assert_eq!((&shift(&app).await["state"], &shift(&app).await["decisions"]), (&json!("open"), &json!([])));

    let seen = decision(&app, lot, "acknowledge", None);
    send(&seen).await;
    assert_eq!(app.director().post("/v1/shared-decisions", &seen).await.expect(200)["id"], seen["id"]);
    assert_eq!(shift(&app).await["state"], "acknowledged");
    let page = fleet_page(&app).await;
    assert!(page.contains("Lot SG15-2604.</strong>") && page.contains("Seen <time"), "{page}");

    // A phone whose clock is ahead settles nothing yet.
    let mut ahead = decision(&app, lot, "close", Some("Used up."));
    ahead["at"] = json!(app.now() + TimeDelta::days(2));
    send(&ahead).await;
    assert_eq!(shift(&app).await["state"], "acknowledged");
    app.pass(TimeDelta::minutes(5));
    let closed = decision(&app, lot, "close", Some("The maker takes <the rest> back."));
    send(&closed).await;
    let decided = shift(&app).await;
    assert_eq!(decided["state"], "closed");
    assert_eq!(decided["decisions"].as_array().map(Vec::len), Some(2));
    assert!(!fleet_page(&app).await.contains("Lot SG15-2604"));

    // Withdrawn, it is told of again.
    let mistake =
        json!({ "id": Uuid::now_v7(), "record_id": closed["id"], "at": app.now(), "reason": "Too early." });
    app.director().post("/v1/retractions", &mistake).await.expect(201);
    assert_eq!(shift(&app).await["state"], "acknowledged");
    let again = decision(&app, lot, "close", Some("The maker takes <the rest> back."));
    send(&again).await;

    // Another fit that finds the same changes nothing; one that finds it 8 K further does.
    app.pass(TimeDelta::hours(2));
    make(&app.director(), 201).await;
    assert_eq!(shift(&app).await["state"], "closed");
    let worse =
        "UPDATE shared_shift SET lower_k = ARRAY[lower_k[1] + 8, lower_k[2], lower_k[3] + 8, lower_k[4] + 8]
                 WHERE kind = 'lot' AND subject_id = $1
                 AND fit_id = (SELECT id FROM shared_fit ORDER BY made_at DESC LIMIT 1)";
    app.superuser().await.execute(worse, &[&lot]).await.expect("the run turns worse");
    assert_eq!(shift(&app).await["state"], "open");
    let page = fleet_page(&app).await;
    assert!(page.contains("Lot SG15-2604.</strong>"), "{page}");
    assert!(page.contains("Closed <time") && page.contains("takes &#60;the rest&#62; back"), "{page}");
}

#[tokio::test]
async fn a_decision_names_one_thing_that_is_there_and_says_why() {
    let app = App::start().await;
    let director = app.director();
    let shop = Shop::open(&director).await;
    let good = decision(&app, shop.lot, "close", Some("Used up."));
    let spoilt = async |change: &dyn Fn(&mut Value)| {
        let mut body = decision(&app, shop.lot, "close", Some("Used up."));
        change(&mut body);
        director.post("/v1/shared-decisions", &body).await.problem(422, "invalid_record").findings()
    };
    let found = |pointer: &str, code: &str| vec![(pointer.to_owned(), code.to_owned())];
    assert_eq!(spoilt(&|body| body["lot_id"] = json!(Uuid::now_v7())).await, found("/lot_id", "unknown_id"));
    assert_eq!(spoilt(&|body| body["membrane_id"] = json!(shop.membrane)).await, found("", "wrong_subject"));
    assert_eq!(spoilt(&|body| body["lot_id"] = Value::Null).await, found("", "wrong_subject"));
    assert_eq!(spoilt(&|body| body["remark"] = Value::Null).await, found("/remark", "required"));
    assert_eq!(spoilt(&|body| body["kind"] = json!("waive")).await, found("/kind", "unknown_code"));
    assert_eq!(
        spoilt(&|body| body["material_class"] = json!("slate")).await,
        found("/material_class", "unknown_code")
    );
    director.post("/v1/shared-decisions", &good).await.expect(201);
    let mut other = good.clone();
    other["remark"] = json!("Sent back.");
    director.post("/v1/shared-decisions", &other).await.problem(409, "conflict");
    // Of a day, and in an envelope before its site is known.
    let site = Shop::plan();
    let day = json!({ "schema": "shared_decision/1", "id": Uuid::now_v7(), "kind": "remark", "site_id": site.site,
                      "date": "2026-06-09", "material_class": "pvc", "at": app.now(), "remark": "Frost until ten." });
    let held = director.post("/v1/envelopes", &json!([day])).await.expect(200);
    assert_eq!(held["results"][0]["reason"]["code"], "unknown_id");
    director.post("/v1/sites", &site.site_form()).await.expect(201);
    app.run_jobs().await;
    let list = director.get("/v1/shared-decisions").await.expect(200);
    assert_eq!(list["items"].as_array().expect("a list").len(), 2, "{list}");
    let changes = director.get("/v1/changes?kinds=shared_decision").await.expect(200);
    let href = changes["items"][0]["href"].as_str().expect("an address");
    assert_eq!(href, "/v1/shared-decisions?from=2026-06-10T12:00:00.000000Z");
    director.get(href).await.expect(200);
    // It would bear on every crew.
    let lead = app.app_of_crew(&["decisions:write"], shop.crew).await;
    let own = decision(&app, shop.lot, "close", Some("Used up."));
    lead.post("/v1/shared-decisions", &own).await.problem(403, "forbidden");
}
