//! Pages as they are sent: who may see them, what guards their forms, what they may load.

use lapwatch_tests::harness::{App, PASSWORD, PLACE_TAKEN, Reply, Shop, Trial, photo, sha256};
use reqwest::Method;
use reqwest::header::{CONTENT_TYPE, COOKIE, SET_COOKIE};
use serde_json::{Value, json};
use uuid::Uuid;

/// What a browser would keep of an answer's cookies: names and values.
fn cookies(reply: &Reply) -> Vec<String> {
    let set = reply.headers.get_all(SET_COOKIE).iter().filter_map(|value| value.to_str().ok());
    set.filter_map(|cookie| cookie.split(';').next()).map(str::to_owned).collect()
}

fn hidden(reply: &Reply, name: &str) -> String {
    let text = reply.text();
    let after = text
        .split(&format!("name=\"{name}\" value=\""))
        .nth(1)
        .unwrap_or_else(|| panic!("no {name}: {text}"));
    after.split('"').next().unwrap_or_default().to_owned()
}

async fn post_form(app: &App, path: &str, cookies: &[String], fields: &[(&str, &str)]) -> Reply {
    let escape = |text: &str| {
        text.bytes()
            .map(|byte| {
                if byte.is_ascii_alphanumeric() {
                    char::from(byte).to_string()
                } else {
                    format!("%{byte:02X}")
                }
            })
            .collect::<String>()
    };
    let body: Vec<String> = fields.iter().map(|(name, value)| format!("{name}={}", escape(value))).collect();
    let request = app.anybody().request(Method::POST, path).header(COOKIE, cookies.join("; "));
    Reply::of(request.header(CONTENT_TYPE, "application/x-www-form-urlencoded").body(body.join("&"))).await
}

pub(crate) async fn get_with(app: &App, path: &str, cookies: &[String]) -> Reply {
    Reply::of(app.anybody().request(Method::GET, path).header(COOKIE, cookies.join("; "))).await
}

/// Signs the director in as a browser does; answers the session's cookie.
pub(crate) async fn sign_in(app: &App) -> Vec<String> {
    let form = app.anybody().get("/sign-in").await;
    let token = hidden(&form, "form_token");
    let name = app.organization.director.sign_in.clone();
    let fields =
        [("sign_in", name.as_str()), ("password", PASSWORD), ("next", "/fleet"), ("form_token", &token)];
    let reply = post_form(app, "/sign-in", &cookies(&form), &fields).await;
    assert!(reply.status.is_redirection(), "{}: {}", reply.status, reply.text());
    assert_eq!(reply.header("location"), "/fleet");
    let set: Vec<&str> =
        reply.headers.get_all(SET_COOKIE).iter().filter_map(|value| value.to_str().ok()).collect();
    let session = set.iter().find(|cookie| cookie.starts_with("lapwatch_session=")).expect("a session");
    assert!(session.contains("HttpOnly") && session.contains("SameSite=Lax"), "{session}");
    cookies(&reply).into_iter().filter(|cookie| cookie.starts_with("lapwatch_session=")).collect()
}

#[tokio::test]
async fn pages_ask_for_a_session() {
    let app = App::start().await;
    let shop = Shop::open(&app.director()).await;
    let trial = Trial::good_sweep(&shop, app.now()).json();
    app.director().post("/v1/trials", &trial).await.expect(201);
    let session = sign_in(&app).await;
    let trial = format!("/trials/{}", trial["id"].as_str().unwrap());
    let unit = format!("/units/{}", shop.unit);
    let pages = [("/fleet", "SM-07"), ("/held", "Held records"), (unit.as_str(), "SM-07"), (&trial, "SM-07")];
    for (path, shown) in pages {
        let reply = app.anybody().get(path).await;
        assert!(reply.status.is_redirection(), "{path}: {}", reply.status);
        assert!(reply.header("location").starts_with("/sign-in"), "{path}: {}", reply.header("location"));
        let page = get_with(&app, path, &session).await;
        page.expect_status(200);
        assert!(page.text().contains(shown), "{path}");
        let policy = page.header("content-security-policy");
        assert!(policy.contains("default-src"), "{path}: {policy}");
        assert!(!page.text().contains("<script"), "{path} works without scripts");
        assert!(!page.text().contains("src=\"http") && !page.text().contains("href=\"http"), "{path}");
        // A session is for pages; the API asks for a token.
        get_with(&app, "/v1/fleet", &session).await.problem(401, "unauthenticated");
    }
}

/// A form that another site had the browser send is refused.
#[tokio::test]
async fn forms_are_bound_to_their_browser() {
    let app = App::start().await;
    let name = app.organization.director.sign_in.clone();
    let fields =
        [("sign_in", name.as_str()), ("password", PASSWORD), ("next", "/fleet"), ("form_token", "00")];
    let reply = post_form(&app, "/sign-in", &[], &fields).await;
    assert_eq!(reply.status.as_u16(), 400, "{}", reply.text());
    assert!(cookies(&reply).iter().all(|cookie| !cookie.starts_with("lapwatch_session=")));

    let session = sign_in(&app).await;
    let reply = post_form(&app, "/sign-out", &session, &[("form_token", "00")]).await;
    assert!(reply.status.is_client_error(), "{}", reply.status);
    get_with(&app, "/fleet", &session).await.expect_status(200);
    let token = hidden(&get_with(&app, "/fleet", &session).await, "form_token");
    let reply = post_form(&app, "/sign-out", &session, &[("form_token", &token)]).await;
    assert!(reply.status.is_redirection(), "{}: {}", reply.status, reply.text());
    let after = get_with(&app, "/fleet", &session).await;
    assert!(after.status.is_redirection(), "the session has ended on the service: {}", after.status);
}

/// Another organization's unit is not there, on a page as little as in the API.
#[tokio::test]
async fn pages_show_ones_own() {
    let app = App::start().await;
    let neighbours = app.found("Dunlin Roofing").await;
    let theirs = Shop::open(&app.director_of(&neighbours)).await;
    let session = sign_in(&app).await;
    get_with(&app, &format!("/units/{}", theirs.unit), &session).await.expect_status(404);
    let fleet = get_with(&app, "/fleet", &session).await;
    fleet.expect_status(200);
    assert!(!fleet.text().contains("SM-07"), "{}", fleet.text());
}

/// A session ends after twelve hours, and when its person is shut out.
#[tokio::test]
async fn sessions_end() {
    let app = App::start().await;
    let session = sign_in(&app).await;
    app.pass(chrono::TimeDelta::minutes(12 * 60 - 1));
    get_with(&app, "/fleet", &session).await.expect_status(200);
    app.pass(chrono::TimeDelta::minutes(1));
    assert!(get_with(&app, "/fleet", &session).await.status.is_redirection());
    let again = sign_in(&app).await;
    get_with(&app, "/fleet", &again).await.expect_status(200);
    app.superuser().await.execute("UPDATE person SET disabled_at = now()", &[]).await.unwrap();
    assert!(get_with(&app, "/fleet", &again).await.status.is_redirection());
}

/// What the unit's history adds is told apart from what the strips say; a coupon of another speed says so.
#[tokio::test]
async fn a_trials_page_tells_of_history_and_speeds() {
    let app = App::start().await;
    let director = app.director();
    let shop = Shop::open(&director).await;
    let cookies = sign_in(&app).await;
    let page = async |trial: Value| {
        let answer = director.post("/v1/trials", &trial).await.expect(201);
        let path = format!("/trials/{}", answer["trial"]["id"].as_str().unwrap());
        get_with(&app, &path, &cookies).await.text()
    };
    let first = page(Trial::good_sweep(&shop, app.now()).json()).await;
    assert!(
        !first.contains("With the unit&#39;s history") && !first.contains("With the unit's history"),
        "{first}"
    );
    for day in 1..8 {
        let at = app.now() - chrono::TimeDelta::days(day);
        let sweep =
            Trial::good_sweep(&shop, at).member("sheet_temperature", json!({ "value": 20, "unit": "Cel" }));
        director.post("/v1/trials", &sweep.json()).await.expect(201);
    }
    let mut later = Trial::good_sweep(&shop, app.now()).json();
    later["sheet_temperature"] = json!({ "value": 20, "unit": "Cel" });
    later["coupons"][0]["speed_set"] = json!({ "value": 4.2, "unit": "m/min" });
    let later = page(later).await;
    assert!(later.contains("With the unit's history"), "{later}");
    assert!(later.contains("at 4.2"), "{later}");
    // No fit of the fleet holds yet.
    assert!(later.contains("usual values, as long as"), "{later}");
}

/// A trial that nobody closed is not forgotten.
#[tokio::test]
async fn a_units_page_tells_of_an_unfinished_trial() {
    let app = App::start().await;
    let director = app.director();
    let shop = Shop::open(&director).await;
    let cookies = sign_in(&app).await;
    let (header, coupons, close) = Trial::good_sweep(&shop, app.now()).pieces();
    let page = async || get_with(&app, &format!("/units/{}", shop.unit), &cookies).await.text();
    director.post("/v1/open-trials", &header).await.expect(201);
    assert!(page().await.contains("no coupon yet"));
    for coupon in &coupons {
        director.post("/v1/coupons", coupon).await.expect(201);
    }
    let fleet = get_with(&app, "/fleet", &cookies).await.text();
    assert!(fleet.contains("Unfinished trial</a>, begun") && fleet.contains("6 coupons"), "{fleet}");
    let page_then = page().await;
    assert!(
        page_then.contains("Unfinished trial, begun") && page_then.contains("6 coupons so far"),
        "{page_then}"
    );
    director.post("/v1/trial-closes", &close).await.expect(201);
    assert!(!page().await.contains("Unfinished trial"));
}

/// What could not be accepted is seen where one looks first, in words, and gone from there once it is settled.
#[tokio::test]
async fn held_records_are_shown() {
    let app = App::start().await;
    let director = app.director();
    let shop = Shop::open(&director).await;
    let cookies = sign_in(&app).await;
    let page = async |path: &str| get_with(&app, path, &cookies).await.text();
    assert!(!page("/fleet").await.contains("could not be accepted"));
    assert!(page("/held").await.contains("Every record that arrived was accepted."));

    let mut trial = Trial::good_sweep(&shop, app.now()).json();
    trial["unit_id"] = json!(uuid::Uuid::now_v7());
    let items = json!([trial, { "name": "<script>alert(1)</script>", "schema": "<b>bold</b>/1" }]);
    let sent = director.post("/v1/envelopes", &items).await.expect(200);
    assert!(page("/fleet").await.contains("2 records arrived that could not be accepted yet."));
    let held = page("/held").await;
    assert!(held.contains("<h2>Trial</h2>") && held.contains("<code>/unit_id</code>"), "{held}");
    assert!(held.contains("Not a known kind of record") && !held.contains("<b>bold"), "{held}");
    for result in sent["results"].as_array().unwrap() {
        let id = result["custody_id"].as_str().unwrap();
        assert!(held.contains(id), "{held}");
        let path = format!("/v1/custody/{id}/discard");
        director.post(&path, &json!({ "reason": "A test." })).await.expect(200);
    }
    assert!(!page("/fleet").await.contains("could not be accepted"));
}

/// A trial's photos stand on its page, from this service and for who is signed in; one that is still to come is told of.
#[tokio::test]
async fn a_trials_page_shows_its_photos() {
    let app = App::start().await;
    let director = app.director();
    let shop = Shop::open(&director).await;
    let trial = Trial::good_sweep(&shop, app.now()).json();
    director.post("/v1/trials", &trial).await.expect(201);
    let [here, to_come] = [photo(1, 64, 48), photo(2, 64, 48)];
    for (bytes, caption) in [(&here, "Strip 2 <peeled>"), (&to_come, "The roof")] {
        let told = json!({
            "id": Uuid::now_v7(), "subject_id": trial["id"], "coupon": 1, "sha256": sha256(bytes), "taken_at": app.now(),
            "caption": caption,
        });
        director.post("/v1/photos", &told).await.expect(201);
    }
    let request = director.request(Method::PUT, &format!("/v1/photo-contents/{}", sha256(&here)));
    Reply::of(request.body(here.clone())).await.expect(201);
    let session = sign_in(&app).await;
    let path = format!("/trials/{}", trial["id"].as_str().unwrap());
    let page = get_with(&app, &path, &session).await.text();
    let address = format!("/photos/{}", sha256(&here));
    assert!(page.contains(&format!("<img src=\"{address}\"")), "{page}");
    assert!(page.contains("Strip 2 &#60;peeled&#62;") && !page.contains("<peeled>"), "{page}");
    assert!(page.contains("Not here yet") && !page.contains(&sha256(&to_come)), "{page}");
    let shown = get_with(&app, &address, &session).await;
    shown.expect_status(200);
    assert!(!shown.body().windows(PLACE_TAKEN.len()).any(|words| words == PLACE_TAKEN.as_bytes()));
    assert!(app.anybody().get(&address).await.status.is_redirection());
    get_with(&app, &format!("/photos/{}", sha256(&to_come)), &session).await.expect_status(404);
}
