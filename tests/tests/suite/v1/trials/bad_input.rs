//! Records that break rules: each is refused with the place and what to do, and nothing of it is stored.

use lapwatch_tests::harness::{App, Caller, Shop, Trial};
use serde_json::{Value, json};
use uuid::Uuid;

/// A good trial to spoil.
fn good(shop: &Shop, app: &App) -> Value {
    Trial::good_sweep(shop, app.now()).json()
}

/// After whatever was sent: nothing is stored, the service answers, and a good trial is still accepted.
async fn assert_unharmed(app: &App, caller: &Caller<'_>, shop: &Shop) {
    let rows: i64 =
        app.superuser().await.query_one("SELECT count(*) FROM submission", &[]).await.unwrap().get(0);
    assert_eq!(rows, 0, "something was stored");
    let answer = caller.post("/v1/trials", &good(shop, app)).await.expect(201);
    assert!(answer["band"].is_object(), "{answer}");
}

/// Each case spoils one member of a good trial: where, with what, the finding, words of its advice.
#[tokio::test]
async fn one_spoilt_member_is_named_with_advice() {
    let app = App::start().await;
    let caller = app.director();
    let shop = Shop::open(&caller).await;
    let lot_of_another = shop_with_another_membrane(&caller, &shop).await;
    let nobody = Uuid::now_v7();
    let cel = |value: f64| json!({ "value": value, "unit": "Cel" });
    let mm = |value: f64| json!({ "value": value, "unit": "mm" });
    let set = "/coupons/0/set_temperature";
    let strip = "/coupons/5/specimens/2";
    let at = |place: &str, member: &str| format!("{place}/{member}");
    let cases = [
        // Units and numbers.
        (at(set, "unit"), json!("C"), at(set, "unit"), "unknown_unit", "Cel or [degF]"),
        (at(set, "unit"), json!("cel"), at(set, "unit"), "unknown_unit", "Cel or [degF]"),
        (at(set, "unit"), json!("K"), at(set, "unit"), "unknown_unit", "Cel or [degF]"),
        (at(set, "value"), json!(-300), at(set, "value"), "below_absolute_zero", "absolute zero"),
        (at(set, "value"), json!(-20), at(set, "value"), "out_of_range", "check value and unit"),
        (at(set, "value"), json!(4550), at(set, "value"), "out_of_range", "check value and unit"),
        (at(set, "value"), json!(640), at(set, "value"), "above_unit_maximum", "620"),
        (at(set, "value"), json!(20), at(set, "value"), "too_cool", "check number and unit"),
        (at(set, "value"), json!("455"), at(set, "value"), "wrong_type", "expected a number"),
        (set.into(), json!([455, "Cel"]), set.into(), "wrong_type", "expected an object"),
        (set.into(), json!(455), set.into(), "wrong_type", "expected an object"),
        (set.into(), json!({ "value": 455 }), at(set, "unit"), "required", "missing"),
        (at(strip, "width"), mm(-25.4), at(strip, "width/value"), "negative", "cannot be negative"),
        (
            at(strip, "bonded_width"),
            mm(-1.0),
            at(strip, "bonded_width/value"),
            "negative",
            "cannot be negative",
        ),
        (
            "/sheet_temperature".into(),
            cel(150.0),
            "/sheet_temperature/value".into(),
            "out_of_range",
            "-60 and 120",
        ),
        (
            "/speed_set".into(),
            json!({ "value": 3, "unit": "m/s" }),
            "/speed_set/unit".into(),
            "unknown_unit",
            "m/min",
        ),
        ("/clock_offset_s".into(), json!(1e9), "/clock_offset_s".into(), "out_of_range", "a year"),
        // Members.
        (at(set, "valeu"), json!(455), at(set, "valeu"), "unknown_field", "`value`"),
        ("/operater".into(), json!("Wren"), "/operater".into(), "unknown_field", "`extra`"),
        (at(strip, "verdict"), json!("ok"), at(strip, "verdict"), "unknown_field", "`mode`"),
        (
            "/supply".into(),
            json!({ "volts": 230 }),
            "/supply/volts".into(),
            "unknown_field",
            "`voltage_loaded`",
        ),
        // Codes.
        ("/schema".into(), json!("trial/2"), "/schema".into(), "schema_unknown", "`trial/1`"),
        ("/purpose".into(), json!("fun"), "/purpose".into(), "unknown_code", "`sweep`"),
        (at(strip, "mode"), json!("peeled"), at(strip, "mode"), "unknown_code", "`film_tear`"),
        (
            at(strip, "scorching"),
            json!(["char", "soot"]),
            at(strip, "scorching/1"),
            "unknown_code",
            "`browning`",
        ),
        (
            "/upper_sheet/condition".into(),
            json!("old"),
            "/upper_sheet/condition".into(),
            "unknown_code",
            "`aged`",
        ),
        // Ids.
        ("/unit_id".into(), json!(nobody), "/unit_id".into(), "unknown_id", "Add it first"),
        ("/crew_id".into(), json!(nobody), "/crew_id".into(), "unknown_id", "Add it first"),
        (
            "/lower_sheet/lot_id".into(),
            json!(nobody),
            "/lower_sheet/lot_id".into(),
            "unknown_id",
            "Add it first",
        ),
        (
            "/lower_sheet/lot_id".into(),
            json!(lot_of_another),
            "/lower_sheet/lot_id".into(),
            "wrong_membrane",
            "lot",
        ),
        ("/unit_id".into(), json!("SM-07"), "/unit_id".into(), "wrong_type", "UUID"),
        // Texts, times, lists.
        ("/operator".into(), json!("Wr\u{0}en"), "/operator".into(), "wrong_type", "remove them"),
        ("/operator".into(), json!(""), "/operator".into(), "wrong_type", "1 to 500 characters"),
        ("/operator".into(), json!("x".repeat(501)), "/operator".into(), "wrong_type", "1 to 500 characters"),
        ("/performed_at".into(), json!("yesterday"), "/performed_at".into(), "wrong_type", "Send a moment"),
        (
            "/performed_at".into(),
            json!("0044-03-15T12:00:00Z"),
            "/performed_at".into(),
            "out_of_range",
            "1970",
        ),
        ("/coupons".into(), json!([]), "/coupons".into(), "wrong_count", "1 to 60"),
        ("/coupons".into(), Value::Null, "/coupons".into(), "wrong_type", "a list"),
    ];
    for (place, spoilt, pointer, code, advice) in cases {
        let mut trial = good(&shop, &app);
        put(&mut trial, &place, spoilt.clone());
        let reply = caller.post("/v1/trials", &trial).await;
        eprintln!("{place} = {spoilt}");
        reply.problem(422, "invalid_record").points_at(&[(&pointer, code)]).advises(advice);
    }
    assert_unharmed(&app, &caller, &shop).await;
}

/// Sets what is at a pointer, adding the last member if it is missing.
fn put(document: &mut Value, pointer: &str, value: Value) {
    let (parent, last) = pointer.rsplit_once('/').expect("a pointer begins with a slash");
    match document.pointer_mut(parent) {
        Some(Value::Object(members)) => drop(members.insert(last.to_owned(), value)),
        Some(Value::Array(items)) => items[last.parse::<usize>().expect("an index")] = value,
        Some(_) => panic!("nothing can be put into {parent}"),
        None => {
            put(document, parent, json!({}));
            put(document, pointer, value);
        }
    }
}

/// Adds a second membrane with a lot; answers the lot.
async fn shop_with_another_membrane(caller: &Caller<'_>, shop: &Shop) -> Uuid {
    let other = Shop { membrane: Uuid::now_v7(), lot: Uuid::now_v7(), ..*shop };
    caller.post("/v1/membranes", &other.membrane_form()).await.expect(201);
    caller.post("/v1/lots", &other.lot_form()).await.expect(201);
    other.lot
}

/// A person who corrects a record learns of everything at once.
#[tokio::test]
async fn every_broken_rule_is_reported_at_once() {
    let app = App::start().await;
    let caller = app.director();
    let shop = Shop::open(&caller).await;
    let mut trial = good(&shop, &app);
    for (pointer, value) in [
        ("/purpose", json!("fun")),
        ("/speed_set/unit", json!("knots")),
        ("/humidity", json!({ "value": 140, "unit": "%" })),
        ("/coupons/0/set_temperature/value", json!(-300)),
        ("/coupons/3/specimens/1/width/value", json!(-1)),
        ("/coupons/5/specimens/0/faults", json!(["bent"])),
    ] {
        put(&mut trial, pointer, value);
    }
    let problem = caller.post("/v1/trials", &trial).await.problem(422, "invalid_record");
    let mut pointers: Vec<String> = problem.findings().into_iter().map(|(pointer, _)| pointer).collect();
    pointers.sort();
    let expected = [
        "/coupons/0/set_temperature/value",
        "/coupons/3/specimens/1/width/value",
        "/coupons/5/specimens/0/faults/0",
        "/humidity/value",
        "/purpose",
        "/speed_set/unit",
    ];
    assert_eq!(pointers, expected);
    assert!(problem.document["detail"].as_str().unwrap().contains("6 rules"), "{}", problem.document);
    assert_unharmed(&app, &caller, &shop).await;
}

/// Unknown ids, too, are reported together.
#[tokio::test]
async fn every_unknown_id_is_reported_at_once() {
    let app = App::start().await;
    let caller = app.director();
    let shop = Shop::open(&caller).await;
    let strangers = Trial::good_sweep(&Shop::plan(), app.now()).json();
    let problem = caller.post("/v1/trials", &strangers).await.problem(422, "invalid_record");
    let mut pointers: Vec<String> = problem.findings().into_iter().map(|(pointer, _)| pointer).collect();
    pointers.sort();
    let expected = [
        "/lower_sheet/lot_id",
        "/lower_sheet/membrane_id",
        "/unit_id",
        "/upper_sheet/lot_id",
        "/upper_sheet/membrane_id",
    ];
    assert_eq!(pointers, expected);
    assert_unharmed(&app, &caller, &shop).await;
}

/// What stands in `extra` is the client's own: kept, whatever it is. Text in it may hold what the database's text cannot.
#[tokio::test]
async fn extra_may_hold_anything() {
    let app = App::start().await;
    let caller = app.director();
    let shop = Shop::open(&caller).await;
    let extra = json!({ "nul": "a\u{0}b", "deep": [[[[{}]]]], "unit_id": 7, "big": 1e300 });
    let trial = Trial::good_sweep(&shop, app.now()).member("extra", extra.clone()).json();
    caller.post("/v1/trials", &trial).await.expect(201);
    let stored = caller.get(&format!("/v1/trials/{}", trial["id"].as_str().unwrap())).await.expect(200);
    assert_eq!(stored["record"]["extra"], extra);
}

/// A trial from before its unit was registered is judged by the first version there is, rather than refused.
#[tokio::test]
async fn what_is_registered_late_holds_from_the_beginning() {
    let app = App::start().await;
    let caller = app.director();
    let shop = Shop::open(&caller).await;
    let mut unit = shop.unit_form();
    let young = Shop { unit: Uuid::now_v7(), ..shop };
    unit["id"] = json!(young.unit);
    unit["effective_from"] = json!(app.now());
    unit["maximum_set_temperature"]["value"] = json!(570);
    caller.post("/v1/units", &unit).await.expect(201);
    let early = Trial::good_sweep(&young, app.now() - chrono::TimeDelta::days(1)).json();
    let problem = caller.post("/v1/trials", &early).await.problem(422, "invalid_record");
    problem.points_at(&[("/coupons/5/set_temperature/value", "above_unit_maximum")]).advises("570");
}

/// Numbers and times that a double or a calendar can hold and nobody can have measured.
#[tokio::test]
async fn values_beyond_reason_are_refused() {
    let app = App::start().await;
    let caller = app.director();
    let shop = Shop::open(&caller).await;
    for (pointer, value, found) in [
        ("/speed_set/value", json!(1e300), "/speed_set/value"),
        ("/humidity", json!({ "value": 1e308, "unit": "%" }), "/humidity/value"),
        (
            "/coupons/0/specimens/0/peak_force",
            json!({ "value": 1e307, "unit": "N" }),
            "/coupons/0/specimens/0/peak_force/value",
        ),
        ("/performed_at", json!("+262000-01-01T00:00:00Z"), "/performed_at"),
        ("/performed_at", json!("-262000-01-01T00:00:00Z"), "/performed_at"),
        ("/recorded_at", json!("-262000-01-01T00:00:00Z"), "/recorded_at"),
    ] {
        let mut trial = good(&shop, &app);
        put(&mut trial, pointer, value);
        caller
            .post("/v1/trials", &trial)
            .await
            .problem(422, "invalid_record")
            .points_at(&[(found, "out_of_range")]);
    }
    // Corrected by its clock, it would lie before the calendar of this service begins.
    let mut trial = good(&shop, &app);
    put(&mut trial, "/performed_at", json!("1970-01-01T00:00:00Z"));
    put(&mut trial, "/clock_offset_s", json!(-10));
    let problem = caller.post("/v1/trials", &trial).await.problem(422, "invalid_record");
    problem.points_at(&[("/performed_at", "out_of_range")]);
    assert_unharmed(&app, &caller, &shop).await;
}
