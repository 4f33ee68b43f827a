//! Every kind of problem is met by somebody, and says what it is at its own address.

use lapwatch_api::problem::Code;
use lapwatch_tests::harness::{App, PASSWORD, Reply, Shop, Trial};
use reqwest::Method;
use serde_json::json;

/// Brings a problem about. A new kind does not compile until it is brought about too.
async fn provoke(code: Code, app: &App, shop: &Shop) -> Reply {
    let director = app.director();
    let sign_in = async |password: &str| {
        let body = json!({ "sign_in": app.organization.director.sign_in, "password": password });
        app.anybody().post("/v1/access-tokens", &body).await
    };
    match code {
        Code::MalformedJson => director.post_text("/v1/trials", "{").await,
        Code::BadRequest => director.get("/v1/trials?limit=0").await,
        Code::Unauthenticated => app.anybody().get("/v1/fleet").await,
        Code::SignInRefused => sign_in("not the password").await,
        Code::Forbidden => app.app(&["trials:read"]).await.get("/v1/fleet").await,
        Code::NotFound => director.get("/nowhere").await,
        Code::MethodNotAllowed => director.send(Method::PATCH, "/v1/trials").await,
        Code::Conflict => {
            let trial = Trial::good_sweep(shop, app.now());
            director.post("/v1/trials", &trial.clone().json()).await.expect(201);
            director.post("/v1/trials", &trial.member("operator", json!("Wren")).json()).await
        }
        Code::Settled => {
            let held = director.post("/v1/envelopes", &json!([{}])).await.expect(200);
            let held = held["results"][0]["custody_id"].as_str().expect("an id").to_owned();
            let discard = async || {
                director.post(&format!("/v1/custody/{held}/discard"), &json!({ "reason": "A test." })).await
            };
            discard().await.expect(200);
            discard().await
        }
        Code::Taken => {
            let body = json!({
                "sign_in": app.organization.director.sign_in, "name": "Kit", "role": "equipment", "password": PASSWORD,
            });
            director.post("/v1/people", &body).await
        }
        Code::CursorLost => {
            let ahead = director.get("/v1/changes?after=now").await.expect(200)["through"].clone();
            app.superuser()
                .await
                .execute("UPDATE change_counter SET epoch = gen_random_uuid()", &[])
                .await
                .expect("another epoch begins");
            director.get(&format!("/v1/changes?after={}", ahead.as_str().expect("a cursor"))).await
        }
        Code::TooLarge => director.post_text("/v1/trials", " ".repeat(9_000_000)).await,
        Code::UnsupportedMediaType => {
            Reply::of(director.request(Method::POST, "/v1/trials").body("<trial/>")).await
        }
        Code::InvalidRecord => director.post("/v1/trials", &json!({})).await,
        Code::TooManyRequests => {
            for _ in 0..10 {
                sign_in("not the password").await;
            }
            sign_in(PASSWORD).await
        }
        Code::Internal => {
            // A stored record that cannot be read back: foreign hands, or a failing disk.
            let trial = Trial::good_sweep(shop, app.now()).json();
            director.post("/v1/trials", &trial).await.expect(201);
            app.superuser()
                .await
                .execute("UPDATE submission SET bytes = 'spoilt'", &[])
                .await
                .expect("it is spoilt");
            director.get(&format!("/v1/trials/{}", trial["id"].as_str().expect("an id"))).await
        }
        Code::Unavailable => {
            app.let_the_database_answer(false).await;
            director.get("/v1/fleet").await
        }
    }
}

#[tokio::test]
async fn every_kind_is_met() {
    let app = App::start().await;
    let shop = Shop::open(&app.director()).await;
    // The last one closes the database.
    let mut codes = Code::ALL.to_vec();
    codes.sort_by_key(|code| *code == Code::Unavailable);
    for code in codes {
        let reply = provoke(code, &app, &shop).await;
        let problem = reply.problem(code.status().as_u16(), code.code());
        assert_eq!(problem.document["title"], code.title());
        let address = problem.document["type"].as_str().expect("a type").to_owned();
        let kind = app.anybody().get(&address).await.expect(200);
        assert_eq!(
            kind,
            json!({ "code": code.code(), "status": code.status().as_u16(), "title": code.title() })
        );
    }
}

/// What broke inside is for the log; the caller gets a request id that stands there.
#[tokio::test]
async fn an_internal_error_shows_nothing_of_the_inside() {
    let app = App::start().await;
    let shop = Shop::open(&app.director()).await;
    let reply = provoke(Code::Internal, &app, &shop).await;
    reply.problem(500, "internal_error");
    for inside in ["spoilt", "submission", "serde", "panicked", ".rs", "SELECT", "postgres"] {
        assert!(!reply.text().contains(inside), "{inside} is in {}", reply.text());
    }
}
