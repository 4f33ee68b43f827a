//! Where other criteria hold than the organization's.

use lapwatch_tests::harness::{App, Shop, Trial};
use serde_json::{Value, json};
use uuid::Uuid;

/// What the answer to a good sweep says that criteria decide: its grade, and the set point.
async fn judged(app: &App, shop: &Shop) -> (String, f64) {
    let trial = Trial::good_sweep(shop, app.now()).json();
    let answer = app.director().post("/v1/calculations/trial", &trial).await.expect(200);
    let set_point = answer["set_point"]["to_set"]["value"].as_f64();
    (answer["evidence"]["grade"].as_str().expect("a grade").to_owned(), set_point.unwrap_or_default())
}

fn celsius(value: f64) -> Value {
    json!({ "value": value, "unit": "Cel" })
}

#[tokio::test]
async fn they_hold_where_and_when_they_say() {
    let app = App::start().await;
    let director = app.director();
    let shop = Shop::open(&director).await;
    let (grade, free) = judged(&app, &shop).await;
    assert_eq!(grade, "full");

    // Three strips a coupon are no longer enough on this site; elsewhere they are.
    let elsewhere = shop.another_site(&director).await;
    let strict = json!({
        "name": "Hall 3 specification", "site_id": shop.site, "minimum_strips": 5,
        "effective_from": "2020-01-01T00:00:00Z",
    });
    let kept = director.post("/v1/criteria-exceptions", &strict).await.expect(201);
    assert_eq!(kept["minimum_strips"], 5);
    assert_eq!(kept["ceiling"], Value::Null);
    assert_eq!(judged(&app, &shop).await, ("limited".to_owned(), free));
    assert_eq!(judged(&app, &elsewhere).await, ("full".to_owned(), free));

    // A ceiling for the membrane, below where the set point would lie.
    let low = json!({
        "name": "Thin sheet", "membrane_id": shop.membrane, "ceiling": celsius(free - 10.0),
        "effective_from": "2020-01-01T00:00:00Z",
    });
    let low = director.post("/v1/criteria-exceptions", &low).await.expect(201);
    let (grade, held) = judged(&app, &shop).await;
    assert_eq!(grade, "limited");
    assert!(held <= free - 10.0 && held > 0.0, "{held}, {free} without a ceiling");

    // Site and membrane together know better than the membrane alone.
    let both = json!({
        "name": "Thin sheet, Hall 3", "membrane_id": shop.membrane, "site_id": shop.site, "ceiling": celsius(free + 10.0),
        "minimum_strips": 3, "effective_from": "2020-01-01T00:00:00Z",
    });
    let both = director.post("/v1/criteria-exceptions", &both).await.expect(201);
    assert_eq!(judged(&app, &shop).await, ("full".to_owned(), free));
    assert_eq!(judged(&app, &elsewhere).await, ("full".to_owned(), held));

    // Retired, they are kept and hold no longer; before their time they do not hold.
    for (mut exception, change) in [
        (both, json!({ "retired": true })),
        (low, json!({ "effective_from": "2100-01-01T00:00:00Z", "ceiling": celsius(300.0) })),
    ] {
        let id = exception["id"].as_str().expect("an id").to_owned();
        exception["effective_from"] = json!("2021-01-01T00:00:00Z");
        for (member, value) in change.as_object().expect("members") {
            exception[member] = value.clone();
        }
        director.put(&format!("/v1/criteria-exceptions/{id}"), &exception).await.expect(200);
    }
    let (grade, set_point) = judged(&app, &shop).await;
    assert_eq!((grade.as_str(), set_point), ("limited", held));
    let listed = director.get("/v1/criteria-exceptions").await.expect(200);
    assert_eq!(listed["items"].as_array().map(Vec::len), Some(3));
}

#[tokio::test]
async fn what_names_nothing_is_refused() {
    let app = App::start().await;
    let director = app.director();
    let shop = Shop::open(&director).await;
    let refused = async |body: Value, findings: &[(&str, &str)]| {
        director
            .post("/v1/criteria-exceptions", &body)
            .await
            .problem(422, "invalid_record")
            .points_at(findings);
    };
    refused(json!({ "name": "Everything" }), &[("", "no_condition"), ("", "no_change")]).await;
    refused(
        json!({
            "name": "Odd", "weld_method": "both", "minimum_strips": 0, "share_limit": 0.5, "cold_weight": 0,
            "bond_width": { "value": 0, "unit": "mm" },
        }),
        &[
            ("/weld_method", "unknown_code"),
            ("/bond_width/value", "not_positive"),
            ("/minimum_strips", "out_of_range"),
            ("/share_limit", "out_of_range"),
            ("/cold_weight", "out_of_range"),
        ],
    )
    .await;
    refused(
        json!({ "name": "Nowhere", "site_id": Uuid::nil(), "minimum_strips": 4 }),
        &[("/site_id", "unknown_id")],
    )
    .await;
    let hand = json!({ "name": "By hand", "weld_method": "hand", "minimum_strips": 20 });
    director.post("/v1/criteria-exceptions", &hand).await.expect(201);
    assert_eq!(judged(&app, &shop).await.0, "full", "this unit is no hand tool");
}
