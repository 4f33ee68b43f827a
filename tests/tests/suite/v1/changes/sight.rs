//! What a crew's phone is told of.

use chrono::TimeDelta;
use lapwatch_tests::harness::{App, Shop, Trial};
use serde_json::{Value, json};

use super::{event, read_all};

const SCOPES: [&str; 5] = ["trials:read", "units:read", "rechecks:read", "plans:read", "configuration:read"];

fn ids<'i>(items: &'i [Value], kind: &str) -> Vec<(&'i str, String)> {
    let of_kind = items.iter().filter(|item| item["kind"] == kind);
    of_kind.map(|item| (item["event"].as_str().unwrap(), item["id"].as_str().unwrap().to_owned())).collect()
}

#[tokio::test]
async fn a_crew_hears_of_its_own_and_of_what_concerns_everybody() {
    let app = App::start().await;
    let director = app.director();
    let ours = Shop::open(&director).await;
    let theirs = ours.another_crew(&director).await;
    for shop in [ours, theirs] {
        let failed = Trial::confirmation(&shop, app.now(), ["ccc", "ccc", "ccc"]).json();
        director.post("/v1/trials", &failed).await.expect(201);
        director.post("/v1/service-events", &event(shop.unit, app.now())).await.expect(201);
    }
    let phone = app.app_of_crew(&SCOPES, ours.crew).await;
    let (items, _) = read_all(&phone, "limit=500", None).await;
    let text = Value::from(items.clone()).to_string();
    assert!(text.contains(&ours.unit.to_string()) && !text.contains(&theirs.unit.to_string()), "{text}");
    for kind in ["trial", "service_event", "standing", "flag", "recheck", "unit", "site", "membrane", "lot"] {
        assert!(!ids(&items, kind).is_empty(), "no {kind} in {text}");
    }
    // The office sees what the phone sees, if it asks for the crew.
    let (seen, _) = read_all(&director, &format!("limit=500&crew_id={}", ours.crew), None).await;
    assert_eq!(seen, items);
    phone.get(&format!("/v1/changes?crew_id={}", theirs.crew)).await.problem(403, "forbidden");
}

#[tokio::test]
async fn a_unit_that_goes_to_another_crew_is_gone_from_its_own() {
    let app = App::start().await;
    let director = app.director();
    let ours = Shop::open(&director).await;
    let theirs = ours.another_crew(&director).await;
    let (a, b) = (app.app_of_crew(&SCOPES, ours.crew).await, app.app_of_crew(&SCOPES, theirs.crew).await);
    let (_, from_a) = read_all(&a, "limit=500", None).await;
    let (_, from_b) = read_all(&b, "limit=500", None).await;
    app.pass(TimeDelta::minutes(5));
    let mut form = ours.unit_form();
    let members = form.as_object_mut().expect("an object");
    members.remove("id");
    members.insert("crew_id".into(), json!(theirs.crew));
    members.insert("effective_from".into(), json!(app.now()));
    director.put(&format!("/v1/units/{}", ours.unit), &form).await.expect(200);
    let (at_a, from_a) = read_all(&a, "kinds=unit", Some(&from_a)).await;
    assert_eq!(ids(&at_a, "unit"), [("gone", ours.unit.to_string())]);
    assert_eq!(at_a[0]["href"], Value::Null);
    let (at_b, _) = read_all(&b, "kinds=unit", Some(&from_b)).await;
    assert_eq!(ids(&at_b, "unit"), [("changed", ours.unit.to_string())]);
    // From here on the first crew hears no more of it.
    director.post("/v1/service-events", &event(ours.unit, app.now())).await.expect(201);
    let (at_a, _) = read_all(&a, "kinds=service_event,standing", Some(&from_a)).await;
    assert_eq!(at_a, Vec::<Value>::new());
}

/// What no longer follows from the records is told of as gone.
#[tokio::test]
async fn a_flag_that_late_evidence_explains_away_or_replaces_is_gone() {
    let app = App::start().await;
    let director = app.director();
    let shop = Shop::open(&director).await;
    let phone = app.app_of_crew(&SCOPES, shop.crew).await;
    let failed =
        |hours| Trial::confirmation(&shop, app.now() - TimeDelta::hours(hours), ["ccc", "ccc", "ccc"]);
    director.post("/v1/trials", &failed(2).json()).await.expect(201);
    let (before, place) = read_all(&phone, "kinds=flag", None).await;
    // An earlier failure becomes the first evidence: the flag gets another id.
    director.post("/v1/trials", &failed(4).json()).await.expect(201);
    let (after, _) = read_all(&phone, "kinds=flag", Some(&place)).await;
    let first = &ids(&before, "flag")[0].1;
    assert!(ids(&after, "flag").contains(&("gone", first.clone())), "{after:?}");
    assert!(after.iter().any(|item| item["event"] == "added"), "{after:?}");
}
