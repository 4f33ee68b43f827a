//! Bytes, whole.

use chrono::TimeDelta;
use lapwatch_tests::harness::{App, PLACE_TAKEN, Reply, photo, sha256, torn_photo};
use reqwest::Method;
use serde_json::{Value, json};
use uuid::Uuid;

use super::{put, put_as, text, told, with_a_trial};

fn says_where(bytes: &[u8]) -> bool {
    bytes.windows(PLACE_TAKEN.len()).any(|words| words == PLACE_TAKEN.as_bytes())
}

#[tokio::test]
async fn the_original_is_given_back_as_it_was_and_what_is_shown_tells_no_place() {
    let app = App::start().await;
    let director = app.director();
    let taken = photo(7, 2400, 1200);
    let content = put(&director, &taken).await.expect(201);
    assert_eq!(put(&director, &taken).await.expect(200), content, "once, however often it is sent");
    let original = director.get(text(&content["href"])).await;
    original.expect_status(200);
    assert_eq!(original.body(), taken);
    assert!(says_where(original.body()));
    assert_eq!(original.header("content-type"), "image/jpeg");
    assert!(original.header("content-security-policy").contains("sandbox"));
    let shown = director.get(text(&content["rendition_href"])).await;
    shown.expect_status(200);
    assert!(!says_where(shown.body()));
    let picture = image::load_from_memory(shown.body()).expect("a picture");
    assert_eq!((picture.width(), picture.height()), (1600, 800));
    // The same is not sent twice to who says that it has it.
    for reply in [original, shown] {
        let path = reply.asked.split(' ').nth(1).expect("a path").to_owned();
        let request = director.request(Method::GET, &path).header("If-None-Match", reply.header("etag"));
        let again = Reply::of(request).await;
        again.expect_status(304);
        assert_eq!(again.body(), b"");
    }
}

#[tokio::test]
async fn what_is_no_photo_is_refused_and_nothing_is_kept() {
    let app = App::start().await;
    let director = app.director();
    let taken = photo(8, 64, 48);
    for (bytes, advice) in [
        (b"GIF89a\x01\x00\x01\x00".to_vec(), "JPEG, PNG or WebP"),
        (b"<svg xmlns='http://www.w3.org/2000/svg'><script/></svg>".to_vec(), "JPEG, PNG or WebP"),
        (Vec::new(), "JPEG, PNG or WebP"),
        (taken[..30].to_vec(), "cut off"),
    ] {
        put(&director, &bytes).await.problem(422, "photo_refused").advises(advice);
        director.get(&format!("/v1/photo-contents/{}", sha256(&bytes))).await.problem(404, "not_found");
    }
    put_as(&director, &sha256(b"another"), &taken).await.problem(422, "photo_refused").advises("SHA-256");
    put_as(&director, "abc", &taken).await.problem(404, "not_found").advises("64 hexadecimal");
    let long = vec![0; 25 * 1024 * 1024 + 1];
    put(&director, &long).await.problem(413, "too_large");
    let request = director.request(Method::PUT, &format!("/v1/photo-contents/{}", sha256(&taken)));
    let packed = Reply::of(request.header("Content-Encoding", "gzip").body(taken.clone())).await;
    packed.problem(415, "unsupported_media_type");
}

#[tokio::test]
async fn a_damaged_photo_is_kept_and_said_to_be_unreadable() {
    let app = App::start().await;
    let director = app.director();
    let content = put(&director, &torn_photo()).await.expect(201);
    director.get(text(&content["rendition_href"])).await.problem(422, "photo_unreadable");
    assert_eq!(director.get(text(&content["href"])).await.body(), torn_photo());
}

#[tokio::test]
async fn only_what_nobody_refers_to_for_a_long_time_may_be_thrown_away() {
    let app = App::start().await;
    let (_, trial) = with_a_trial(&app).await;
    let [named, loose] = [photo(9, 64, 48), photo(10, 64, 48)];
    let record = told(&app, &trial["id"], &named);
    app.director().post("/v1/photos", &record).await.expect(201);
    for bytes in [&named, &loose] {
        put(&app.director(), bytes).await.expect(201);
    }
    let unclaimed = async |query: &str| -> Vec<Value> {
        let list = app.director().get(&format!("/v1/photo-contents{query}")).await.expect(200);
        list["items"].as_array().expect("a list").iter().map(|content| content["sha256"].clone()).collect()
    };
    let discard =
        async |bytes: &[u8]| app.director().delete(&format!("/v1/photo-contents/{}", sha256(bytes))).await;
    app.pass(TimeDelta::days(1));
    assert_eq!(unclaimed("").await, [json!(null); 0]);
    assert_eq!(unclaimed("?older_than_days=1").await, [json!(null); 0], "not yet a whole day behind it");
    assert_eq!(unclaimed("?older_than_days=0").await, [json!(sha256(&loose))]);
    discard(&loose).await.problem(409, "still_kept").advises("400 days");
    app.pass(TimeDelta::days(400));
    assert_eq!(unclaimed("").await, [json!(sha256(&loose))]);
    discard(&named).await.problem(409, "still_kept").advises("refers to it");
    discard(&loose).await.expect_status(204);
    discard(&loose).await.problem(404, "not_found");
    let path = format!("/v1/photo-contents/{}", sha256(&loose));
    app.director().get(&path).await.problem(404, "not_found");
    // Withdrawn, the other is nobody's either.
    let mistake = json!({ "id": Uuid::now_v7(), "record_id": record["id"], "at": app.now(), "reason": "Another roof." });
    app.director().post("/v1/retractions", &mistake).await.expect(201);
    discard(&named).await.expect_status(204);
    // What was thrown away may come again.
    put(&app.director(), &named).await.expect(201);
}

#[tokio::test]
async fn sixteen_who_send_the_same_at_once_keep_it_once() {
    let app = App::start_for_a_crowd().await;
    let director = app.director();
    let taken = photo(11, 640, 480);
    let sending = (0..16).map(|_| put(&director, &taken));
    let replies = futures_util::future::join_all(sending).await;
    let mut statuses: Vec<u16> = replies.iter().map(|reply| reply.status.as_u16()).collect();
    statuses.sort_unstable();
    assert_eq!(statuses, [vec![200; 15], vec![201]].concat());
}
