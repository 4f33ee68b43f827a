//! Which photo belongs to what.

use chrono::TimeDelta;
use lapwatch_tests::harness::{App, Shop, Trial, photo, sha256};
use serde_json::{Value, json};
use uuid::Uuid;

use super::{listed, put, text, told, with_a_trial};

#[tokio::test]
async fn a_photo_and_its_bytes_may_come_in_either_order() {
    let app = App::start().await;
    let director = app.director();
    let (_, trial) = with_a_trial(&app).await;
    let [before, after] = [photo(1, 64, 48), photo(2, 64, 48)];
    put(&director, &before).await.expect(201);
    let first = told(&app, &trial["id"], &before);
    let second = told(&app, &trial["id"], &after);
    for told in [&first, &second] {
        assert_eq!(director.post("/v1/photos", told).await.expect(201)["sha256"], told["sha256"]);
        assert_eq!(director.post("/v1/photos", told).await.expect(200)["id"], told["id"]);
    }
    let start = director.get("/v1/changes?after=now").await.expect(200)["through"].clone();
    let kept = async |told: &Value| {
        director.get(&format!("/v1/photos/{}", text(&told["id"]))).await.expect(200)["content"].clone()
    };
    assert_eq!(kept(&first).await["size_bytes"], before.len());
    assert_eq!(kept(&second).await, Value::Null);
    put(&director, &after).await.expect(201);
    let content = kept(&second).await;
    assert_eq!((&content["media_type"], &content["width_px"]), (&json!("image/jpeg"), &json!(64)));
    // Who follows the feed hears that they have come.
    let changes = director.get(&format!("/v1/changes?after={}", text(&start))).await.expect(200);
    let entry = &changes["items"][0];
    assert_eq!(
        (&entry["kind"], &entry["event"], &entry["id"]),
        (&json!("photo"), &json!("changed"), &second["id"])
    );
    director.get(text(&entry["href"])).await.expect(200);
    let both = listed(&director, &format!("subject_id={}", text(&trial["id"]))).await;
    assert_eq!(both, [first["id"].clone(), second["id"].clone()]);
}

#[tokio::test]
async fn photos_of_the_pieces_and_of_what_is_corrected_are_photos_of_the_trial() {
    let app = App::start().await;
    let director = app.director();
    let shop = Shop::open(&director).await;
    let (header, coupons, close) = Trial::good_sweep(&shop, app.now()).pieces();
    director.post("/v1/open-trials", &header).await.expect(201);
    for coupon in &coupons {
        director.post("/v1/coupons", coupon).await.expect(201);
    }
    let pieces = [told(&app, &header["id"], b"set-up"), told(&app, &coupons[1]["id"], b"strip")];
    for piece in &pieces {
        director.post("/v1/photos", piece).await.expect(201);
    }
    director.post("/v1/trial-closes", &close).await.expect(201);
    let trial = text(&close["trial_id"]);
    let whole = Trial::good_sweep(&shop, app.now()).json();
    let whole_told = {
        let mut photo = told(&app, &json!(trial), b"whole");
        photo["coupon"] = json!(2);
        photo
    };
    director.post("/v1/photos", &whole_told).await.expect(201);
    // A correction keeps what was seen.
    let mut correction = whole;
    correction["supersedes"] = json!(trial);
    correction["recorded_at"] = json!(app.now() + TimeDelta::hours(1));
    director.post("/v1/trials", &correction).await.expect(201);
    for of in [trial, text(&correction["id"])] {
        assert_eq!(listed(&director, &format!("trial_id={of}")).await.len(), 3, "of {of}");
    }
    // One that was told of by mistake is withdrawn, and can still be looked at.
    let mistake = json!({ "id": Uuid::now_v7(), "record_id": pieces[0]["id"], "at": app.now(), "reason": "Another roof." });
    director.post("/v1/retractions", &mistake).await.expect(201);
    assert_eq!(listed(&director, &format!("trial_id={trial}")).await.len(), 2);
    director.get(&format!("/v1/photos/{}", text(&pieces[0]["id"]))).await.expect(200);
}

#[tokio::test]
async fn what_is_wrong_with_a_photo_is_said() {
    let app = App::start().await;
    let director = app.director();
    let (_, trial) = with_a_trial(&app).await;
    let good = told(&app, &trial["id"], b"strip");
    director.post("/v1/photos", &good).await.expect(201);
    let spoilt = async |member: &str, value: Value| {
        let mut photo = told(&app, &trial["id"], b"strip");
        photo[member] = value;
        director.post("/v1/photos", &photo).await.problem(422, "invalid_record").findings()
    };
    for (member, value, code) in [
        ("subject_id", json!(Uuid::now_v7()), "unknown_id"),
        ("subject_id", good["id"].clone(), "no_photos"),
        ("coupon", json!(0), "out_of_range"),
        ("coupon", json!(40), "out_of_range"),
        ("sha256", json!("abc"), "wrong_form"),
        ("taken_at", json!("1901-01-01T00:00:00Z"), "out_of_range"),
    ] {
        assert_eq!(spoilt(member, value.clone()).await, [(format!("/{member}"), code.to_owned())], "{value}");
    }
    for query in
        ["", "?subject_id=0197b0d2-7f00-7000-8000-000000000001&trial_id=0197b0d2-7f00-7000-8000-000000000001"]
    {
        director.get(&format!("/v1/photos{query}")).await.problem(400, "bad_request").advises("either");
    }
    let limits = director.get("/v1/photos/limits").await.expect(200);
    assert_eq!(limits["media_types"], json!(["image/jpeg", "image/png", "image/webp"]));
}

#[tokio::test]
async fn a_photo_that_comes_before_its_record_is_held_until_that_comes() {
    let app = App::start().await;
    let director = app.director();
    let shop = Shop::open(&director).await;
    let trial = Trial::good_sweep(&shop, app.now()).json();
    let mut photo = told(&app, &trial["id"], b"strip");
    photo["schema"] = json!("photo/1");
    let held = director.post("/v1/envelopes", &json!([photo])).await.expect(200);
    assert_eq!(held["results"][0]["result"], "quarantined");
    director.post("/v1/trials", &trial).await.expect(201);
    app.run_jobs().await;
    assert_eq!(listed(&director, &format!("trial_id={}", text(&trial["id"]))).await, [photo["id"].clone()]);
}

#[tokio::test]
async fn a_crew_sees_the_photos_of_its_own_records() {
    let app = App::start().await;
    let director = app.director();
    let (shop, trial) = with_a_trial(&app).await;
    let other = shop.another_crew(&director).await;
    let bytes = photo(3, 64, 48);
    let record = told(&app, &trial["id"], &bytes);
    director.post("/v1/photos", &record).await.expect(201);
    put(&director, &bytes).await.expect(201);
    let scopes = ["trials:read", "trials:write", "units:read", "rechecks:read"];
    let paths = [
        format!("/v1/photos/{}", text(&record["id"])),
        format!("/v1/photo-contents/{}", sha256(&bytes)),
        format!("/v1/photo-contents/{}/rendition", sha256(&bytes)),
    ];
    let (own, foreign) =
        (app.app_of_crew(&scopes, shop.crew).await, app.app_of_crew(&scopes, other.crew).await);
    for path in &paths {
        own.get(path).await.expect_status(200);
        foreign.get(path).await.problem(404, "not_found");
    }
    let query = format!("trial_id={}", text(&trial["id"]));
    assert_eq!((listed(&own, &query).await.len(), listed(&foreign, &query).await.len()), (1, 0));
    foreign.post("/v1/photos", &told(&app, &trial["id"], &bytes)).await.problem(403, "forbidden");
    own.post("/v1/photos", &told(&app, &trial["id"], &bytes)).await.expect(201);
    for (reader, entries) in [(&own, 3), (&foreign, 0)] {
        let heard = reader.get("/v1/changes?kinds=photo").await.expect(200);
        assert_eq!(heard["items"].as_array().expect("a list").len(), entries, "{heard}");
    }
}
