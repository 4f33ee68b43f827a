//! Lists: filters, and pages that lose and repeat nothing.

use chrono::{DateTime, TimeDelta, Utc};
use lapwatch_tests::harness::{App, Caller, Shop, Trial};
use serde_json::Value;

fn ids(page: &Value) -> Vec<String> {
    let items = page["items"].as_array().expect("a list has items");
    items.iter().map(|item| item["id"].as_str().expect("an item has an id").to_owned()).collect()
}

async fn post(caller: &Caller<'_>, trial: Trial) -> String {
    let answer = caller.post("/v1/trials", &trial.json()).await.expect(201);
    answer["trial"]["id"].as_str().expect("a trial has an id").to_owned()
}

/// A time in a query.
fn stamp(at: DateTime<Utc>) -> String {
    at.format("%Y-%m-%dT%H:%M:%SZ").to_string()
}

#[tokio::test]
async fn pages_follow_each_other_without_gap_or_overlap() {
    let app = App::start().await;
    let director = app.director();
    let shop = Shop::open(&director).await;
    let mut expected = Vec::new();
    for minute in 0..7 {
        // Two of them at the same instant: the id decides.
        let at = app.now() - TimeDelta::minutes(minute / 2);
        expected.push((at, post(&director, Trial::good_sweep(&shop, at)).await));
    }
    expected.sort_by(|a, b| b.cmp(a));
    let expected: Vec<String> = expected.into_iter().map(|(_, id)| id).collect();
    assert_eq!(ids(&director.get("/v1/trials").await.expect(200)), expected, "the latest first");

    let mut path = format!("/v1/trials?limit=3&unit_id={}", shop.unit);
    let mut found = Vec::new();
    let mut sizes = Vec::new();
    loop {
        let reply = director.get(&path).await;
        let page = reply.expect(200);
        sizes.push(ids(&page).len());
        found.extend(ids(&page));
        let Some(cursor) = page["next_cursor"].as_str() else {
            assert_eq!(reply.header("link"), "", "the last page has no next one");
            break;
        };
        let link = reply.header("link");
        path =
            link.strip_prefix('<').and_then(|rest| rest.strip_suffix(">; rel=\"next\"")).unwrap().to_owned();
        assert!(path.contains("unit_id=") && path.contains("limit=3") && path.contains(cursor), "{link}");
        // What arrives between two pages is newer than both and does not shift them.
        post(&director, Trial::good_sweep(&shop, app.now() + TimeDelta::seconds(found.len() as i64))).await;
    }
    assert_eq!(found, expected);
    assert_eq!(sizes, [3, 3, 1]);
}

#[tokio::test]
async fn filters() {
    let app = App::start().await;
    let director = app.director();
    let shop = Shop::open(&director).await;
    let other_unit = shop.another_unit(&director).await;
    let other_crew = shop.another_crew(&director).await;
    let now = app.now();
    let early = post(&director, Trial::good_sweep(&shop, now - TimeDelta::hours(4))).await;
    let check = Trial::confirmation(&shop, now - TimeDelta::hours(3), ["sss", "sss", "sss"]);
    let check = post(&director, check).await;
    let failed = Trial::confirmation(&other_unit, now - TimeDelta::hours(2), ["ccc", "ccc", "css"]);
    let failed = post(&director, failed).await;
    let elsewhere = post(&director, Trial::good_sweep(&other_crew, now - TimeDelta::hours(1))).await;

    let (two_hours_ago, three_hours_ago) =
        (stamp(now - TimeDelta::hours(2)), stamp(now - TimeDelta::hours(3)));
    let cases = [
        (format!("unit_id={}", shop.unit), vec![&check, &early]),
        (format!("unit_id={}", other_unit.unit), vec![&failed]),
        (format!("crew_id={}", other_crew.crew), vec![&elsewhere]),
        ("purpose=confirmation".to_owned(), vec![&failed, &check]),
        ("outcome=failed".to_owned(), vec![&failed]),
        (format!("from={two_hours_ago}"), vec![&elsewhere, &failed]),
        (format!("to={two_hours_ago}"), vec![&check, &early]),
        (format!("from={three_hours_ago}&to={two_hours_ago}&purpose=confirmation"), vec![&check]),
        (format!("unit_id={}", uuid::Uuid::nil()), vec![]),
    ];
    for (query, expected) in cases {
        let page = director.get(&format!("/v1/trials?{query}")).await.expect(200);
        assert_eq!(ids(&page).iter().collect::<Vec<_>>(), expected, "{query}");
        assert_eq!(page["next_cursor"], Value::Null, "{query}");
    }
}

#[tokio::test]
async fn queries_that_are_not_understood_are_refused() {
    let app = App::start().await;
    for query in [
        "limit=0",
        "limit=201",
        "limit=many",
        "cursor=elsewhere",
        "purpose=fun",
        "outcome=good",
        "unit_id=7",
        "from=yesterday",
        "from=-262000-01-01T00:00:00Z",
        "to=-262000-01-01T00:00:00Z",
        "cursor=-9000000000000000000.00000000000000000000000000000000",
        "uint_id=0198a0f4-0000-7000-8000-000000000000",
    ] {
        let problem = app.director().get(&format!("/v1/trials?{query}")).await.problem(400, "bad_request");
        let member = query.split('=').next().unwrap();
        let named = problem.document["detail"].as_str().unwrap();
        // A value that cannot be read at all is named by its reader, which does not know the member.
        let general = ["query parameter", "beyond what can be stored"];
        assert!(
            named.contains(member) || general.iter().any(|words| named.contains(words)),
            "{query}: {named}"
        );
    }
}
