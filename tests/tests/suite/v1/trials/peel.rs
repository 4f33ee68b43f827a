//! `/v1/trials/{id}/peel`: what the traces of a trial's strips say.

use lapwatch_tests::harness::{App, Shop, Trial, number};
use serde_json::{Value, json};

/// 10·d N up to 8 mm, then 40 + 3 sin(d/4): its means were worked out independently (numpy).
fn trace() -> Value {
    let places: Vec<f64> = (0..=160).map(f64::from).collect();
    let force = |d: &f64| if *d < 8.0 { 10.0 * d } else { 40.0 + 3.0 * (d / 4.0).sin() };
    let forces: Vec<f64> = places.iter().map(force).collect();
    json!({ "displacement": { "unit": "mm", "values": places }, "force": { "unit": "N", "values": forces } })
}

#[tokio::test]
async fn traces_of_a_stored_trial_are_read() {
    let app = App::start().await;
    let director = app.director();
    let shop = Shop::open(&director).await;
    let mut sent = Trial::good_sweep(&shop, app.now()).json();
    sent["coupons"][2]["specimens"][1]["trace"] = trace();
    // It goes back half way: kept, and told of.
    let mut back = trace();
    back["displacement"]["values"][90] = json!(3.0);
    sent["coupons"][3]["specimens"][0]["trace"] = back;
    director.post("/v1/trials", &sent).await.expect(201);
    let path = format!("/v1/trials/{}/peel", sent["id"].as_str().unwrap());
    let strips =
        async |query: &str| director.get(&format!("{path}{query}")).await.expect(200)["items"].clone();

    let [all, first] = [strips("").await, strips("?region=skip_25_take_100_mm").await];
    assert_eq!(all.as_array().map(Vec::len), Some(2), "only strips with a trace");
    let strip = &first[0];
    assert_eq!(
        (&strip["coupon"], &strip["specimen"], &strip["reading"]),
        (&json!(2), &json!(1), &json!("sound"))
    );
    assert!((number(strip, "/peel/force/mean") - 40.001_574).abs() < 5e-7, "{strip}");
    // The width of the strip and that of the weld are the record's.
    assert!((number(strip, "/peel/force_per_width/mean") - 40.001_574 / 25.4).abs() < 1e-6);
    assert_eq!(strip["peel"]["label_text"], "short-length peel, not standard", "{strip}");
    assert_eq!(all[0]["peel"]["region"], "central_80_percent");
    assert!((number(&all[0], "/peel/force/mean") - 39.950_974).abs() < 5e-7);

    assert_eq!(all[1]["peel"], Value::Null);
    assert_eq!(all[1]["unusable"]["code"], "displacement_goes_back");
    director.get(&format!("{path}?region=middle")).await.problem(400, "bad_request");
    let crew = shop.another_crew(&director).await.crew;
    app.app_of_crew(&["trials:read"], crew).await.get(&path).await.problem(404, "not_found");
}
