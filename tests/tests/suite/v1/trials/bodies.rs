//! Bodies that are no record at all: broken, oversized, compressed, hostile. None brings the service down.

use std::io::Write;

use flate2::Compression;
use flate2::write::GzEncoder;
use lapwatch_tests::harness::{App, Caller, Problem, Reply, Shop, Trial};
use reqwest::Method;
use reqwest::header::{CONTENT_ENCODING, CONTENT_TYPE};

const JSON: &str = "application/json";

async fn send(
    caller: &Caller<'_>,
    content_type: Option<&str>,
    encoding: Option<&str>,
    body: Vec<u8>,
) -> Reply {
    let mut request = caller.request(Method::POST, "/v1/trials");
    if let Some(content_type) = content_type {
        request = request.header(CONTENT_TYPE, content_type);
    }
    if let Some(encoding) = encoding {
        request = request.header(CONTENT_ENCODING, encoding);
    }
    Reply::of(request.body(body)).await
}

async fn malformed(caller: &Caller<'_>, body: &[u8]) -> Problem {
    send(caller, Some(JSON), None, body.to_vec()).await.problem(400, "malformed_json")
}

fn gzip(bytes: &[u8]) -> Vec<u8> {
    let mut encoder = GzEncoder::new(Vec::new(), Compression::best());
    encoder.write_all(bytes).expect("memory can be written to");
    encoder.finish().expect("memory can be written to")
}

/// A good trial whose bytes are changed by `spoil`.
fn spoilt(shop: &Shop, app: &App, from: &str, to: &str) -> String {
    let text = Trial::good_sweep(shop, app.now()).json().to_string();
    assert!(text.contains(from), "{from} is not in {text}");
    text.replacen(from, to, 1)
}

async fn assert_unharmed(app: &App, caller: &Caller<'_>, shop: &Shop) {
    let rows: i64 =
        app.superuser().await.query_one("SELECT count(*) FROM submission", &[]).await.unwrap().get(0);
    assert_eq!(rows, 0, "something was stored");
    let good = Trial::good_sweep(shop, app.now()).json();
    caller.post("/v1/trials", &good).await.expect(201);
}

#[tokio::test]
async fn broken_json() {
    let app = App::start().await;
    let caller = app.director();
    let shop = Shop::open(&caller).await;
    let good = Trial::good_sweep(&shop, app.now()).json().to_string();
    let cut = &good[..good.len() / 2];
    let followed = format!("{good}{{}}");
    let lone_surrogate = spoilt(&shop, &app, "\"sweep\"", "\"sw\\ud800eep\"");
    let too_large_a_number = spoilt(&shop, &app, "380.0", "1e400");
    let hexadecimal = spoilt(&shop, &app, "380.0", "0x17C");
    let not_a_number = spoilt(&shop, &app, "380.0", "NaN");
    let raw_control = spoilt(&shop, &app, "\"sweep\"", "\"sw\neep\"");
    let single_quotes = good.replace('"', "'");
    let deep = spoilt(
        &shop,
        &app,
        "\"coupons\":",
        &format!("\"extra\":{}1{},\"coupons\":", "[".repeat(200), "]".repeat(200)),
    );
    let bottomless = format!("{{\"extra\":{}", "[".repeat(1_000_000));
    let mut invalid_utf8 = spoilt(&shop, &app, "\"sweep\"", "\"sw#eep\"").into_bytes();
    let place = invalid_utf8.iter().position(|byte| *byte == b'#').unwrap();
    invalid_utf8[place] = 0xFF;
    for body in [
        b"".as_slice(),
        b"   ",
        b"{",
        b"\xEF\xBB\xBF{}",
        cut.as_bytes(),
        followed.as_bytes(),
        lone_surrogate.as_bytes(),
        too_large_a_number.as_bytes(),
        hexadecimal.as_bytes(),
        not_a_number.as_bytes(),
        raw_control.as_bytes(),
        single_quotes.as_bytes(),
        deep.as_bytes(),
        bottomless.as_bytes(),
        &invalid_utf8,
    ] {
        malformed(&caller, body).await.advises("send it again");
    }
    assert_unharmed(&app, &caller, &shop).await;
}

/// JSON, but no object, or an object that says something twice.
#[tokio::test]
async fn json_of_another_form() {
    let app = App::start().await;
    let caller = app.director();
    let shop = Shop::open(&caller).await;
    for body in ["null", "7", "\"trial\"", "true"] {
        let problem = send(&caller, Some(JSON), None, body.into()).await.problem(422, "invalid_record");
        problem.points_at(&[("", "wrong_type")]);
    }
    let twice = spoilt(&shop, &app, "\"purpose\":", "\"purpose\":\"recheck\",\"purpose\":");
    let problem = send(&caller, Some(JSON), None, twice.into()).await.problem(422, "invalid_record");
    problem.points_at(&[("/purpose", "duplicate_field")]).advises("send it once");
    let nested = spoilt(&shop, &app, "\"unit\":\"Cel\"", "\"unit\":\"[degF]\",\"unit\":\"Cel\"");
    let problem = send(&caller, Some(JSON), None, nested.into()).await.problem(422, "invalid_record");
    assert_eq!(problem.findings()[0].1, "duplicate_field", "{}", problem.document);
    assert_unharmed(&app, &caller, &shop).await;
}

/// A record is an object. Serde would also take its members as a list, in the order of the program's source.
#[tokio::test]
async fn a_list_is_no_record() {
    let app = App::start().await;
    let caller = app.director();
    for (path, body) in [
        ("/v1/access-tokens", "[\"name\",\"password\"]".to_owned()),
        ("/v1/apps", "[\"Diary\",[\"trials:read\"],null]".to_owned()),
        ("/v1/trials", "[".repeat(1_000_000)),
    ] {
        let problem = caller.post_text(path, body).await.problem(422, "invalid_record");
        problem.points_at(&[("", "wrong_type")]).advises("object");
    }
}

#[tokio::test]
async fn content_types() {
    let app = App::start().await;
    let caller = app.director();
    let shop = Shop::open(&caller).await;
    let good = Trial::good_sweep(&shop, app.now()).json().to_string();
    for content_type in
        [None, Some("text/plain"), Some("application/xml"), Some("application/jsonp"), Some("")]
    {
        let reply = send(&caller, content_type, None, good.clone().into()).await;
        reply.problem(415, "unsupported_media_type").advises("Content-Type: application/json");
    }
    assert_unharmed(&app, &caller, &shop).await;
    for content_type in ["application/json; charset=utf-8", "Application/JSON"] {
        let another = Trial::good_sweep(&shop, app.now()).json().to_string();
        send(&caller, Some(content_type), None, another.into()).await.expect(201);
    }
}

/// 30 MB that are a well-formed trial otherwise: the client hears why, over the whole length.
#[tokio::test]
async fn thirty_megabytes() {
    let app = App::start().await;
    let caller = app.director();
    let shop = Shop::open(&caller).await;
    let padding = "x".repeat(30_000_000);
    let body = spoilt(&shop, &app, "\"coupons\":", &format!("\"extra\":\"{padding}\",\"coupons\":"));
    let reply = send(&caller, Some(JSON), None, body.into()).await;
    reply.problem(413, "too_large").advises("at most 8388608 bytes");
    assert_unharmed(&app, &caller, &shop).await;
}

/// A hundred megabytes of blanks in less than one.
fn bomb() -> Vec<u8> {
    let mut bomb = GzEncoder::new(Vec::new(), Compression::fast());
    for _ in 0..100 {
        bomb.write_all(&vec![b' '; 1_000_000]).expect("memory can be written to");
    }
    let bomb = bomb.finish().expect("memory can be written to");
    assert!(bomb.len() < 1_000_000, "{}", bomb.len());
    bomb
}

#[tokio::test]
async fn compressed_bodies() {
    let bomb = bomb();
    let app = App::start().await;
    let caller = app.director();
    let shop = Shop::open(&caller).await;
    let good = Trial::good_sweep(&shop, app.now()).json().to_string();

    let reply = send(&caller, Some(JSON), Some("gzip"), bomb).await;
    reply.problem(413, "too_large").advises("decompressed");

    let no_gzip = send(&caller, Some(JSON), Some("gzip"), good.clone().into()).await;
    no_gzip.problem(400, "bad_request").advises("could not be read");
    for unknown in ["br", "foo", "gzip, gzip"] {
        let reply = send(&caller, Some(JSON), Some(unknown), good.clone().into()).await;
        reply.problem(415, "unsupported_media_type").advises("`gzip`, `zstd` or none");
    }
    let cut = gzip(good.as_bytes());
    let cut = send(&caller, Some(JSON), Some("gzip"), cut[..cut.len() / 2].to_vec()).await;
    assert!(cut.status.is_client_error(), "{}: {}", cut.status, cut.text());
    assert_unharmed(&app, &caller, &shop).await;

    let packed = gzip(good.as_bytes());
    assert!(packed.len() < good.len() / 3);
    let answer = send(&caller, Some(JSON), Some("gzip"), packed).await.expect(201);
    // What is identified is the record, however it travelled.
    let again = caller.post_text("/v1/trials", good).await.expect(200);
    assert_eq!(answer["trial"], again["trial"]);
}
