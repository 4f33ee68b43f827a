//! A token that acts for one crew sees and sends that crew's trials.

use lapwatch_tests::harness::{App, Shop, Trial};
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
    let borrowed =
        Trial::good_sweep(&theirs, app.now()).member("crew_id", serde_json::json!(ours.crew)).json();
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
    let under_our_crew = trial.member("crew_id", serde_json::json!(ours.crew)).json();
    phone.post("/v1/trials", &under_our_crew).await.problem(409, "conflict");
}
