//! Addresses take the methods of the contract and answer all others with 405.

use lapwatch_tests::harness::App;
use reqwest::Method;
use uuid::Uuid;

#[tokio::test]
async fn undeclared_methods_are_told_from_unknown_addresses() {
    let app = App::start().await;
    let document = app.anybody().get("/openapi.json").await.expect(200);
    for (path, item) in document["paths"].as_object().expect("paths") {
        let mut declared: Vec<String> =
            item.as_object().expect("methods").keys().map(|m| m.to_uppercase()).collect();
        declared.sort();
        let address = path
            .replace("{id}", &Uuid::nil().to_string())
            .replace("{code}", "conflict")
            .replace("{sha256}", &"0".repeat(64));
        for method in ["GET", "PUT", "POST", "DELETE", "PATCH", "OPTIONS"] {
            if declared.iter().any(|known| known == method) {
                continue;
            }
            let reply = app.director().send(method.parse().expect("a method"), &address).await;
            let mut allowed = reply.problem(405, "method_not_allowed").allowed();
            allowed.sort();
            assert_eq!(allowed, declared, "{method} {path}");
        }
    }
}

/// An operation that is registered and not in the contract would be answered here with something else than 404.
#[tokio::test]
async fn what_is_not_in_the_contract_is_not_there() {
    let app = App::start().await;
    let nil = Uuid::nil();
    for path in [
        "/v1".to_owned(),
        "/v1/".to_owned(),
        "/v1/organizations".to_owned(),
        "/v1/trials/".to_owned(),
        format!("/v1/trials/{nil}/bytes"),
        format!("/v1/units/{nil}/"),
        "/v2/trials".to_owned(),
        "/admin".to_owned(),
        "/.env".to_owned(),
        "/v1/../v1/fleet/..".to_owned(),
    ] {
        for method in [Method::GET, Method::POST] {
            app.director().send(method, &path).await.problem(404, "not_found");
        }
    }
}

/// An id that is none is no address, and no error of the service.
#[tokio::test]
async fn addresses_with_odd_ids() {
    let app = App::start().await;
    for id in
        ["7", "x", "%00", "%FF", "00000000-0000-0000-0000-00000000000g", "..%2f..%2fetc", &"9".repeat(500)]
    {
        let reply = app.director().get(&format!("/v1/trials/{id}")).await;
        reply.problem(404, "not_found");
    }
}

#[tokio::test]
async fn head_and_security_headers() {
    let app = App::start().await;
    let reply = app.director().get("/v1/fleet").await;
    reply.expect_status(200);
    assert_eq!(reply.header("x-content-type-options"), "nosniff");
    assert_eq!(reply.header("referrer-policy"), "no-referrer");
    assert_eq!(reply.header("access-control-allow-origin"), "", "no other origin may read");
    assert!(Uuid::parse_str(reply.header("x-request-id")).is_ok());
    assert_eq!(reply.header("server"), "", "what runs here is nobody's business");
}
