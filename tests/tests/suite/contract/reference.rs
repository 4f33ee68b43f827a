//! `/docs/`: the browsable reference, which needs no other machine.

use lapwatch_tests::harness::App;

/// Everything that a page names as a source or a link to load.
fn loaded(html: &str) -> Vec<String> {
    ["src=\"", "href=\""]
        .iter()
        .flat_map(|attribute| html.split(attribute).skip(1))
        .filter_map(|rest| rest.split('"').next())
        .map(str::to_owned)
        .collect()
}

#[tokio::test]
async fn the_reference_is_served_from_here_alone() {
    let app = App::start().await;
    let reply = app.anybody().get("/docs").await;
    assert!(reply.status.is_redirection(), "{}", reply.status);
    assert_eq!(reply.header("location"), "/docs/");

    let page = app.anybody().get("/docs/").await;
    page.expect_status(200);
    assert!(page.header("content-type").starts_with("text/html"));
    let parts = loaded(&page.text());
    assert!(parts.len() >= 3, "{parts:?}");
    for part in parts {
        assert!(!part.contains("//"), "{part} is somewhere else");
        let path = part.trim_start_matches("./");
        let reply = app.anybody().get(&format!("/docs/{path}")).await;
        reply.expect_status(200);
        assert!(!reply.body.is_empty(), "{path}");
    }
    let initializer = app.anybody().get("/docs/swagger-initializer.js").await;
    initializer.expect_status(200);
    assert!(initializer.text().contains("openapi.json"), "{}", initializer.text());
    assert!(!initializer.text().contains("https://"), "{}", initializer.text());
    let document = app.anybody().get("/docs/openapi.json").await.expect(200);
    assert_eq!(document, app.anybody().get("/openapi.json").await.expect(200));
}
