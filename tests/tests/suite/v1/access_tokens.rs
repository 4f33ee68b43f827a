//! `/v1/access-tokens`: people sign in.

use chrono::TimeDelta;
use futures_util::future::join_all;
use lapwatch_tests::harness::{App, PASSWORD};
use serde_json::json;

#[tokio::test]
async fn a_person_signs_in_and_gets_a_token_that_works_for_an_hour() {
    let app = App::start().await;
    let name = app.organization.director.sign_in.to_uppercase();
    let reply =
        app.anybody().post("/v1/access-tokens", &json!({ "sign_in": name, "password": PASSWORD })).await;
    let answer = reply.expect(200);
    assert_eq!(reply.header("cache-control"), "no-store");
    assert_eq!((&answer["token_type"], &answer["expires_in"]), (&json!("Bearer"), &json!(3600)));
    let person = app.bearer(answer["access_token"].as_str().unwrap());
    person.get("/v1/fleet").await.expect(200);
    app.pass(TimeDelta::minutes(59));
    person.get("/v1/fleet").await.expect(200);
    app.pass(TimeDelta::minutes(1));
    person.get("/v1/fleet").await.problem(401, "unauthenticated");
}

/// A wrong name and a wrong password look the same.
#[tokio::test]
async fn refusals_tell_nothing() {
    let app = App::start().await;
    let wrong_password =
        json!({ "sign_in": app.organization.director.sign_in, "password": "guess guess guess" });
    let wrong_name = json!({ "sign_in": "nobody@saltmarsh.example", "password": PASSWORD });
    let known =
        app.anybody().post("/v1/access-tokens", &wrong_password).await.problem(401, "sign_in_refused");
    let unknown = app.anybody().post("/v1/access-tokens", &wrong_name).await.problem(401, "sign_in_refused");
    assert_eq!(known.without_request_id(), unknown.without_request_id());
}

/// After ten failures within a minute a name has to wait, right password or not, known or not; other names do not.
#[tokio::test]
async fn guessing_is_slowed_down() {
    let app = App::start().await;
    let director = &app.organization.director.sign_in;
    let neighbours = app.found("Dunlin Roofing").await;
    let try_it = async |name: &str, password: &str| {
        app.anybody().post("/v1/access-tokens", &json!({ "sign_in": name, "password": password })).await
    };
    // All at once: a guesser does not wait for answers.
    let guesses = (0..24).map(|guess| {
        let password = format!("guess number {guess}");
        let try_it = &try_it;
        async move { try_it(director, &password).await }
    });
    let mut refused = 0;
    for reply in join_all(guesses).await {
        match reply.status.as_u16() {
            401 => refused += 1,
            _ => {
                reply.problem(429, "too_many_requests");
                assert_eq!(reply.header("retry-after"), "60");
            }
        }
    }
    assert_eq!(refused, 10, "guesses that were compared with the password");
    try_it(director, PASSWORD).await.problem(429, "too_many_requests");
    try_it(&neighbours.director.sign_in, PASSWORD).await.expect(200);
    app.pass(TimeDelta::seconds(61));
    try_it(director, PASSWORD).await.expect(200);
}

/// Somebody who leaves is shut out at once, though the token has not expired.
#[tokio::test]
async fn a_disabled_person_is_shut_out() {
    let app = App::start().await;
    let director = app.director();
    director.get("/v1/fleet").await.expect(200);
    app.superuser().await.execute("UPDATE person SET disabled_at = now()", &[]).await.unwrap();
    director.get("/v1/fleet").await.problem(401, "unauthenticated");
    let body = json!({ "sign_in": app.organization.director.sign_in, "password": PASSWORD });
    app.anybody().post("/v1/access-tokens", &body).await.problem(401, "sign_in_refused");
}

/// What is refused is never repeated in the answer.
#[tokio::test]
async fn passwords_are_not_echoed() {
    let app = App::start().await;
    for body in [
        json!({ "sign_in": "somebody", "password": "secret-in-the-wrong-place" }),
        json!({ "sign_in": ["secret-in-the-wrong-place"], "password": "secret-in-the-wrong-place" }),
        json!({ "sign_in": "somebody", "password": { "secret-in-the-wrong-place": 1 } }),
        json!({ "sign_in": "somebody", "password": "x", "pass": "secret-in-the-wrong-place" }),
    ] {
        let reply = app.anybody().post("/v1/access-tokens", &body).await;
        assert!(reply.status.is_client_error(), "{}", reply.text());
        assert!(!reply.text().contains("secret-in-the-wrong-place"), "{}", reply.text());
    }
}
