//! Bytes in parts, as tus 1.0.0 has it.

use base64::Engine as _;
use base64::prelude::BASE64_STANDARD;
use chrono::TimeDelta;
use lapwatch_tests::harness::{App, Caller, Reply, photo, sha256};
use reqwest::Method;
use serde_json::json;

use super::{put, with_a_trial};

fn spoken(caller: &Caller<'_>, method: Method, path: &str) -> reqwest::RequestBuilder {
    caller.request(method, path).header("Tus-Resumable", "1.0.0")
}

async fn begin(caller: &Caller<'_>, sha256: &str, length: usize) -> Reply {
    let metadata =
        format!("filename {},sha256 {}", BASE64_STANDARD.encode("a.jpg"), BASE64_STANDARD.encode(sha256));
    let request = spoken(caller, Method::POST, "/v1/uploads").header("Upload-Length", length);
    Reply::of(request.header("Upload-Metadata", metadata)).await
}

async fn add(caller: &Caller<'_>, upload: &str, from: usize, bytes: &[u8]) -> Reply {
    let request = spoken(caller, Method::PATCH, upload).header("Upload-Offset", from);
    Reply::of(request.header("Content-Type", "application/offset+octet-stream").body(bytes.to_vec())).await
}

async fn offset(caller: &Caller<'_>, upload: &str) -> usize {
    let reply = Reply::of(spoken(caller, Method::HEAD, upload)).await;
    reply.expect_status(200);
    assert_eq!(reply.header("cache-control"), "no-store");
    assert_eq!(reply.header("tus-resumable"), "1.0.0");
    reply.header("upload-offset").parse().expect("a number")
}

#[tokio::test]
async fn a_photo_in_parts_is_the_photo() {
    let app = App::start().await;
    let director = app.director();
    // Longer than the pieces that are kept at a time.
    let taken = photo(20, 1200, 900);
    assert!(taken.len() > 600_000, "{}", taken.len());
    let begun = begin(&director, &sha256(&taken), taken.len()).await;
    begun.expect_status(201);
    assert_eq!(begun.header("upload-offset"), "0");
    let upload = begun.header("location").to_owned();
    let parts = [0, 1000, 1001, 500_000, taken.len()];
    for ends in parts.windows(2) {
        let reply = add(&director, &upload, ends[0], &taken[ends[0]..ends[1]]).await;
        reply.expect_status(204);
        assert_eq!(reply.header("upload-offset"), ends[1].to_string());
        assert_eq!(offset(&director, &upload).await, ends[1]);
    }
    let path = format!("/v1/photo-contents/{}", sha256(&taken));
    assert_eq!(director.get(&path).await.body(), taken);
    // The last answer was lost: asked again, it is there; and who begins again has nothing to send.
    assert_eq!(offset(&director, &upload).await, taken.len());
    let again = begin(&director, &sha256(&taken), taken.len()).await;
    assert_eq!(again.header("upload-offset"), taken.len().to_string());
    let rows = app.superuser().await.query_one("SELECT count(*) FROM upload_part", &[]).await.expect("a row");
    assert_eq!(rows.get::<_, i64>(0), 0, "what is kept as a whole is not kept in parts");
}

#[tokio::test]
async fn an_upload_goes_on_where_the_line_broke() {
    let app = App::start().await;
    let director = app.director();
    let taken = photo(21, 1200, 900);
    let upload = begin(&director, &sha256(&taken), taken.len()).await.header("location").to_owned();
    // A body that ends in an error after some of it was sent.
    let half = taken[..400_000].to_vec();
    let torn = futures_util::stream::iter([Ok(half), Err(std::io::Error::other("the line breaks"))]);
    let request = spoken(&director, Method::PATCH, &upload).header("Upload-Offset", 0);
    let request = request.header("Content-Type", "application/offset+octet-stream");
    assert!(request.body(reqwest::Body::wrap_stream(torn)).send().await.is_err());
    let come = offset(&director, &upload).await;
    assert!(come <= 400_000, "{come}");
    // What does not follow is not taken, and the offset that does is told.
    let wrong = add(&director, &upload, come + 1, b"x").await.problem(409, "wrong_offset");
    wrong.advises(&come.to_string());
    add(&director, &upload, come, &taken[come..]).await.expect_status(204);
    put(&director, &taken).await.expect(200);
}

#[tokio::test]
async fn what_is_not_the_announced_photo_begins_again() {
    let app = App::start().await;
    let director = app.director();
    let [announced, other] = [photo(22, 64, 48), photo(23, 64, 48)];
    let upload = begin(&director, &sha256(&announced), other.len()).await.header("location").to_owned();
    add(&director, &upload, 0, &[&other[..], b"more"].concat())
        .await
        .problem(422, "photo_refused")
        .advises("more");
    add(&director, &upload, 0, &other).await.problem(422, "photo_refused").advises("SHA-256");
    assert_eq!(offset(&director, &upload).await, 0);
    // None ends by itself; a person finds it.
    let director = {
        app.pass(TimeDelta::days(500));
        app.director()
    };
    let list = director.get("/v1/uploads").await.expect(200);
    assert_eq!((&list["items"][0]["received_bytes"], &list["items"][1]), (&json!(0), &json!(null)));
    Reply::of(spoken(&director, Method::DELETE, &upload)).await.expect_status(204);
    Reply::of(spoken(&director, Method::HEAD, &upload)).await.expect_status(404);
    assert_eq!(director.get("/v1/uploads?older_than_days=0").await.expect(200)["items"], json!([]));
}

#[tokio::test]
async fn what_is_spoken_is_said() {
    let app = App::start().await;
    let director = app.director();
    let protocol = app.anybody().send(Method::OPTIONS, "/v1/uploads").await;
    protocol.expect_status(204);
    for (header, value) in
        [("tus-version", "1.0.0"), ("tus-extension", "creation,termination"), ("tus-max-size", "26214400")]
    {
        assert_eq!(protocol.header(header), value);
    }
    let silent = director.send(Method::POST, "/v1/uploads").await;
    silent.problem(412, "upload_version").advises("Tus-Resumable");
    assert_eq!((silent.header("tus-version"), silent.header("tus-resumable")), ("1.0.0", "1.0.0"));
    let bare = Reply::of(spoken(&director, Method::POST, "/v1/uploads")).await;
    bare.problem(400, "bad_request").advises("Upload-Length");
    let bare = Reply::of(spoken(&director, Method::POST, "/v1/uploads").header("Upload-Length", 5)).await;
    bare.problem(400, "bad_request").advises("sha256");
    begin(&director, &sha256(b"x"), 0).await.problem(422, "photo_refused");
    begin(&director, &sha256(b"x"), 26_214_401).await.problem(422, "photo_refused").advises("26214400");
}

#[tokio::test]
async fn another_crew_does_not_add_to_an_upload() {
    let app = App::start().await;
    let (shop, _) = with_a_trial(&app).await;
    let other = shop.another_crew(&app.director()).await;
    let own = app.app_of_crew(&["trials:write"], shop.crew).await;
    let foreign = app.app_of_crew(&["trials:write"], other.crew).await;
    let upload = begin(&own, &sha256(b"x"), 5).await.header("location").to_owned();
    add(&foreign, &upload, 0, b"y").await.problem(404, "not_found");
    Reply::of(spoken(&foreign, Method::DELETE, &upload)).await.problem(404, "not_found");
    add(&own, &upload, 0, b"y").await.expect_status(204);
}
