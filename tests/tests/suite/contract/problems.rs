//! Every kind of problem is met by somebody, and says what it is at its own address.

use base64::Engine as _;
use base64::prelude::BASE64_STANDARD;
use lapwatch_api::problem::Code;
use lapwatch_tests::harness::{App, Caller, PASSWORD, Reply, Shop, Trial, photo, sha256, torn_photo};
use reqwest::Method;
use serde_json::json;

async fn send_photo(caller: &Caller<'_>, bytes: &[u8]) -> Reply {
    let request = caller.request(Method::PUT, &format!("/v1/photo-contents/{}", sha256(bytes)));
    Reply::of(request.body(bytes.to_vec())).await
}

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
        Code::Stale => {
            let request = director.request(Method::PUT, "/v1/policy").header("If-Match", "\"0-0\"");
            let policy = director.get("/v1/policy").await.expect(200);
            Reply::of(request.header("Content-Type", "application/json").body(policy.to_string())).await
        }
        Code::KeyReused => {
            let site = async |name: &str| {
                let request = director.request(Method::POST, "/v1/sites").header("Idempotency-Key", "k");
                let body = json!({ "name": name, "time_zone": "UTC" }).to_string();
                Reply::of(request.header("Content-Type", "application/json").body(body)).await
            };
            site("Mole Head").await.expect(201);
            site("Samphire Wharf").await
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
        Code::PhotoRefused => send_photo(&director, b"no photo").await,
        Code::PhotoUnreadable => {
            send_photo(&director, &torn_photo()).await.expect(201);
            director.get(&format!("/v1/photo-contents/{}/rendition", sha256(&torn_photo()))).await
        }
        Code::StillKept => {
            let bytes = photo(2, 64, 48);
            send_photo(&director, &bytes).await.expect(201);
            director.delete(&format!("/v1/photo-contents/{}", sha256(&bytes))).await
        }
        Code::UploadVersion => director.send(Method::POST, "/v1/uploads").await,
        Code::WrongOffset => {
            let metadata = format!("sha256 {}", BASE64_STANDARD.encode(sha256(b"strip")));
            let spoken = |method, path: &str| director.request(method, path).header("Tus-Resumable", "1.0.0");
            let begin = spoken(Method::POST, "/v1/uploads").header("Upload-Length", 5);
            let begun = Reply::of(begin.header("Upload-Metadata", metadata)).await;
            let add = spoken(Method::PATCH, begun.header("location")).header("Upload-Offset", 3);
            Reply::of(add.header("Content-Type", "application/offset+octet-stream").body("x")).await
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
