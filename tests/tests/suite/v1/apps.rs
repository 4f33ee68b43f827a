//! `/v1/apps`: third-party apps and their tokens.

use chrono::TimeDelta;
use lapwatch_tests::harness::{App, Shop, Trial};
use serde_json::json;
use uuid::Uuid;

#[tokio::test]
async fn an_app_acts_until_it_is_revoked() {
    let app = App::start().await;
    let shop = Shop::open(&app.director()).await;
    let (diary, id) =
        app.add_app(&json!({ "name": "Site diary", "scopes": ["trials:write", "trials:read"] })).await;
    diary.post("/v1/trials", &Trial::good_sweep(&shop, app.now()).json()).await.expect(201);

    app.director().delete(&format!("/v1/apps/{id}")).await.expect_status(204);
    diary.get("/v1/trials").await.problem(401, "unauthenticated");
    diary
        .post("/v1/trials", &Trial::good_sweep(&shop, app.now()).json())
        .await
        .problem(401, "unauthenticated");
    let listed = app.director().get("/v1/apps").await.expect(200);
    let revoked_at = listed["items"][0]["revoked_at"].clone();
    assert!(revoked_at.is_string(), "{listed}");
    assert!(!listed.to_string().contains("access_token"), "a token is shown once");

    app.pass(TimeDelta::hours(1));
    app.director().delete(&format!("/v1/apps/{id}")).await.expect_status(204);
    let listed = app.director().get("/v1/apps").await.expect(200);
    assert_eq!(listed["items"][0]["revoked_at"], revoked_at, "revoking twice keeps the first time");
}

#[tokio::test]
async fn a_token_of_an_app_ends_after_400_days() {
    let app = App::start().await;
    let diary = app.app(&["units:read"]).await;
    app.pass(TimeDelta::days(399));
    diary.get("/v1/fleet").await.expect(200);
    app.pass(TimeDelta::days(1));
    diary.get("/v1/fleet").await.problem(401, "unauthenticated");
}

/// Nobody gives away more than they have.
#[tokio::test]
async fn scopes_are_not_given_away() {
    let app = App::start().await;
    let keeper = app.app(&["access:write", "trials:read"]).await;
    let asked = json!({ "name": "Helper", "scopes": ["trials:read", "trials:write"] });
    keeper.post("/v1/apps", &asked).await.problem(403, "forbidden").advises("trials:write");
    keeper.post("/v1/apps", &json!({ "name": "Helper", "scopes": ["trials:read"] })).await.expect(201);
}

/// An app that acts for one crew must not make one that acts for all, or for another.
#[tokio::test]
async fn a_crew_is_not_given_away() {
    let app = App::start().await;
    let ours = Shop::open(&app.director()).await;
    let theirs = ours.another_crew(&app.director()).await;
    let bound = app.app_of_crew(&["access:write", "trials:read"], ours.crew).await;
    for crew in [json!(null), json!(theirs.crew)] {
        let asked = json!({ "name": "Helper", "scopes": ["trials:read"], "crew_id": crew });
        bound.post("/v1/apps", &asked).await.problem(403, "forbidden");
    }
    let asked = json!({ "name": "Helper", "scopes": ["trials:read"], "crew_id": ours.crew });
    bound.post("/v1/apps", &asked).await.expect(201);
}

#[tokio::test]
async fn what_is_wrong_with_an_app_is_named() {
    let app = App::start().await;
    let director = app.director();
    let cases = [
        (json!({ "name": "", "scopes": ["trials:read"] }), "/name", "wrong_type"),
        (json!({ "name": "Diary", "scopes": [] }), "/scopes", "required"),
        (json!({ "name": "Diary", "scopes": ["trials:read", "trials:all"] }), "/scopes/1", "unknown_code"),
        (
            json!({ "name": "Diary", "scopes": ["trials:read"], "crew_id": Uuid::now_v7() }),
            "/crew_id",
            "unknown_id",
        ),
        (json!({ "name": "Diary", "scopes": ["trials:read"], "crew": 7 }), "/crew", "unknown_field"),
    ];
    for (body, pointer, code) in cases {
        director.post("/v1/apps", &body).await.problem(422, "invalid_record").points_at(&[(pointer, code)]);
    }
}
