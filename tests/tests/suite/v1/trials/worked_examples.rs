//! Worked examples, to the printed digits.
//!
//! The numbers were recomputed independently, by a program on SciPy that shares no code with this one: the same grid
//! (μ every 1 °C from 250 °C to the unit's maximum of 620 °C, 50 °C further for the upper edge; 31 points of ln σ), the
//! same 21 nodes of Gauss–Hermite quadrature, strips of one coupon correlated by ρ = 0.5.

use lapwatch_tests::harness::{App, Caller, Scale, Shop, Trial, number};
use serde_json::{Value, json};

/// Half a unit of the third decimal, in which the examples are printed.
const THIRD_DECIMAL: f64 = 0.0005;
/// Half a unit of the second decimal.
const SECOND_DECIMAL: f64 = 0.005;

/// Three strips a step: cold 3 1 0 0 0 0, hot 0 0 0 0 2 3.
fn both_edges(shop: &Shop, app: &App, scale: Scale) -> Value {
    Trial::sweep(shop, app.now())
        .on(scale)
        .coupon(380.0, "ccc")
        .coupon(420.0, "css")
        .coupon(460.0, "sss")
        .coupon(500.0, "sss")
        .coupon(540.0, "shh")
        .coupon(580.0, "hhh")
        .json()
}

#[track_caller]
fn assert_near(answer: &Value, tolerance: f64, expected: &[(&str, f64)]) {
    for (pointer, expected) in expected {
        let got = number(answer, pointer);
        assert!((got - expected).abs() <= tolerance, "{pointer}: {got}, expected {expected} ± {tolerance}");
    }
}

/// Sets what the organization decides about advice, for trials of all times.
async fn decide(director: &Caller<'_>, changes: &[(&str, Value)]) {
    let mut criteria = director.get("/v1/criteria").await.expect(200);
    criteria["effective_from"] = json!("2020-01-01T00:00:00Z");
    for (member, value) in changes {
        criteria[*member] = value.clone();
    }
    director.put("/v1/criteria", &criteria).await.expect(200);
}

#[tokio::test]
async fn both_edges_band_and_set_point() {
    let app = App::start().await;
    let shop = Shop::open(&app.director()).await;
    let answer =
        app.director().post("/v1/trials", &both_edges(&shop, &app, Scale::Celsius)).await.expect(201);

    assert_near(
        &answer,
        THIRD_DECIMAL,
        &[
            ("/edges/lower/mean", 413.635),
            ("/edges/lower/standard_deviation", 18.878),
            ("/edges/lower/interval/low", 370.0),
            ("/edges/lower/interval/high", 446.0),
            ("/edges/upper/mean", 536.955),
            ("/edges/upper/standard_deviation", 17.465),
            ("/edges/upper/interval/low", 503.0),
            ("/edges/upper/interval/high", 574.0),
            ("/set_point/computed", 475.157),
        ],
    );
    assert_near(&answer, SECOND_DECIMAL, &[("/band/low", 447.92), ("/band/high", 502.56)]);
    let shares = number(&answer, "/set_point/cold_share") + number(&answer, "/set_point/hot_share");
    assert!((shares - 0.05948).abs() <= 0.000_005, "summed share {shares}");
    for edge in ["lower", "upper"] {
        assert_eq!(answer["edges"][edge]["class"], "bracketed");
    }
    assert_eq!(answer["edges"]["lower"]["bracket"]["failing"]["value"], 420.0);
    assert_eq!(answer["edges"]["lower"]["bracket"]["clear"]["value"], 460.0);
    assert_eq!(answer["edges"]["upper"]["bracket"]["failing"]["value"], 540.0);
    assert_eq!(answer["edges"]["upper"]["bracket"]["clear"]["value"], 500.0);
    assert_eq!(answer["outcome"]["code"], "stands");
}

#[tokio::test]
async fn the_same_in_fahrenheit() {
    let app = App::start().await;
    let shop = Shop::open(&app.director()).await;
    let celsius =
        app.director().post("/v1/trials", &both_edges(&shop, &app, Scale::Celsius)).await.expect(201);
    let fahrenheit =
        app.director().post("/v1/trials", &both_edges(&shop, &app, Scale::Fahrenheit)).await.expect(201);
    let temperatures = [
        "/edges/lower/mean",
        "/edges/lower/interval/low",
        "/edges/lower/interval/median",
        "/edges/lower/interval/high",
        "/edges/upper/mean",
        "/band/low",
        "/band/high",
        "/set_point/computed",
    ];
    for pointer in temperatures {
        assert_eq!(fahrenheit.pointer(&format!("{pointer}/unit")), Some(&json!("[degF]")), "{pointer}");
        let converted = (number(&fahrenheit, pointer) - 32.0) * 5.0 / 9.0;
        assert_near(&celsius, 1e-6, &[(pointer, converted)]);
    }
    for pointer in ["/edges/lower/standard_deviation", "/edges/upper/standard_deviation"] {
        assert_eq!(fahrenheit.pointer(&format!("{pointer}/unit")), Some(&json!("[degR]")), "{pointer}");
        assert_near(&celsius, 1e-6, &[(pointer, number(&fahrenheit, pointer) * 5.0 / 9.0)]);
    }
    assert_eq!(celsius["outcome"]["code"], fahrenheit["outcome"]["code"]);
}

#[tokio::test]
async fn the_band_at_five_percent() {
    let app = App::start().await;
    let shop = Shop::open(&app.director()).await;
    decide(&app.director(), &[("share_limit", json!(0.05))]).await;
    let answer =
        app.director().post("/v1/trials", &both_edges(&shop, &app, Scale::Celsius)).await.expect(201);
    assert_near(&answer, SECOND_DECIMAL, &[("/band/low", 462.73), ("/band/high", 487.15)]);
    assert_eq!(answer["band"]["share_limit"], 0.05);
}

/// Weights push the set point to the ends of what is allowed, where the shares are printed too.
#[tokio::test]
async fn shares_at_the_outermost_all_sound_steps() {
    let app = App::start().await;
    let shop = Shop::open(&app.director()).await;
    let heaviest = json!(100);
    let lightest = json!(0.01);
    for (cold_weight, hot_weight, set_point, cold_share, hot_share) in
        [(&lightest, &heaviest, 460.0, 0.0566, 0.0169), (&heaviest, &lightest, 500.0, 0.0110, 0.0888)]
    {
        decide(&app.director(), &[("cold_weight", cold_weight.clone()), ("hot_weight", hot_weight.clone())])
            .await;
        let trial = both_edges(&shop, &app, Scale::Celsius);
        let answer = app.director().post("/v1/trials", &trial).await.expect(201);
        assert_near(&answer, THIRD_DECIMAL, &[("/set_point/computed", set_point)]);
        assert_near(
            &answer,
            0.000_05,
            &[("/set_point/cold_share", cold_share), ("/set_point/hot_share", hot_share)],
        );
        app.pass(chrono::TimeDelta::seconds(1));
    }
}

/// Every strip of two steps cold, none of the next two: separated data, for which maximum likelihood has no answer.
#[tokio::test]
async fn a_separated_lower_edge() {
    let app = App::start().await;
    let shop = Shop::open(&app.director()).await;
    let trial = Trial::sweep(&shop, app.now())
        .coupon(400.0, "ccc")
        .coupon(440.0, "ccc")
        .coupon(480.0, "sss")
        .coupon(520.0, "sss")
        .json();
    let answer = app.director().post("/v1/trials", &trial).await.expect(201);
    assert_near(
        &answer,
        THIRD_DECIMAL,
        &[
            ("/edges/lower/mean", 459.995),
            ("/edges/lower/standard_deviation", 15.690),
            ("/edges/lower/interval/low", 430.0),
            ("/edges/lower/interval/high", 490.0),
        ],
    );
    assert_eq!(answer["edges"]["upper"]["class"], "open_above");
}

/// No strip scorched: there is no estimate of the upper edge, only a bound, and no false certainty.
#[tokio::test]
async fn an_open_upper_edge() {
    let app = App::start().await;
    let shop = Shop::open(&app.director()).await;
    let trial = Trial::sweep(&shop, app.now())
        .coupon(460.0, "sss")
        .coupon(500.0, "sss")
        .coupon(540.0, "sss")
        .coupon(580.0, "sss")
        .json();
    let answer = app.director().post("/v1/trials", &trial).await.expect(201);
    let upper = &answer["edges"]["upper"];
    assert_eq!(upper["class"], "open_above");
    for absent in ["mean", "standard_deviation", "interval"] {
        assert_eq!(upper[absent], Value::Null, "{absent} of an open edge");
    }
    assert_near(&answer, THIRD_DECIMAL, &[("/edges/upper/bound", 568.998)]);
    let set_point = number(&answer, "/set_point/to_set");
    assert!(set_point < 580.0, "a reserve below the last step tried: {set_point}");
}
