//! A record arrives once, whatever the network does: duplicates, re-encodings, conflicts; and comes back as it was sent.

use chrono::TimeDelta;
use lapwatch_tests::harness::{App, Caller, Shop, Trial};
use serde_json::{Value, json};

/// A trial with literals that a careless service would rewrite.
fn literal_trial(shop: &Shop, app: &App) -> String {
    let text = Trial::good_sweep(shop, app.now())
        .member("extra", json!({ "form": "roof card 4", "Größe": [1, null, true] }))
        .json()
        .to_string();
    let text = text.replace("380.0", "380.00").replace("420.0", "4.2e2").replace("3.05", "3.050");
    format!("  {text}\n")
}

async fn count_of_trials(caller: &Caller<'_>) -> usize {
    caller.get("/v1/trials").await.expect(200)["items"].as_array().map_or(0, Vec::len)
}

#[tokio::test]
async fn the_same_bytes_again_get_the_same_receipt() {
    let app = App::start().await;
    let shop = Shop::open(&app.director()).await;
    let phone = app.app(&["trials:write", "trials:read", "units:read"]).await;
    let text = literal_trial(&shop, &app);

    let first = phone.post_text("/v1/trials", text.clone()).await;
    let created = first.expect(201);
    assert_eq!(first.header("location"), format!("/v1/trials/{}", created["trial"]["id"].as_str().unwrap()));
    assert_eq!(created["duplicate"], false);

    app.pass(TimeDelta::minutes(7));
    let again = phone.post_text("/v1/trials", text).await.expect(200);
    assert_eq!(again["duplicate"], true);
    assert_eq!(again["trial"], created["trial"], "the receipt, with the time of the first");
    for member in ["coupons", "edges", "band", "set_point", "standing", "outcome"] {
        assert_eq!(again[member], created[member], "{member}");
    }
    assert_eq!(count_of_trials(&phone).await, 1);
}

#[tokio::test]
async fn the_same_value_in_other_bytes_is_no_conflict() {
    let app = App::start().await;
    let shop = Shop::open(&app.director()).await;
    let text = literal_trial(&shop, &app);
    let created = app.director().post_text("/v1/trials", text.clone()).await.expect(201);

    let value: Value = serde_json::from_str(&text).unwrap();
    let reencoded = serde_json::to_string_pretty(&value).unwrap();
    assert_ne!(reencoded, text);
    let again = app.director().post_text("/v1/trials", reencoded).await.expect(200);
    assert_eq!(again["duplicate"], true);
    assert_eq!(again["trial"]["digest"], created["trial"]["digest"], "of the bytes that came first");
    assert_eq!(count_of_trials(&app.director()).await, 1);
}

#[tokio::test]
async fn other_content_under_a_known_id_is_a_conflict_and_changes_nothing() {
    let app = App::start().await;
    let shop = Shop::open(&app.director()).await;
    let trial = Trial::good_sweep(&shop, app.now());
    let created = app.director().post("/v1/trials", &trial.clone().json()).await.expect(201);
    let path = format!("/v1/trials/{}", created["trial"]["id"].as_str().unwrap());
    let before = app.director().get(&path).await;

    let other = trial.member("operator", json!("somebody else")).json();
    app.director()
        .post("/v1/trials", &other)
        .await
        .problem(409, "conflict")
        .advises("under an id of its own");
    assert_eq!(app.director().get(&path).await.text(), before.text());
}

/// An id that another kind of record has taken is taken.
#[tokio::test]
async fn an_id_belongs_to_one_record_of_one_kind() {
    let app = App::start().await;
    let shop = Shop::open(&app.director()).await;
    let trial = Trial::good_sweep(&shop, app.now()).json();
    app.director().post("/v1/trials", &trial).await.expect(201);
    let event = json!({
        "id": trial["id"], "unit_id": shop.unit, "performed_at": app.now(), "kind": "inspection",
        "affects_heat": false,
    });
    app.director().post("/v1/service-events", &event).await.problem(409, "conflict");
}

/// An id is an organization's own: the same one elsewhere is another record, and no oracle.
#[tokio::test]
async fn organizations_do_not_share_ids() {
    let app = App::start().await;
    let neighbours = app.found("Dunlin Roofing").await;
    let shop = Shop::plan();
    shop.add_to(&app.director()).await;
    shop.add_to(&app.director_of(&neighbours)).await;
    let trial = Trial::good_sweep(&shop, app.now());
    app.director().post("/v1/trials", &trial.clone().json()).await.expect(201);
    let theirs = trial.member("operator", json!("Wren")).json();
    let answer = app.director_of(&neighbours).post("/v1/trials", &theirs).await.expect(201);
    assert_eq!(answer["duplicate"], false);
    for caller in [app.director(), app.director_of(&neighbours)] {
        assert_eq!(count_of_trials(&caller).await, 1);
    }
}

#[tokio::test]
async fn the_record_comes_back_byte_for_byte() {
    let app = App::start().await;
    let shop = Shop::open(&app.director()).await;
    let text = literal_trial(&shop, &app);
    let created = app.director().post_text("/v1/trials", text.clone()).await.expect(201);
    let path = format!("/v1/trials/{}", created["trial"]["id"].as_str().unwrap());

    let reply = app.director().get(&path).await;
    reply.expect_status(200);
    // From the first to the last octet of the JSON value: white space around it is not part of the record.
    let record = text.trim();
    assert!(record.contains("380.00") && record.contains("4.2e2") && record.contains("3.050"));
    assert!(reply.text().contains(&format!("\"record\":{record}")), "{}", reply.text());

    let mut answer = created;
    answer["duplicate"] = json!(false);
    assert_eq!(reply.json()["answer"], answer, "and with the same answer");
}

/// What was computed when the trial arrived is kept whole: a copy in tables for lists, with every strip.
#[tokio::test]
async fn bytes_and_strips_are_stored() {
    let app = App::start().await;
    let shop = Shop::open(&app.director()).await;
    let text = literal_trial(&shop, &app);
    app.director().post_text("/v1/trials", text.clone()).await.expect(201);
    let database = app.superuser().await;
    let row = database
        .query_one("SELECT bytes, disposition FROM submission WHERE kind = 'trial'", &[])
        .await
        .unwrap();
    assert_eq!(String::from_utf8_lossy(row.get::<_, &[u8]>("bytes")), text);
    assert_eq!(row.get::<_, &str>("disposition"), "accepted");
    for (table, expected) in [("trial", 1), ("coupon", 6), ("specimen", 18), ("evidence", 2)] {
        let count: i64 =
            database.query_one(&format!("SELECT count(*) FROM {table}"), &[]).await.unwrap().get(0);
        assert_eq!(count, expected, "{table}");
    }
}
