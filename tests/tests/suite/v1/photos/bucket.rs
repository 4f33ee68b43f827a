//! Photos in an S3-compatible store: a small one of our own that speaks as much of the protocol as is needed.

use std::collections::HashMap;
use std::sync::{Arc, Mutex};

use actix_web::web::{self, Bytes, Data};
use actix_web::{App as Site, HttpRequest, HttpResponse, HttpServer};
use lapwatch_api::config::{PHOTO_LIMIT_BYTES, PhotoPlace};
use lapwatch_tests::harness::{App, photo, sha256};

use super::{put, text};

/// What lies in the buckets, by path.
type Objects = Arc<Mutex<HashMap<String, Bytes>>>;

async fn object(request: HttpRequest, body: Bytes, objects: Data<Objects>) -> HttpResponse {
    let signed = request.headers().get("authorization").and_then(|value| value.to_str().ok());
    if !signed.is_some_and(|value| value.starts_with("AWS4-HMAC-SHA256 Credential=lapwing/")) {
        return HttpResponse::Forbidden().finish();
    }
    let path = request.path().to_owned();
    let mut objects = objects.lock().expect("nobody panicked");
    match request.method().as_str() {
        "PUT" => {
            objects.insert(path, body);
            HttpResponse::Ok().insert_header(("ETag", "\"1\"")).finish()
        }
        "GET" => match objects.get(&path) {
            Some(found) => HttpResponse::Ok()
                .insert_header(("ETag", "\"1\""))
                .insert_header(("Last-Modified", "Wed, 10 Jun 2026 12:00:00 GMT"))
                .body(found.clone()),
            None => HttpResponse::NotFound().finish(),
        },
        _ => HttpResponse::MethodNotAllowed().finish(),
    }
}

#[tokio::test]
async fn photos_may_lie_in_a_bucket() {
    let objects = Objects::default();
    let shared = Data::new(Arc::clone(&objects));
    let roomy = web::PayloadConfig::new(PHOTO_LIMIT_BYTES);
    let server = HttpServer::new(move || {
        Site::new().app_data(shared.clone()).app_data(roomy.clone()).default_service(web::to(object))
    })
    .workers(1)
    .disable_signals()
    .bind(("127.0.0.1", 0))
    .expect("a free port");
    let address = server.addrs()[0];
    let server = server.run();
    let handle = server.handle();
    let serving = tokio::spawn(server);
    let settings = [
        ("aws_endpoint", format!("http://{address}")),
        ("aws_allow_http", "true".to_owned()),
        ("aws_region", "north".to_owned()),
        ("aws_access_key_id", "lapwing".to_owned()),
        ("aws_secret_access_key", "peewit".to_owned()),
        ("aws_profile", "of another program".to_owned()),
    ];
    let app = App::start_with(|service| {
        service.photos.place = PhotoPlace::Bucket {
            bucket: "roofs".to_owned(),
            prefix: "photos".to_owned(),
            settings: settings.map(|(name, value)| (name.to_owned(), value)).to_vec(),
        };
    })
    .await;
    let director = app.director();
    let taken = photo(30, 640, 480);
    let content = put(&director, &taken).await.expect(201);
    let digest = sha256(&taken);
    let place = format!("/roofs/photos/{}/originals/{}/{digest}", app.organization.id, &digest[..2]);
    assert_eq!(
        objects.lock().expect("nobody panicked").get(&place).map(|found| &found[..]),
        Some(&taken[..])
    );
    assert_eq!(director.get(text(&content["href"])).await.body(), taken);
    for _ in 0..2 {
        director.get(text(&content["rendition_href"])).await.expect_status(200);
    }
    assert_eq!(objects.lock().expect("nobody panicked").len(), 2, "the original and what is shown");
    // Gone or silent, the store costs nothing that was kept.
    handle.stop(false).await;
    let _stopped = serving.await;
    put(&director, &photo(31, 64, 48)).await.problem(503, "unavailable");
    director.get(text(&content["href"])).await.problem(503, "unavailable");
}
