//! The calculators: published and independently recomputed numbers come out of the HTTP answers, nothing is stored, and
//! what cannot be calculated is refused where it stands.

use lapwatch_tests::harness::{App, Shop, Trial, number};
use serde_json::{Value, json};

#[track_caller]
fn assert_near(answer: &Value, pointer: &str, expected: f64, tolerance: f64) {
    let got = number(answer, pointer);
    assert!((got - expected).abs() <= tolerance, "{pointer}: {got}, expected {expected} ± {tolerance}");
}

fn measured(value: f64, unit: &str) -> Value {
    json!({ "value": value, "unit": unit })
}

/// Alduchov and Eskridge 1996, recomputed independently in SciPy: 20 °C and 50 % give 9.261 °C; ±3 % of humidity are about
/// ±0.9 K.
#[tokio::test]
async fn dew_points() {
    let app = App::start().await;
    let ask = async |body: Value| app.director().post("/v1/calculations/dew-point", &body).await;
    let known = [(20.0, 50.0, 9.261), (25.0, 60.0, 16.698), (30.0, 80.0, 26.171), (10.0, 90.0, 8.435)];
    for (air, humidity, expected) in known {
        let body = json!({ "air_temperature": measured(air, "Cel"), "humidity": measured(humidity, "%") });
        let answer = ask(body).await.expect(200);
        assert_near(&answer, "/dew_point", expected, 0.0005);
        assert_eq!(answer["sheet"], Value::Null);
    }
    let body = json!({
        "air_temperature": measured(68.0, "[degF]"), "humidity": measured(50.0, "%"),
        "sheet_temperature": measured(52.0, "[degF]"),
        "instruments": { "air_temperature": measured(0.0, "K"), "sheet_temperature": measured(0.0, "K") },
    });
    let answer = ask(body).await.expect(200);
    assert_near(&answer, "/dew_point", 9.261 * 1.8 + 32.0, 0.001);
    assert_near(&answer, "/standard_deviation", 0.9 * 1.8, 0.1);
    assert_eq!(answer["sheet"]["verdict"], "near");
    assert_eq!(answer["sheet"]["margin"]["unit"], "[degR]");
    assert_near(&answer, "/sheet/least_above", 5.4, 1e-6);

    // A share of one in place of per cent would call a soaking sheet dry.
    for humidity in [0.0, 0.8, 1.0] {
        let dry = json!({ "air_temperature": measured(20.0, "Cel"), "humidity": measured(humidity, "%") });
        ask(dry).await.problem(422, "invalid_record").points_at(&[("/humidity/value", "out_of_range")]);
    }
    let hot = json!({ "air_temperature": measured(60.0, "Cel"), "humidity": measured(10.0, "%") });
    ask(hot)
        .await
        .problem(422, "invalid_record")
        .points_at(&[("/air_temperature/value", "air_out_of_range")]);
    let wrong = json!({ "air_temperature": measured(20.0, "C"), "humidity": measured(50.0, "m") });
    let refused = ask(wrong).await.problem(422, "invalid_record");
    assert!(refused.findings().iter().any(|(pointer, _)| pointer == "/humidity/unit"), "{refused:?}");
}

/// A slow rise over four months; the numbers were computed with another program (see the checks of `series` in the domain).
#[tokio::test]
async fn series_of_edges() {
    let readings = [
        (0, 428.0, 9.0),
        (4, 421.0, 8.0),
        (7, 433.0, 10.0),
        (13, 426.0, 8.0),
        (21, 424.0, 8.0),
        (26, 430.0, 9.0),
        (38, 429.0, 8.0),
        (47, 434.0, 10.0),
        (59, 437.0, 8.0),
        (73, 441.0, 9.0),
        (82, 446.0, 8.0),
        (97, 444.0, 8.0),
        (108, 452.0, 9.0),
        (119, 457.0, 8.0),
    ];
    let start = lapwatch_tests::harness::an_ordinary_noon();
    let question = |scale: &str, difference: &str, (zero, step): (f64, f64)| {
        let readings: Vec<Value> = readings
            .iter()
            .map(|(day, edge, error)| {
                json!({
                    "at": start + chrono::Days::new(*day),
                    "edge": measured(edge * step + zero, scale),
                    "standard_error": measured(error * step, difference),
                })
            })
            .collect();
        json!({ "readings": readings, "wander_in_a_day": measured(0.3_f64.sqrt(), "K") })
    };
    let app = App::start().await;
    let ask = async |body: &Value| app.director().post("/v1/calculations/series", body).await;
    let metric = question("Cel", "K", (0.0, 1.0));
    let answer = ask(&metric).await.expect(200);
    assert_near(&answer, "/baseline/level", 426.6780, 5e-5);
    assert_near(&answer, "/baseline/standard_deviation", 4.8041, 5e-5);
    assert_near(&answer, "/points/7/level/level", 440.676, 5e-4);
    assert_near(&answer, "/trend/change_in_a_day", 0.26829, 5e-6);
    assert_near(&answer, "/trend/low", 0.19718, 5e-6);
    assert_near(&answer, "/trend/high", 0.31429, 5e-6);
    assert_near(&answer, "/trend/line/level/level", 455.315, 5e-4);
    for (pointer, expected) in
        [("/points/7/standardized", 2.4669), ("/points/6/cusum_up", 4.4142), ("/points/6/ewma", 3.2040)]
    {
        let got = answer.pointer(pointer).and_then(Value::as_f64).expect(pointer);
        assert!((got - expected).abs() <= 5e-5, "{pointer}: {got}");
    }
    assert_eq!(answer["chart"]["signal"]["direction"], "up");
    assert_eq!(answer["chart"]["signal"]["at"], metric["readings"][13]["at"]);
    assert_eq!(answer["points"].as_array().map(Vec::len), Some(8));

    // The same on the other scale.
    let fahrenheit = ask(&question("[degF]", "[degR]", (32.0, 1.8))).await.expect(200);
    assert_eq!(fahrenheit["baseline"]["level"]["unit"], "[degF]");
    assert_near(&fahrenheit, "/baseline/level", 426.6780 * 1.8 + 32.0, 1e-4);
    assert_eq!(fahrenheit["points"][7]["cusum_up"], answer["points"][7]["cusum_up"]);

    let mut swapped = metric.clone();
    swapped["readings"][5]["at"] = swapped["readings"][3]["at"].clone();
    ask(&swapped).await.problem(422, "invalid_record").points_at(&[("/readings/5/at", "not_in_order")]);
    let mut exact = metric.clone();
    exact["readings"][2]["standard_error"]["value"] = json!(0);
    let pointer = "/readings/2/standard_error/value";
    ask(&exact).await.problem(422, "invalid_record").points_at(&[(pointer, "not_positive")]);
    let mut few = metric.clone();
    few["baseline_readings"] = json!(13);
    ask(&few).await.problem(422, "invalid_record").points_at(&[("/readings", "too_few_readings")]);
}

/// Ohm's law with IEC 60228 class 5 and NEC chapter 9 table 8 conductors, recomputed independently.
#[tokio::test]
async fn supplies() {
    let app = App::start().await;
    let ask = async |body: Value| app.director().post("/v1/calculations/supply", &body).await;
    let plate = |volts: f64, cord: Value| json!({ "rated_voltage": measured(volts, "V"), "rated_power": measured(4.6, "kW"), "cord": cord });
    let hundred_feet = |size: &str| json!({ "size": size, "length": measured(100.0, "[ft_i]") });
    for (size, drop, power) in [("14 AWG", 4.78, 0.9068), ("12 AWG", 3.07, 0.9396), ("10 AWG", 1.94, 0.9615)]
    {
        let answer = ask(plate(240.0, hundred_feet(size))).await.expect(200);
        assert_near(&answer, "/at_machine/drop_share", drop / 100.0, 0.00005);
        assert_near(&answer, "/at_machine/power_share", power, 0.00005);
        assert_eq!(answer["at_machine"]["basis"], "computed_from_rated");
    }
    let cold = json!({
        "size": "3G2,5", "length": measured(50.0, "m"), "conductor_temperature": measured(20.0, "Cel"),
    });
    let mut body = plate(230.0, cold);
    body["heater"] =
        json!({ "highest_set_temperature": measured(620.0, "Cel"), "set_point": measured(540.0, "Cel") });
    body["which_cord"] = json!({ "at_least": "2.5 mm²" });
    let answer = ask(body.clone()).await.expect(200);
    assert_near(&answer, "/at_machine/drop_share", 0.0649, 0.00005);
    assert_near(&answer, "/at_machine/power_share", 0.8744, 0.00005);
    // 20 + 600·0.8744 = 544.6: less than 20 K above the set point.
    assert_near(&answer, "/reach/reachable", 20.0 + 600.0 * 0.8744, 0.05);
    assert_eq!(answer["reach"]["is_short"], true);
    assert_eq!(answer["cord"]["code"], "enough");
    assert_eq!(answer["cord"]["size"], "4 mm²");
    assert_eq!(answer["cautions"][0]["code"], "supply_sag");

    // What is measured under load counts before the cord.
    body["voltage_loaded"] = measured(229.0, "V");
    let answer = ask(body).await.expect(200);
    assert_eq!(answer["at_machine"]["basis"], "measured_under_load");
    assert_eq!(answer["reach"]["is_short"], false);

    // The wrong voltage for the unit, and a drop that the cord does not explain.
    let mut poor = plate(230.0, json!({ "size": "2.5 mm²", "length": measured(50.0, "m") }));
    poor["heater"] =
        json!({ "highest_set_temperature": measured(620.0, "Cel"), "set_point": measured(540.0, "Cel") });
    poor["voltage_loaded"] = measured(400.0, "V");
    let answer = ask(poor.clone()).await.expect(200);
    assert_eq!(answer["cautions"][0]["code"], "overvoltage");
    assert_near(&answer, "/reach/reachable", 620.0, 1e-9);
    assert!(!answer["explanation"].to_string().contains("enough"), "{answer}");
    poor["voltage_loaded"] = measured(200.0, "V");
    poor["voltage_idle"] = measured(235.0, "V");
    let answer = ask(poor).await.expect(200);
    assert!(answer["explanation"].to_string().contains("beyond what this cord explains"), "{answer}");

    let odd = plate(0.0, json!({ "size": "6", "length": measured(-1.0, "m") }));
    ask(odd).await.problem(422, "invalid_record").points_at(&[
        ("/rated_voltage/value", "not_positive"),
        ("/cord/size", "unknown_cord_size"),
        ("/cord/length/value", "negative"),
    ]);
    let no_length = json!({
        "rated_voltage": measured(230.0, "V"), "rated_power": measured(4.6, "kW"), "which_cord": { "at_least": "4 mm²" },
    });
    ask(no_length).await.problem(422, "invalid_record").points_at(&[("/cord", "required")]);
}

/// A semi-infinite solid under hot air (Carslaw and Jaeger 2.7), recomputed independently: β for a heat share of .28372 at
/// 10 ft/min, sheet 70 °F.
#[tokio::test]
async fn carried_temperatures() {
    let app = App::start().await;
    let ask = async |body: Value| app.director().post("/v1/calculations/carried-temperatures", &body).await;
    let conditions = |sheet: f64, speed: f64| json!({ "sheet_temperature": measured(sheet, "[degF]"), "speed": measured(speed, "[ft_i]/min") });
    // 3.05 m/min is a little more than 10 ft/min (3.048): the share is given at the one and printed at the other.
    let question = |to: Value| {
        json!({
            "temperatures": [{ "temperature": measured(1000.0, "[degF]") }],
            "from": conditions(70.0, 10.0), "to": to, "heat_share": 0.283_64, "heat_share_standard_deviation": 0,
            "heated_length": measured(25.0, "mm"), "thickness": measured(1.5, "mm"),
        })
    };
    for (sheet, speed, expected) in [
        (40.0, 10.0, 1075.74),
        (95.0, 10.0, 936.88),
        (70.0, 12.0, 1067.58),
        (70.0, 8.0, 925.39),
        (40.0, 12.0, 1151.0),
    ] {
        let answer = ask(question(conditions(sheet, speed))).await.expect(200);
        assert_near(&answer, "/temperatures/0/temperature", expected, 0.1);
        assert_near(&answer, "/temperatures/0/standard_deviation", 0.0, 1e-6);
    }
    // Without the unit's own share it is less sure, and the band's width surer than its place.
    let mut unsure = question(conditions(40.0, 10.0));
    unsure.as_object_mut().expect("an object").remove("heat_share");
    let second = json!({ "temperature": measured(1080.0, "[degF]") });
    unsure["temperatures"].as_array_mut().expect("a list").push(second);
    let answer = ask(unsure).await.expect(200);
    let sd = number(&answer, "/temperatures/0/standard_deviation");
    assert!(sd > 10.0 && sd < 80.0, "{sd}");
    assert_near(&answer, "/apart/0/distance", 80.0, 1e-6);
    assert!(number(&answer, "/apart/0/standard_deviation") < 1e-6, "{answer}");

    let mut by_hand = question(conditions(70.0, 1.0));
    by_hand["thickness"] = measured(1.2, "mm");
    ask(by_hand).await.problem(422, "invalid_record").points_at(&[("/to/speed/value", "dwell_too_long")]);
    let too_fast = question(conditions(-20.0, 60.0));
    ask(too_fast).await.problem(422, "invalid_record").points_at(&[("/to", "beyond_range")]);
    let mut odd = question(conditions(70.0, 12.0));
    odd["heat_share"] = json!(1.5);
    odd["temperatures"] = json!([]);
    ask(odd)
        .await
        .problem(422, "invalid_record")
        .points_at(&[("/temperatures", "wrong_count"), ("/heat_share", "heat_share_out_of_range")]);
}

/// A made trace whose means were recomputed independently: 10 d up to 8 mm, then 40 + 3 sin(d/4).
#[tokio::test]
async fn peel_traces() {
    let app = App::start().await;
    let ask = async |body: Value| app.director().post("/v1/calculations/peel", &body).await;
    let places: Vec<f64> = (0..=160).map(f64::from).collect();
    let forces: Vec<f64> =
        places.iter().map(|d| if *d < 8.0 { 10.0 * d } else { 40.0 + 3.0 * (d / 4.0).sin() }).collect();
    let trace = |region: &str| {
        json!({
            "displacement": { "unit": "mm", "values": places }, "force": { "unit": "N", "values": forces },
            "region": region, "width": measured(25.0, "mm"), "tared": true,
        })
    };
    for (region, mean, length) in [
        ("skip_25_take_100_mm", 40.001_574, 100.0),
        ("central_50_percent", 39.851_778, 80.0),
        ("central_80_percent", 39.950_974, 128.0),
    ] {
        let answer = ask(trace(region)).await.expect(200);
        assert_near(&answer, "/force/mean", mean, 5e-7);
        assert_near(&answer, "/length", length, 1e-9);
        assert_near(&answer, "/force_per_width/mean", mean / 25.0, 1e-6);
        assert_eq!(answer["too_short"], false, "{region}");
    }
    let mut narrow = trace("central_50_percent");
    narrow["bonded_width"] = measured(38.0, "mm");
    let answer = ask(narrow).await.expect(200);
    assert_eq!(answer["label"], "short_length");
    assert_eq!(answer["label_text"], "short-length peel, not standard");

    let mut back = trace("central_50_percent");
    back["displacement"]["values"][90] = json!(3.0);
    ask(back)
        .await
        .problem(422, "invalid_record")
        .points_at(&[("/displacement/values/90", "displacement_goes_back")]);
    let mut uneven = trace("middle");
    uneven["force"]["values"] = json!([1, 2, 3]);
    ask(uneven)
        .await
        .problem(422, "invalid_record")
        .points_at(&[("/force/values", "wrong_count"), ("/region", "unknown_code")]);
}

/// 20, 5, 10 and 15 of 50 strips: .7 observed, .5 by chance, kappa .4 (an example that many texts print).
#[tokio::test]
async fn readers() {
    let app = App::start().await;
    let ask = async |sessions: Value| {
        app.director().post("/v1/calculations/reader-agreement", &json!({ "sessions": sessions })).await
    };
    let pair = |first: &str, second: &str, strips: u32| json!({ "first": first, "second": second, "strips": strips });
    let session = json!({ "readings": [
        pair("sound", "sound", 20), pair("sound", "cold", 5), pair("cold", "sound", 10), pair("cold", "cold", 15),
    ] });
    let answer = ask(json!([session])).await.expect(200);
    assert_near(&answer, "/kappa", 0.4, 1e-9);
    assert_near(&answer, "/sessions/0/observed", 0.7, 1e-9);
    assert_near(&answer, "/sessions/0/expected", 0.5, 1e-9);
    assert_eq!(answer["confusions"][0], json!({ "first": "cold", "second": "sound", "strips": 10 }));
    assert_eq!(answer["opposite"], 0);

    let alike = json!({ "readings": [pair("sound", "sound", 9), pair("cold", "hot", 0)] });
    let answer = ask(json!([session, alike])).await.expect(200);
    assert_near(&answer, "/kappa", 0.4, 1e-9);
    assert_eq!(answer["sessions"][1]["undefined"], "one_reading");
    ask(json!([alike])).await.problem(422, "invalid_record").points_at(&[("/sessions", "one_reading")]);
    ask(json!([{ "readings": [pair("cool", "sound", 1)] }]))
        .await
        .problem(422, "invalid_record")
        .points_at(&[("/sessions/0/readings/0/first", "unknown_code")]);
}

/// A crew asks after each coupon what to weld next; the answer is that of the trial once it is sent, and until then
/// nothing is there.
#[tokio::test]
async fn a_trial_is_evaluated_and_not_kept() {
    let app = App::start().await;
    let shop = Shop::open(&app.director()).await;
    let whole = Trial::good_sweep(&shop, app.now()).json();
    let coupons = whole["coupons"].as_array().expect("coupons").len();
    for welded in 1..=coupons {
        let mut so_far = whole.clone();
        so_far["coupons"].as_array_mut().expect("coupons").truncate(welded);
        let answer = app.director().post("/v1/calculations/trial", &so_far).await.expect(200);
        assert_eq!(answer["coupons"].as_array().map(Vec::len), Some(welded));
        assert!(answer["next_coupon"]["sentence"].is_string());
    }
    let evaluated = app.director().post("/v1/calculations/trial", &whole).await.expect(200);
    let listed = app.director().get("/v1/trials").await.expect(200);
    assert_eq!(listed["items"], json!([]));
    let kept = app.director().post("/v1/trials", &whole).await.expect(201);
    for (member, value) in evaluated.as_object().expect("an object") {
        assert_eq!(&kept[member], value, "{member}");
    }
    let mut odd = whole;
    odd["coupons"][0]["set_temperature"] = measured(-300.0, "Cel");
    app.director().post("/v1/calculations/trial", &odd).await.problem(422, "invalid_record");
}

/// Volts under load and a wet morning lead to cautions in the answer of a trial; its edges stay what they are.
#[tokio::test]
async fn conditions_lead_to_cautions() {
    let app = App::start().await;
    let shop = Shop::open(&app.director()).await;
    let codes = |answer: &Value| -> Vec<String> {
        let cautions = answer["cautions"].as_array().expect("cautions").iter();
        cautions.filter_map(|caution| caution["code"].as_str().map(str::to_owned)).collect()
    };
    let dry = Trial::good_sweep(&shop, app.now()).member("air_temperature", measured(20.0, "Cel"));
    let dry = dry.member("humidity", measured(50.0, "%"));
    let calm =
        dry.clone().member("supply", json!({ "source": "mains", "voltage_loaded": measured(229.0, "V") }));
    let calm = calm.member("sheet_temperature", measured(24.0, "Cel")).json();
    let answer = app.director().post("/v1/calculations/trial", &calm).await.expect(200);
    assert!(!codes(&answer).iter().any(|code| code == "near_dew_point" || code == "supply_sag"), "{answer}");

    let edges = answer["edges"].clone();
    let cord = json!({ "cord_gauge": "3G1.5", "cord_length": measured(100.0, "m") });
    let poor = dry.member("supply", cord).member("sheet_temperature", measured(10.0, "Cel")).json();
    let answer = app.director().post("/v1/calculations/trial", &poor).await.expect(200);
    assert!(codes(&answer).contains(&"near_dew_point".to_owned()), "{answer}");
    assert!(codes(&answer).contains(&"supply_sag".to_owned()), "{answer}");
    assert_eq!(answer["edges"], edges);
}

/// Crews that hold the temperature step the speed. Such a trial says the same as one that steps the temperatures which
/// heat the sheet alike, and is answered with a band of speeds besides.
#[tokio::test]
async fn a_trial_may_step_the_speed() {
    let app = App::start().await;
    let shop = Shop::open(&app.director()).await;
    let evaluate =
        async |trial: &Value| app.director().post("/v1/calculations/trial", trial).await.expect(200);
    let mut stepped = Trial::sweep(&shop, app.now());
    let speeds = [5.0, 4.2, 3.5, 2.9, 2.4, 2.0];
    for (strips, _) in ["ccc", "sss", "sss", "sss", "sss", "shh"].iter().zip(speeds) {
        stepped = stepped.coupon(500.0, strips);
    }
    let mut stepped = stepped.member("sheet_temperature", measured(20.0, "Cel")).json();
    for (coupon, speed) in stepped["coupons"].as_array_mut().expect("coupons").iter_mut().zip(speeds) {
        coupon["speed_set"] = measured(speed, "m/min");
    }
    let answer = evaluate(&stepped).await;
    let same: Vec<f64> =
        (0..6).map(|index| number(&answer, &format!("/coupons/{index}/at_held_speed"))).collect();
    assert!(same.is_sorted() && same[0] < 500.0 && same[5] > 500.0, "{same:?}");
    let band = &answer["held_temperature"];
    assert_near(&answer, "/held_temperature/temperature", 500.0, 1e-6);
    let (slow, to_set, fast) = (number(band, "/slow"), number(band, "/to_set"), number(band, "/fast"));
    assert!(2.0 <= slow && slow < to_set && to_set < fast && fast <= 5.0, "{band}");

    // Mid-trial, what to weld next is a speed at the temperature that is held.
    let mut unfinished = stepped.clone();
    unfinished["coupons"].as_array_mut().expect("coupons").truncate(3);
    let next = &evaluate(&unfinished).await["next_coupon"];
    assert_eq!(next["action"], "weld");
    let speed = number(next, "/speed");
    assert!(speed < 3.5 && (10.0 * speed - (10.0 * speed).round()).abs() < 1e-6, "{next}");

    let mut swept = stepped.clone();
    for (coupon, setting) in swept["coupons"].as_array_mut().expect("coupons").iter_mut().zip(&same) {
        coupon.as_object_mut().expect("an object").remove("speed_set");
        coupon["set_temperature"] = measured(*setting, "Cel");
    }
    let other = evaluate(&swept).await;
    assert_eq!((&other["held_temperature"], &other["next_coupon"]["speed"]), (&Value::Null, &Value::Null));
    for edge in ["/edges/lower/mean", "/edges/upper/mean"] {
        assert_near(&answer, edge, number(&other, edge), 0.05);
    }

    // Ten times as fast is another kind of welding: that coupon is set aside, and nothing is lost.
    stepped["coupons"][0]["speed_set"] = measured(30.0, "m/min");
    let kept = app.director().post("/v1/trials", &stepped).await.expect(201);
    assert_eq!(kept["coupons"][0]["set_aside"], "speed_too_far");
    assert_eq!(kept["speeds"]["set_aside"], 1);
    stepped["coupons"][0]["speed_set"] = measured(0.0, "m/min");
    let refused =
        app.director().post("/v1/calculations/trial", &stepped).await.problem(422, "invalid_record");
    refused.points_at(&[("/coupons/0/speed_set/value", "not_positive")]);
}
