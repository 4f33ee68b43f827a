//! Envelopes as streams: compressed, broken, too large, side by side.

use std::io::Write;

use std::time::Duration;

use futures_util::future::join_all;
use lapwatch_tests::harness::{App, Caller, Reply, Shop, Trial};
use reqwest::Method;
use serde_json::{Value, json};
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::{TcpSocket, TcpStream};

use super::{each, event, send, send_lines};

async fn post(caller: &Caller<'_>, kind: &str, encoding: &str, body: Vec<u8>) -> Reply {
    let request = caller.request(Method::POST, "/v1/envelopes").header("content-type", kind);
    Reply::of(request.header("content-encoding", encoding).body(body)).await
}

#[tokio::test]
async fn a_broken_envelope_keeps_what_came_before_the_break() {
    let app = App::start().await;
    let director = app.director();
    let shop = Shop::open(&director).await;
    let one = event(shop.unit, app.now()).to_string();
    for (body, at) in
        [(format!("[{one}"), "closed"), (format!("[{one},,2]"), "missing"), (one.clone(), "begin")]
    {
        let problem = director.post_text("/v1/envelopes", body).await.problem(400, "malformed_json");
        problem.advises(at);
    }
    assert_eq!(director.get("/v1/service-events").await.expect(200)["items"].as_array().unwrap().len(), 1);
    let plain = post(&director, "text/plain", "identity", b"[]".to_vec()).await;
    plain.problem(415, "unsupported_media_type");
    let packed = post(&director, "application/json", "br", b"[]".to_vec()).await;
    packed.problem(415, "unsupported_media_type");
    assert_eq!(send(&director, &json!([])).await, Vec::<Value>::new());
}

#[tokio::test]
async fn an_item_past_the_limit_lies_between_good_ones() {
    let app = App::start().await;
    let director = app.director();
    let shop = Shop::open(&director).await;
    let limit =
        director.get("/v1/envelopes/limits").await.expect(200)["item_bytes"].as_u64().unwrap() as usize;
    let [before, behind] = [0, 1].map(|_| event(shop.unit, app.now()).to_string());
    let large = format!("\"{}\"", "x".repeat(limit));
    let results = send_lines(&director, &[before, large, behind]).await;
    assert_eq!(each(&results, "result"), ["created", "too_large", "created"]);
    assert_eq!(results[1]["receipt"], Value::Null);
    assert_eq!(director.get("/v1/custody").await.expect(200)["items"], json!([]), "nothing of it was kept");
}

#[tokio::test]
async fn compressed_envelopes_are_read_and_bombs_are_not() {
    let app = App::start().await;
    let director = app.director();
    let shop = Shop::open(&director).await;
    let gzip = |bytes: &[u8]| {
        let mut encoder = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::best());
        encoder.write_all(bytes).unwrap();
        encoder.finish().unwrap()
    };
    let items = json!([event(shop.unit, app.now())]).to_string();
    let reply = post(&director, "application/json", "gzip", gzip(items.as_bytes())).await.expect(200);
    assert_eq!(reply["results"][0]["result"], "created");
    let zipped = zstd::encode_all(items.as_bytes(), 3).unwrap();
    let reply = post(&director, "application/json", "zstd", zipped).await.expect(200);
    assert_eq!(reply["results"][0]["result"], "duplicate");
    // 64 MiB of white space in 64 KiB.
    let bomb = [items.trim_end_matches(']').as_bytes(), &vec![b' '; 64 << 20]].concat();
    let problem = post(&director, "application/json", "gzip", gzip(&bomb)).await.problem(413, "too_large");
    problem.advises("/v1/envelopes/digests");
    assert_eq!(director.get("/v1/service-events").await.status.as_u16(), 200);
}

#[tokio::test]
async fn a_client_that_wants_little_gets_little() {
    let app = App::start().await;
    let director = app.director();
    let request = director.request(Method::POST, "/v1/envelopes").header("prefer", "return=minimal");
    let reply = Reply::of(request.header("content-type", "application/json").body("[{}]")).await;
    assert_eq!(reply.header("preference-applied"), "return=minimal");
    let result = &reply.expect(200)["results"][0];
    assert_eq!((&result["result"], &result["reason"]), (&json!("quarantined"), &Value::Null));
    assert!(result["receipt"]["digest"].is_string());
}

/// The same trials of two units in opposite order, sixteen envelopes at a time: all are told the truth, and nobody of a deadlock.
#[tokio::test]
async fn envelopes_in_opposite_order_do_not_meet_a_deadlock() {
    let app = App::start_for_a_crowd().await;
    let director = app.director();
    let shop = Shop::open(&director).await;
    let other = shop.another_unit(&director).await;
    let trials: Vec<Value> = (0..6)
        .map(|number| {
            let unit = if number % 2 == 0 { &shop } else { &other };
            Trial::confirmation(unit, app.now(), ["sss", "sss", "sss"]).json()
        })
        .collect();
    let backwards: Vec<Value> = trials.iter().rev().cloned().collect();
    let envelopes = (0..16).map(|number| json!(if number % 2 == 0 { &trials } else { &backwards }));
    let envelopes: Vec<Value> = envelopes.collect();
    let results = join_all(envelopes.iter().map(|envelope| send(&director, envelope))).await;
    let mut created = 0;
    for result in results.iter().flatten() {
        assert!(["created", "duplicate"].contains(&result["result"].as_str().unwrap()), "{result}");
        assert_eq!(result["receipt"]["disposition"], "accepted");
        created += usize::from(result["result"] == "created");
    }
    assert_eq!(created, trials.len(), "each was created once");
    let listed = director.get("/v1/trials").await.expect(200);
    assert_eq!(listed["items"].as_array().unwrap().len(), trials.len());
}

/// Items that are held, each with many words about why: their results are longer than the service keeps before it begins to answer.
fn many(numbers: std::ops::Range<usize>) -> Vec<u8> {
    numbers.map(|number| format!("{{\"mood\":{number}}}\n")).collect::<String>().into_bytes()
}

/// Enough of them.
const MANY: usize = 2500;

/// A line to the service that holds little of what comes back, with the head of an envelope that is sent in chunks.
async fn slow_line(app: &App, token: &str) -> TcpStream {
    let address = app.base().trim_start_matches("http://").to_owned();
    let socket = TcpSocket::new_v4().expect("a socket");
    socket.set_recv_buffer_size(4096).expect("a small buffer");
    let mut line = socket.connect(address.parse().expect("an address")).await.expect("a connection");
    let head = format!(
        "POST /v1/envelopes HTTP/1.1\r\nHost: {address}\r\nAuthorization: Bearer {token}\r\n\
         Content-Type: application/x-ndjson\r\nTransfer-Encoding: chunked\r\nConnection: close\r\n\r\n"
    );
    line.write_all(head.as_bytes()).await.expect("the head is sent");
    line
}

async fn send_chunk(line: &mut TcpStream, bytes: &[u8]) {
    let chunk = [format!("{:x}\r\n", bytes.len()).as_bytes(), bytes, b"\r\n"].concat();
    line.write_all(&chunk).await.expect("a chunk is sent");
}

/// The lines of an answer in chunks, once it has all come.
fn lines_of(answer: &[u8]) -> Vec<Value> {
    let place = answer.windows(4).position(|window| window == b"\r\n\r\n").expect("a head");
    let (head, mut rest) = answer.split_at(place + 4);
    assert!(head.starts_with(b"HTTP/1.1 200 "), "{}", String::from_utf8_lossy(head));
    let mut body = Vec::new();
    while let Some(end) = rest.windows(2).position(|window| window == b"\r\n") {
        let length = usize::from_str_radix(std::str::from_utf8(&rest[..end]).unwrap(), 16).expect("a length");
        body.extend_from_slice(&rest[end + 2..end + 2 + length]);
        rest = &rest[end + 4 + length..];
    }
    body.split(|byte| *byte == b'\n')
        .filter(|line| !line.is_empty())
        .map(|line| serde_json::from_slice(line).unwrap())
        .collect()
}

fn all_are_held(results: &[Value]) {
    for (index, result) in results.iter().enumerate() {
        assert_eq!((&result["index"], &result["result"]), (&json!(index), &json!("quarantined")));
    }
}

/// The first results of a long envelope come before its last items are sent.
#[tokio::test]
async fn results_come_while_the_rest_is_sent() {
    let app = App::start().await;
    let mut line = slow_line(&app, app.director().token().expect("a token")).await;
    let talk = async {
        send_chunk(&mut line, &many(0..MANY)).await;
        let mut answer = vec![0; 10_000];
        let some = line.read(&mut answer).await.expect("an answer has begun");
        assert!(some > 0);
        answer.truncate(some);
        send_chunk(&mut line, &many(MANY..MANY + 10)).await;
        line.write_all(b"0\r\n\r\n").await.expect("the end is sent");
        line.read_to_end(&mut answer).await.expect("the answer ends");
        lines_of(&answer)
    };
    let results = tokio::time::timeout(Duration::from_secs(60), talk).await.expect("it goes on");
    assert_eq!(results.len(), MANY + 10);
    all_are_held(&results);
}

/// A sender that reads nothing before everything is sent gets through.
#[tokio::test]
async fn who_reads_last_is_read_to_the_end() {
    let app = App::start().await;
    let mut line = slow_line(&app, app.director().token().expect("a token")).await;
    let talk = async {
        for part in 0..2 {
            send_chunk(&mut line, &many(part * MANY..(part + 1) * MANY)).await;
        }
        line.write_all(b"0\r\n\r\n").await.expect("the end is sent");
        // All is kept while nobody reads the answer.
        let waiting = async || app.director().get("/v1/changes?after=now").await.status;
        loop {
            let held =
                app.superuser().await.query_one("SELECT count(*) FROM custody", &[]).await.expect("a count");
            if held.get::<_, i64>(0) == 2 * MANY as i64 {
                break;
            }
            assert_eq!(waiting().await, 200);
            tokio::time::sleep(Duration::from_millis(100)).await;
        }
        let mut answer = Vec::new();
        line.read_to_end(&mut answer).await.expect("the answer ends");
        lines_of(&answer)
    };
    let results = tokio::time::timeout(Duration::from_secs(120), talk).await.expect("it goes on");
    assert_eq!(results.len(), 2 * MANY);
    all_are_held(&results);
}

/// A long envelope whose answer has begun before it breaks says in the end why there is no more.
#[tokio::test]
async fn a_long_envelope_that_breaks_says_so_at_the_end() {
    let app = App::start().await;
    let director = app.director();
    let items: Vec<String> = String::from_utf8(many(0..MANY)).unwrap().lines().map(str::to_owned).collect();
    let answer = director.post_text("/v1/envelopes", format!("[{}", items.join(","))).await.expect(200);
    let results = answer["results"].as_array().expect("results");
    // The last item may be longer than what came of it.
    assert_eq!(results.len(), MANY - 1);
    all_are_held(results);
    let problem = &answer["problem"];
    assert_eq!((&problem["code"], &problem["status"]), (&json!("malformed_json"), &json!(400)));
    assert!(problem["detail"].as_str().unwrap().contains("closed"), "{problem}");
    assert!(!problem["request_id"].as_str().unwrap().starts_with("00000000"), "{problem}");

    // Whoever is turned away in the middle hears of it in a last line.
    let (sender, id) = app.add_app(&json!({ "name": "Phone", "scopes": ["trials:write"] })).await;
    let mut line = slow_line(&app, sender.token().expect("a token")).await;
    let talk = async {
        send_chunk(&mut line, &many(MANY..2 * MANY)).await;
        let mut answer = vec![0; 1000];
        let some = line.read(&mut answer).await.expect("an answer has begun");
        answer.truncate(some);
        director.delete(&format!("/v1/apps/{id}")).await.expect_status(204);
        send_chunk(&mut line, b"{}\n").await;
        line.write_all(b"0\r\n\r\n").await.expect("the end is sent");
        line.read_to_end(&mut answer).await.expect("the answer ends");
        lines_of(&answer)
    };
    let lines = tokio::time::timeout(Duration::from_secs(60), talk).await.expect("it goes on");
    assert_eq!(lines.len(), MANY + 1);
    all_are_held(&lines[..MANY]);
    assert_eq!(lines[MANY]["problem"]["code"], "unauthenticated");
}
