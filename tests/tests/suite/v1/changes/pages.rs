//! Pages, long polls, and cursors that lead nowhere.

use std::time::{Duration, Instant};

use chrono::TimeDelta;
use futures_util::future::join;
use lapwatch_tests::harness::{App, Reply, Shop, TestFolder, Trial};
use reqwest::Method;
use serde_json::json;
use uuid::Uuid;

use super::{event, read_all, stored, told};

#[tokio::test]
async fn the_feed_tells_of_everything_in_order_whatever_the_size_of_its_pages() {
    let app = App::start().await;
    let director = app.director();
    let shop = Shop::open(&director).await;
    director.post("/v1/trials", &Trial::good_sweep(&shop, app.now()).json()).await.expect(201);
    director.post("/v1/service-events", &event(shop.unit, app.now())).await.expect(201);
    // What a phone brings after weeks is found where the feed says, whatever lists show by themselves.
    let long_ago = app.now() - TimeDelta::days(60);
    let span = json!({ "schema": "production_span/1", "id": Uuid::now_v7(), "unit_id": shop.unit, "from": long_ago, "to": long_ago, "place": "Hall 3" });
    let plan = json!({ "schema": "day_plan/1", "id": Uuid::now_v7(), "crew_id": shop.crew, "date": "2026-04-07", "welding": true, "unit_ids": [] });
    let break_off = json!({ "schema": "day_event/1", "id": Uuid::now_v7(), "crew_id": shop.crew, "at": long_ago, "kind": "start" });
    let check = json!({ "schema": "seam_check/1", "id": Uuid::now_v7(), "span_id": span["id"], "unit_id": shop.unit, "at": long_ago,
                        "method": "probe", "result": "sound" });
    let inspection = event(shop.unit, long_ago);
    director.post("/v1/service-events", &inspection).await.expect(201);
    let withdrawn = json!({ "schema": "retraction/1", "id": Uuid::now_v7(), "record_id": inspection["id"],
                            "at": long_ago, "reason": "The wrong unit." });
    let kept =
        director.post("/v1/envelopes", &json!([span, plan, break_off, check, withdrawn])).await.expect(200);
    for result in kept["results"].as_array().expect("results") {
        assert_eq!(result["result"], "created", "{result}");
    }
    let stored = stored(&app).await;
    assert!(stored.len() >= 11, "{stored:?}");
    for limit in [1, 3, 500] {
        let (items, _) = read_all(&director, &format!("limit={limit}"), None).await;
        assert_eq!(items.iter().map(told).collect::<Vec<_>>(), stored, "limit {limit}");
        for item in &items {
            if item["id"] == inspection["id"] {
                // Withdrawn: lists leave it out.
                continue;
            }
            let href = item["href"].as_str().expect("everything is there");
            let found = director.get(href).await.expect(200).to_string();
            // A standing is asked for by its unit, criteria and policy have no id.
            let id = item["id"].as_str().expect("an id");
            assert!(found.contains(id), "{href} does not show {id}");
        }
    }
    // A retired or moved subject is told of again, as changed.
    let mut form = shop.membrane_form();
    form.as_object_mut().expect("an object").remove("id");
    director.put(&format!("/v1/membranes/{}", shop.membrane), &form).await.expect(200);
    let (items, _) = read_all(&director, "kinds=membrane", None).await;
    let happened: Vec<&str> = items.iter().filter_map(|item| item["event"].as_str()).collect();
    assert_eq!(happened, ["added", "changed"]);
}

#[tokio::test]
async fn kinds_filter_and_what_is_passed_over_is_no_loss() {
    let app = App::start().await;
    let director = app.director();
    let shop = Shop::open(&director).await;
    let (items, through) = read_all(&director, "kinds=unit,crew&limit=1", None).await;
    let kinds: Vec<&str> = items.iter().filter_map(|item| item["kind"].as_str()).collect();
    assert_eq!(kinds, ["crew", "unit"]);
    // Nothing more of these kinds: the next page goes past the rest.
    director.post("/v1/service-events", &event(shop.unit, app.now())).await.expect(201);
    let page = director.get(&format!("/v1/changes?kinds=unit,crew&after={through}")).await.expect(200);
    assert_eq!(page["items"], json!([]));
    assert_ne!(page["through"], json!(through), "it was read past the service event");
    assert_eq!(page["more"], false);
    // A token hears of what it may read.
    let limited = app.app(&["units:read"]).await;
    let (items, _) = read_all(&limited, "limit=500", None).await;
    assert!(
        items
            .iter()
            .all(|item| ["unit", "standing", "service_event"].contains(&item["kind"].as_str().unwrap()))
    );
    limited.get("/v1/changes?kinds=unit,trial").await.problem(403, "forbidden").advises("trials:read");
    for query in ["kinds=seam", "limit=0", "limit=501", "wait_seconds=61", "after=1", "after=", "crew_id=7"] {
        director.get(&format!("/v1/changes?{query}")).await.problem(400, "bad_request");
    }
}

#[tokio::test]
async fn an_answer_has_a_tag_and_says_what_is_next() {
    let app = App::start().await;
    let director = app.director();
    let shop = Shop::open(&director).await;
    let reply = director.get("/v1/changes?limit=2&kinds=site,crew,lot").await;
    let link = reply.header("link").to_owned();
    let next = link.strip_prefix('<').and_then(|link| link.strip_suffix(">; rel=\"next\"")).expect("a link");
    assert!(next.starts_with("/v1/changes?limit=2&kinds=site,crew,lot&after="), "{next}");
    let second = director.get(next).await;
    assert_eq!(second.json()["items"][0]["kind"], "lot");
    assert_ne!(second.header("etag"), reply.header("etag"));
    let again = async || {
        let request = director.request(Method::GET, next).header("if-none-match", second.header("etag"));
        Reply::of(request.header("accept-encoding", "gzip")).await
    };
    let same = again().await;
    assert_eq!((same.status.as_u16(), same.body().len()), (304, 0));
    assert_eq!(same.header("etag"), second.header("etag"));
    director.post("/v1/lots", &Shop { lot: Uuid::now_v7(), ..shop }.lot_form()).await.expect(201);
    assert_eq!(again().await.expect(200)["items"].as_array().expect("items").len(), 2);
}

#[tokio::test]
async fn a_poll_waits_for_the_next_entry_of_its_kinds() {
    let app = App::start().await;
    let director = app.director();
    let shop = Shop::open(&director).await;
    let poll = "/v1/changes?after=now&kinds=day_plan&wait_seconds=30";
    let plan = json!({ "id": Uuid::now_v7(), "crew_id": shop.crew, "date": "2026-06-10", "welding": false, "unit_ids": [] });
    let started = Instant::now();
    let (page, ()) = join(director.get(poll), async {
        tokio::time::sleep(Duration::from_millis(200)).await;
        director.post("/v1/service-events", &event(shop.unit, app.now())).await.expect(201);
        director.post("/v1/day-plans", &plan).await.expect(201);
    })
    .await;
    let page = page.expect(200);
    assert_eq!(page["items"][0]["id"], plan["id"], "{page}");
    assert!(started.elapsed() < Duration::from_secs(10), "it was told at once");
    // Nothing comes: an empty answer in the end.
    let started = Instant::now();
    let page = director.get("/v1/changes?after=now&wait_seconds=1").await.expect(200);
    assert_eq!((&page["items"], &page["more"]), (&json!([]), &json!(false)));
    assert!(started.elapsed() >= Duration::from_secs(1));
}

/// What another process commits is noticed too.
#[tokio::test]
async fn a_poll_hears_of_commits_of_another_process() {
    let app = App::start().await;
    let director = app.director();
    Shop::open(&director).await;
    let poll = director.get("/v1/changes?after=now&wait_seconds=30");
    let started = Instant::now();
    let (page, ()) = join(poll, async {
        tokio::time::sleep(Duration::from_millis(300)).await;
        let sql = "WITH moved AS (
                UPDATE change_counter SET seq = seq + 1 WHERE organization_id = $1 RETURNING seq
            )
            INSERT INTO change SELECT $1, seq, 'policy', $1, now() FROM moved";
        app.superuser().await.execute(sql, &[&app.organization.id]).await.expect("an entry is added");
    })
    .await;
    assert_eq!(page.expect(200)["items"][0]["kind"], "policy");
    assert!(started.elapsed() < Duration::from_secs(10));
}

#[tokio::test]
async fn a_cursor_that_leads_nowhere_says_so() {
    let app = App::start().await;
    let neighbours = app.found("Dunlin Roofing").await;
    // An organization about which nothing was told yet: its end is a place as good as any.
    let (items, empty) = read_all(&app.director_of(&neighbours), "limit=500", None).await;
    assert!(items.is_empty());
    Shop::open(&app.director_of(&neighbours)).await;
    let (items, foreign) = read_all(&app.director_of(&neighbours), "limit=500", Some(&empty)).await;
    assert_eq!(items.len(), 6, "five things and a standing");

    let director = app.director();
    Shop::open(&director).await;
    let (_, through) = read_all(&director, "limit=500", None).await;
    let ask = async |cursor: &str| director.get(&format!("/v1/changes?after={cursor}")).await;
    ask(&foreign).await.problem(400, "bad_request").advises("after");
    ask(&through).await.expect(200);
    // The database has lost its tail.
    let database = app.superuser().await;
    for sql in ["DELETE FROM change WHERE seq > 2", "UPDATE change_counter SET seq = 2"] {
        database.execute(sql, &[]).await.expect("the tail is cut off");
    }
    ask(&through).await.problem(410, "cursor_lost").advises("snapshot");
    let wait = format!("{through}&wait_seconds=5");
    ask(&wait).await.problem(410, "cursor_lost");
    let line = director.get(&format!("/v1/changes/stream?after={through}")).await;
    line.problem(410, "cursor_lost");
}

/// `lapwatch epoch`, which an operator runs after a restore: what readers knew counts no more.
#[tokio::test]
async fn the_command_begins_another_epoch() {
    let app = App::start().await;
    let director = app.director();
    Shop::open(&director).await;
    let known = director.get("/v1/changes?after=now").await.expect(200)["through"].clone();
    let known = known.as_str().expect("a cursor");
    director.get(&format!("/v1/changes?after={known}")).await.expect(200);
    let data = TestFolder::make().expect("a folder");
    let ran = std::process::Command::new(env!("CARGO_BIN_EXE_lapwatch-under-test"))
        .arg("epoch")
        .args(["--secrets".as_ref(), app.secrets().path(), "--data".as_ref(), data.path()])
        .env("DATABASE_URL", app.database_url())
        .output()
        .expect("it runs");
    let said = String::from_utf8_lossy(&ran.stdout);
    assert!(ran.status.success() && said.contains("feeds of 1 organization."), "{said} {ran:?}");
    director.get(&format!("/v1/changes?after={known}")).await.problem(410, "cursor_lost");
    director.get("/v1/changes").await.expect(200);
}
