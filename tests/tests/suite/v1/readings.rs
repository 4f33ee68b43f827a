//! `/v1/second-readings` and `/v1/reader-agreement`: two people read the same strips.

use chrono::{DateTime, TimeDelta, Utc};
use lapwatch_tests::harness::{App, Caller, Shop, Trial, number};
use serde_json::{Value, json};
use uuid::Uuid;

/// A trial read by Sedge: 20 strips cold, 5 cold and 10 sound, 15 sound.
async fn read_by_sedge(caller: &Caller<'_>, shop: &Shop, at: DateTime<Utc>) -> Value {
    let trial = Trial::sweep(shop, at)
        .member("read_by", json!("Sedge"))
        .coupon(400.0, &"c".repeat(20))
        .coupon(430.0, &["c".repeat(5), "s".repeat(10)].concat())
        .coupon(460.0, &"s".repeat(15));
    caller.post("/v1/trials", &trial.json()).await.expect(201)["trial"]["id"].clone()
}

/// What `reader` says of it; the letters are those of the strips, `-` is one that was not read.
fn second(trial: &Value, reader: &str, at: DateTime<Utc>, coupons: [&str; 3]) -> Value {
    let reading = |letter| match letter {
        'c' => json!("cold"),
        's' => json!("sound"),
        'h' => json!("hot"),
        '-' => Value::Null,
        other => panic!("no reading is written {other}"),
    };
    let coupons: Vec<Vec<Value>> =
        coupons.iter().map(|strips| strips.chars().map(reading).collect()).collect();
    json!({
        "id": Uuid::now_v7(), "trial_id": trial, "read_by": reader, "read_at": at, "coupons": coupons,
        "remarks": null, "supersedes": null, "recorded_at": null,
    })
}

async fn agreement(caller: &Caller<'_>, query: &str) -> Vec<Value> {
    let answer = caller.get(&format!("/v1/reader-agreement{query}")).await.expect(200);
    answer["items"].as_array().expect("pairs").clone()
}

/// 20 strips cold to both, 15 sound to both, 5 and 10 read differently: observed agreement .7, by chance .5, kappa .4 (the
/// worked example of the encyclopaedia article "Cohen's kappa": 50 grant proposals, two readers).
#[tokio::test]
async fn a_pair_of_readers_has_the_published_kappa() {
    let app = App::start().await;
    let director = app.director();
    let shop = Shop::open(&director).await;
    let trial = read_by_sedge(&director, &shop, app.now()).await;
    let reading = second(&trial, "Reed", app.now(), [&"c".repeat(20), "ssssscccccccccc", "sssssssssssssss"]);
    assert_eq!(director.post("/v1/second-readings", &reading).await.expect(201), reading);
    assert_eq!(director.post("/v1/second-readings", &reading).await.expect(200), reading, "sent again");
    let listed = director.get(&format!("/v1/second-readings?trial_id={}", trial.as_str().unwrap())).await;
    assert_eq!(listed.expect(200)["items"], json!([reading]));

    let pairs = agreement(&director, "").await;
    assert_eq!(pairs.len(), 1);
    let pair = &pairs[0];
    assert_eq!((&pair["first"], &pair["second"]), (&json!("Reed"), &json!("Sedge")), "in order of names");
    assert_eq!(
        (&pair["trials"], &pair["strips"], &pair["months"]),
        (&json!(1), &json!(50), &json!(["2026-06"]))
    );
    assert!((number(pair, "/agreement/kappa") - 0.4).abs() < 1e-6, "{pair}");
    assert!((number(pair, "/agreement/sessions/0/observed") - 0.7).abs() < 1e-6);
    // Reed said cold ten times where Sedge said sound.
    let most = &pair["agreement"]["confusions"][0];
    assert_eq!(most, &json!({ "first": "cold", "second": "sound", "strips": 10 }));
}

#[tokio::test]
async fn agreement_is_followed_by_month_and_the_last_reading_counts() {
    let app = App::start().await;
    let director = app.director();
    let shop = Shop::open(&director).await;
    let all = ["c".repeat(20), "cccccssssssssss".to_owned(), "s".repeat(15)];
    let alike = all.each_ref().map(String::as_str);
    for (days_ago, coupons) in [(40, alike), (2, [alike[0], "sssssssssssssss", alike[2]])] {
        let at = app.now() - TimeDelta::days(days_ago);
        let trial = read_by_sedge(&director, &shop, at).await;
        let hasty = second(&trial, "Reed", at, [&"h".repeat(20), "hhhhhhhhhhhhhhh", "hhhhhhhhhhhhhhh"]);
        let considered = second(&trial, "Reed", at + TimeDelta::hours(1), coupons);
        // The later one arrives first.
        for reading in [&considered, &hasty] {
            director.post("/v1/second-readings", reading).await.expect(201);
        }
    }
    let pair = &agreement(&director, "").await[0];
    assert_eq!(pair["months"], json!(["2026-05", "2026-06"]), "{pair}");
    let sessions = &pair["agreement"]["sessions"];
    assert_eq!(number(sessions, "/0/kappa"), 1.0);
    assert!((number(sessions, "/1/observed") - 0.9).abs() < 1e-6, "5 of 50 differ");
    assert_eq!(pair["agreement"]["opposite"], json!(0), "the hasty reading does not count");
    let june = &agreement(&director, "?from=2026-06-01T00:00:00Z").await[0];
    assert_eq!((&june["months"], &june["trials"]), (&json!(["2026-06"]), &json!(1)));
}

/// A trial that does not say who read it, and two who read one strip each: no kappa, but nothing fails.
#[tokio::test]
async fn what_is_not_defined_is_null() {
    let app = App::start().await;
    let director = app.director();
    let shop = Shop::open(&director).await;
    let sent = Trial::confirmation(&shop, app.now(), ["sss", "sss", "sss"]).json();
    director.post("/v1/trials", &sent).await.expect(201);
    for (reader, strips) in [("Reed", ["s--", "---", "---"]), ("Sedge", ["-s-", "---", "---"])] {
        let reading = second(&sent["id"], reader, app.now(), strips);
        director.post("/v1/second-readings", &reading).await.expect(201);
    }
    let pairs = agreement(&director, "").await;
    let names: Vec<_> = pairs.iter().map(|pair| (pair["first"].clone(), pair["second"].clone())).collect();
    // Reed and Sedge have no strip in common.
    assert_eq!(names, [(Value::Null, json!("Reed")), (Value::Null, json!("Sedge"))]);
    assert!(pairs.iter().all(|pair| pair["agreement"].is_null() && pair["strips"] == json!(1)), "{pairs:?}");
}

#[tokio::test]
async fn a_reading_that_does_not_fit_its_trial_is_told_where() {
    let app = App::start().await;
    let director = app.director();
    let shop = Shop::open(&director).await;
    let sent = Trial::confirmation(&shop, app.now(), ["sss", "sss", "sss"]).json();
    director.post("/v1/trials", &sent).await.expect(201);
    let fits = second(&sent["id"], "Reed", app.now(), ["sss", "sss", "sss"]);
    let cases = [
        ("coupons", json!([["sound", "sound", "sound"]]), "/coupons", "wrong_count"),
        (
            "coupons",
            json!([["sound", "sound", "sound"], ["sound"], ["sound", "sound", "sound"]]),
            "/coupons/1",
            "wrong_count",
        ),
        ("coupons", json!([["sound", "tepid", "sound"], [], []]), "/coupons/0/1", "unknown_code"),
        ("coupons", json!([[null, null, null], [null], []]), "/coupons", "required"),
        ("coupons", json!(vec![vec!["cold"; 21]; 3]), "/coupons", "wrong_count"),
        ("coupons", json!([["sound", 3, "sound"], [], []]), "/coupons/0/1", "wrong_type"),
        ("read_by", json!(""), "/read_by", "wrong_type"),
        ("trial_id", json!(Uuid::now_v7()), "/trial_id", "unknown_id"),
    ];
    for (member, value, pointer, code) in cases {
        let mut reading = fits.clone();
        reading[member] = value;
        let problem = director.post("/v1/second-readings", &reading).await.problem(422, "invalid_record");
        problem.points_at(&[(pointer, code)]);
    }
    assert_eq!(director.get("/v1/second-readings").await.expect(200)["items"], json!([]), "nothing was kept");
    let mut other = fits.clone();
    director.post("/v1/second-readings", &fits).await.expect(201);
    other["read_by"] = json!("Sedge");
    director.post("/v1/second-readings", &other).await.problem(409, "conflict");
}

/// A crew's token reads and writes second readings of its own trials; another crew's trial looks missing.
#[tokio::test]
async fn a_crew_keeps_to_its_own_trials() {
    let app = App::start().await;
    let director = app.director();
    let ours = Shop::open(&director).await;
    let theirs = ours.another_crew(&director).await;
    let trials = [
        read_by_sedge(&director, &ours, app.now()).await,
        read_by_sedge(&director, &theirs, app.now()).await,
    ];
    let lead = app.app_of_crew(&["trials:read", "trials:write"], ours.crew).await;
    let strips = [&"c".repeat(20), "cccccssssssssss", "sssssssssssssss"];
    let [own, foreign] = trials.each_ref().map(|trial| second(trial, "Reed", app.now(), strips));
    lead.post("/v1/second-readings", &own).await.expect(201);
    let problem = lead.post("/v1/second-readings", &foreign).await.problem(422, "invalid_record");
    problem.points_at(&[("/trial_id", "unknown_id")]);
    director.post("/v1/second-readings", &foreign).await.expect(201);
    assert_eq!(lead.get("/v1/second-readings").await.expect(200)["items"], json!([own]));
    assert_eq!(agreement(&lead, "").await[0]["trials"], json!(1));
    assert_eq!(agreement(&director, "").await[0]["trials"], json!(2));
}
