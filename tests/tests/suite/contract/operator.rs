//! What operators ask: is it alive, can it serve, how is it doing.

use lapwatch_tests::harness::{App, OPERATOR_TOKEN};

#[tokio::test]
async fn health_says_alive_and_readiness_asks_the_database() {
    let app = App::start().await;
    for path in ["/healthz", "/readyz"] {
        let answer = app.anybody().get(path).await.expect(200);
        assert_eq!(answer["status"], "ok", "{path}");
        assert_eq!(answer["version"], env!("CARGO_PKG_VERSION"), "{path}");
    }
    app.let_the_database_answer(false).await;
    app.anybody().get("/healthz").await.expect(200);
    let reply = app.anybody().get("/readyz").await;
    reply.problem(503, "unavailable").advises("Repeat the same request");
    assert_eq!(reply.header("retry-after"), "2");
    app.director().get("/v1/fleet").await.problem(503, "unavailable");

    app.let_the_database_answer(true).await;
    app.anybody().get("/readyz").await.expect(200);
    app.director().get("/v1/fleet").await.expect(200);
}

#[tokio::test]
async fn metrics_are_for_the_operator() {
    let app = App::start().await;
    app.anybody().get("/v1/fleet").await.problem(401, "unauthenticated");
    for caller in [app.anybody(), app.director(), app.bearer(""), app.bearer("an operator")] {
        caller.get("/metrics").await.problem(401, "unauthenticated");
    }
    let reply = app.bearer(OPERATOR_TOKEN).get("/metrics").await;
    reply.expect_status(200);
    assert!(reply.header("content-type").starts_with("text/plain"), "{}", reply.header("content-type"));
    let counted = "lapwatch_http_requests_total{method=\"GET\",route=\"/v1/fleet\",status=\"401\"}";
    assert!(reply.text().contains(counted), "{}", reply.text());
    // Patterns of addresses, not addresses: ids would multiply the series without end.
    let id = uuid::Uuid::now_v7();
    app.director().get(&format!("/v1/trials/{id}")).await.problem(404, "not_found");
    let text = app.bearer(OPERATOR_TOKEN).get("/metrics").await.text();
    assert!(text.contains("route=\"/v1/trials/{id}\"") && !text.contains(&id.to_string()), "{text}");
}
