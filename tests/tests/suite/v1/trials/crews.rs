//! A token that acts for one crew sees and sends what is of that crew.

use lapwatch_tests::harness::{App, Shop, Trial};
use serde_json::json;
use uuid::Uuid;

#[tokio::test]
async fn another_crews_trials_are_refused_and_hidden() {
    let app = App::start().await;
    let director = app.director();
    let ours = Shop::open(&director).await;
    let theirs = ours.another_crew(&director).await;
    let phone = app.app_of_crew(&["trials:write", "trials:read"], ours.crew).await;

    phone.post("/v1/trials", &Trial::good_sweep(&ours, app.now()).json()).await.expect(201);
    let reply = phone.post("/v1/trials", &Trial::good_sweep(&theirs, app.now()).json()).await;
    reply.problem(403, "forbidden").advises("acts for one crew");
    // Naming the own crew does not open another crew's unit … unless the crew really welded with it.
    let borrowed = Trial::good_sweep(&theirs, app.now()).member("crew_id", json!(ours.crew)).json();
    phone.post("/v1/trials", &borrowed).await.expect(201);

    let hidden = director.post("/v1/trials", &Trial::good_sweep(&theirs, app.now()).json()).await.expect(201);
    let path = format!("/v1/trials/{}", hidden["trial"]["id"].as_str().unwrap());
    let foreign = phone.get(&path).await.problem(404, "not_found");
    let missing = phone.get(&format!("/v1/trials/{}", Uuid::now_v7())).await.problem(404, "not_found");
    assert_eq!(foreign.without_request_id(), missing.without_request_id());

    let listed = phone.get(&format!("/v1/trials?crew_id={}", theirs.crew)).await.expect(200);
    let listed = listed["items"].as_array().unwrap();
    assert_eq!(listed.len(), 2, "asking for another crew's shows one's own");
    assert!(listed.iter().all(|trial| trial["crew_id"] == ours.crew.to_string()), "{listed:?}");
}

/// A known trial sent again by another crew's token must not show that crew's answer.
#[tokio::test]
async fn repeating_another_crews_trial_shows_nothing() {
    let app = App::start().await;
    let director = app.director();
    let ours = Shop::open(&director).await;
    let theirs = ours.another_crew(&director).await;
    let phone = app.app_of_crew(&["trials:write"], ours.crew).await;
    let trial = Trial::good_sweep(&theirs, app.now());
    director.post("/v1/trials", &trial.clone().json()).await.expect(201);
    phone.post("/v1/trials", &trial.clone().json()).await.problem(403, "forbidden");
    let under_our_crew = trial.member("crew_id", json!(ours.crew)).json();
    phone.post("/v1/trials", &under_our_crew).await.problem(409, "conflict");
}

/// What hangs on a unit is for the crew that has it: its page, its place on the board, its events, spans and decisions.
#[tokio::test]
async fn another_crews_units_are_hidden() {
    let app = App::start().await;
    let director = app.director();
    let ours = Shop::open(&director).await;
    let theirs = ours.another_crew(&director).await;
    let scopes = ["units:read", "rechecks:read", "plans:read"];
    let phone = app.app_of_crew(&scopes, ours.crew).await;
    for shop in [&ours, &theirs] {
        let at = app.now();
        let event = json!({ "id": Uuid::now_v7(), "unit_id": shop.unit, "performed_at": at, "kind": "inspection",
            "affects_heat": false });
        director.post("/v1/service-events", &event).await.expect(201);
        let span =
            json!({ "id": Uuid::now_v7(), "unit_id": shop.unit, "from": at, "to": at, "place": "bay 4" });
        director.post("/v1/production-spans", &span).await.expect(201);
        let decision = json!({ "id": Uuid::now_v7(), "kind": "remark", "unit_id": shop.unit, "at": at,
            "remark": "looked at" });
        director.post("/v1/decisions", &decision).await.expect(201);
        // A trial without a sound set point raises a flag.
        let failed = Trial::sweep(shop, at).coupon(400.0, "ccc").coupon(440.0, "ccc").json();
        director.post("/v1/trials", &failed).await.expect(201);
    }
    let lists = [
        ("service-events", "items"),
        ("production-spans", "items"),
        ("decisions", "items"),
        ("flags", "items"),
        ("fleet", "units"),
    ];
    for (list, member) in lists {
        let path = format!("/v1/{list}");
        let all = director.get(&path).await.expect(200);
        assert_eq!(all[member].as_array().unwrap().len(), 2, "{path}: {all}");
        let shown = phone.get(&path).await.expect(200);
        assert_eq!(shown[member].as_array().unwrap().len(), 1, "{path}: {shown}");
        assert!(shown.to_string().contains(&ours.unit.to_string()), "{path}: {shown}");
        assert!(!shown.to_string().contains(&theirs.unit.to_string()), "{path}: {shown}");
    }
    for page in ["history", "standing"] {
        phone.get(&format!("/v1/units/{}/{page}", ours.unit)).await.expect(200);
        phone.get(&format!("/v1/units/{}/{page}", theirs.unit)).await.problem(404, "not_found");
    }
    for (shop, status) in [(&ours, 200), (&theirs, 404)] {
        let conditions = json!({ "upper_membrane_id": shop.membrane, "lower_membrane_id": shop.membrane,
            "speed_set": { "value": 3.0, "unit": "m/min" }, "sheet_temperature": { "value": 20, "unit": "Cel" },
            "purpose": "confirmation" });
        let path = format!("/v1/units/{}/starting-steps", shop.unit);
        phone.post(&path, &conditions).await.expect_status(status);
    }
    let flags = director.get(&format!("/v1/flags?unit_id={}", theirs.unit)).await.expect(200);
    let flag = format!("/v1/flags/{}", flags["items"][0]["id"].as_str().unwrap());
    phone.get(&flag).await.problem(404, "not_found");
}
