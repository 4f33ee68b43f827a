//! `ETag`, `If-None-Match`, `If-Match` of configuration: nobody overwrites what they have not read.

use chrono::TimeDelta;
use lapwatch_tests::harness::{App, Caller, Reply, Shop};
use reqwest::Method;
use reqwest::header::{CONTENT_TYPE, IF_MATCH, IF_NONE_MATCH};
use serde_json::{Value, json};

/// Everything that has a tag, with a form that it takes.
fn places(shop: &Shop) -> Vec<(String, Value)> {
    vec![
        (format!("/v1/sites/{}", shop.site), shop.site_form()),
        (format!("/v1/crews/{}", shop.crew), shop.crew_form()),
        (format!("/v1/membranes/{}", shop.membrane), shop.membrane_form()),
        (format!("/v1/lots/{}", shop.lot), shop.lot_form()),
        (format!("/v1/units/{}", shop.unit), shop.unit_form()),
    ]
}

async fn put_if(caller: &Caller<'_>, path: &str, tag: &str, form: &Value) -> Reply {
    let request = caller.request(Method::PUT, path).header(CONTENT_TYPE, "application/json");
    Reply::of(request.header(IF_MATCH, tag).body(form.to_string())).await
}

async fn tag_of(caller: &Caller<'_>, path: &str) -> String {
    let reply = caller.get(path).await;
    reply.expect_status(200);
    reply.header("etag").to_owned()
}

#[tokio::test]
async fn a_change_follows_what_was_read() {
    let app = App::start().await;
    let director = app.director();
    let shop = Shop::open(&director).await;
    let exception = json!({ "name": "Parapets", "site_id": shop.site, "minimum_strips": 4 });
    let exception = director.post("/v1/criteria-exceptions", &exception).await.expect(201);
    let mut places = places(&shop);
    places.push((format!("/v1/criteria-exceptions/{}", exception["id"].as_str().unwrap()), exception));
    for path in ["/v1/criteria", "/v1/policy"] {
        places.push((path.to_owned(), director.get(path).await.expect(200)));
    }
    app.pass(TimeDelta::minutes(1));
    for (path, mut form) in places {
        form.as_object_mut().unwrap().remove("effective_from");
        let first = tag_of(&director, &path).await;
        assert_eq!(tag_of(&director, &path).await, first, "{path}: reading changes nothing");

        let known = director.request(Method::GET, &path).header(IF_NONE_MATCH, &first);
        let known = Reply::of(known).await;
        known.expect_status(304);
        assert_eq!((known.header("etag"), known.body().len()), (first.as_str(), 0), "{path}");

        let changed = put_if(&director, &path, &first, &form).await;
        changed.expect_status(200);
        let second = changed.header("etag").to_owned();
        assert_ne!(second, first, "{path}");
        assert_eq!(
            tag_of(&director, &path).await,
            second,
            "{path}: the answer has the tag that is read next"
        );
        let read_again = Reply::of(director.request(Method::GET, &path).header(IF_NONE_MATCH, &first)).await;
        read_again.expect_status(200);

        put_if(&director, &path, &first, &form).await.problem(412, "stale").advises("again");
        assert_eq!(tag_of(&director, &path).await, second, "{path}: nothing was stored");
        // One of several, and any.
        let either = format!("{first}, {second}");
        put_if(&director, &path, &either, &form).await.expect_status(200);
        put_if(&director, &path, "*", &form).await.expect_status(200);
        director.put(&path, &form).await.expect_status(200);
        // Tags that nothing here ever had, and one that a proxy has weakened.
        let third = tag_of(&director, &path).await;
        for tag in ["\"1\"", "\"99999999999999999999-1\"", "\"-\"", &format!("W/{third}")] {
            put_if(&director, &path, tag, &form).await.problem(412, "stale");
        }
        for tag in ["", "7", third.trim_matches('"')] {
            put_if(&director, &path, tag, &form).await.problem(400, "bad_request").advises("`ETag`");
        }
        put_if(&director, &path, &third, &form).await.expect_status(200);
    }
}

/// A version that was recorded for later is another state from the moment it comes into force.
#[tokio::test]
async fn what_comes_into_force_has_another_tag() {
    let app = App::start().await;
    let director = app.director();
    let shop = Shop::open(&director).await;
    let path = format!("/v1/sites/{}", shop.site);
    let mut later = shop.site_form();
    later["name"] = json!("Mole Head");
    later["effective_from"] = json!(app.now() + TimeDelta::minutes(30));
    let recorded = put_if(&director, &path, &tag_of(&director, &path).await, &later).await;
    recorded.expect_status(200);
    let before = tag_of(&director, &path).await;
    assert_eq!(recorded.header("etag"), before, "the tag is that of what holds now");
    app.pass(TimeDelta::minutes(31));
    let now = director.get(&path).await;
    assert_eq!(now.expect(200)["name"], "Mole Head");
    put_if(&director, &path, &before, &later).await.problem(412, "stale");
    put_if(&director, &path, now.header("etag"), &later).await.expect_status(200);
}

/// Of those who change the same state at once, one does; whoever was refused can see what was done.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn one_of_many_changes_the_same_state() {
    let app = App::start().await;
    let director = app.director();
    let shop = Shop::open(&director).await;
    for (path, form) in places(&shop) {
        let tag = tag_of(&director, &path).await;
        let tries = (0..6).map(|number| {
            let mut form = form.clone();
            let (caller, path, tag) = (director.clone(), path.clone(), tag.clone());
            async move {
                let member = ["name", "label", "code"].into_iter().find(|name| form.get(name).is_some());
                form[member.expect("a name")] = json!(format!("Try {number}"));
                put_if(&caller, &path, &tag, &form).await
            }
        });
        let replies = futures_util::future::join_all(tries).await;
        let done: Vec<_> = replies.iter().filter(|reply| reply.status == 200).collect();
        assert_eq!(done.len(), 1, "{path}");
        for reply in replies.iter().filter(|reply| reply.status != 200) {
            reply.problem(412, "stale");
        }
        assert_eq!(director.get(&path).await.expect(200), done[0].json(), "{path}");
        assert_eq!(tag_of(&director, &path).await, done[0].header("etag"), "{path}");
    }
}

/// Somebody else's subject is not there, whatever tag is sent.
#[tokio::test]
async fn a_tag_opens_no_other_organization() {
    let app = App::start().await;
    let shop = Shop::open(&app.director()).await;
    let neighbours = app.found("Dunlin Roofing").await;
    let path = format!("/v1/sites/{}", shop.site);
    let tag = tag_of(&app.director(), &path).await;
    let theirs = app.director_of(&neighbours);
    put_if(&theirs, &path, &tag, &shop.site_form()).await.problem(404, "not_found");
    Reply::of(theirs.request(Method::GET, &path).header(IF_NONE_MATCH, &tag)).await.problem(404, "not_found");
}
