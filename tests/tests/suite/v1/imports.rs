//! `/v1/imports`: trials from spreadsheets.

use chrono::TimeDelta;
use lapwatch_tests::harness::{App, Shop, Trial};
use serde_json::{Value, json};

#[tokio::test]
async fn a_sheet_is_looked_at_and_then_taken_in_once() {
    let app = App::start().await;
    let director = app.director();
    Shop::open(&director).await;
    let reply = director.get("/v1/imports/template").await;
    reply.expect_status(200);
    let template = reply.text();
    let body = json!({ "sheet": template });
    let seen = director.post("/v1/imports/preview", &body).await.expect(200);
    assert_eq!(
        (&seen["problem_count"], &seen["imported"], &seen["results"]),
        (&json!(0), &json!(false), &json!([])),
        "{seen}"
    );
    let trial = &seen["trials"][0];
    assert_eq!((&trial["coupons"], &trial["strips"], &trial["known"]), (&json!(1), &json!(2), &json!(false)));
    assert_eq!(
        (&trial["first_line"], &trial["last_line"], &trial["performed_at"]),
        (&json!(2), &json!(3), &json!("2026-06-10T10:30:00Z"))
    );
    let path = format!("/v1/trials/{}", trial["id"].as_str().unwrap());
    director.get(&path).await.problem(404, "not_found");

    let imported = director.post("/v1/imports", &body).await.expect(200);
    assert_eq!((&imported["imported"], &imported["results"][0]["result"]), (&json!(true), &json!("created")));
    let kept = director.get(&path).await.expect(200);
    assert_eq!(kept["record"]["coupons"][0]["specimens"][0]["mode"], "interface_opened");
    let again = director.post("/v1/imports", &body).await.expect(200);
    assert_eq!(
        (&again["trials"][0]["known"], &again["results"][0]["result"]),
        (&json!(true), &json!("duplicate"))
    );
    // Corrected in the sheet: for a person to settle.
    let corrected = json!({ "sheet": template.replace("interface_opened", "film_tear") });
    let held = director.post("/v1/imports", &corrected).await.expect(200);
    assert_eq!(held["results"][0]["result"], "conflict");
}

#[tokio::test]
async fn a_sheet_with_problems_is_refused_or_held() {
    let app = App::start().await;
    let director = app.director();
    let shop = Shop::open(&director).await;
    let template = director.get("/v1/imports/template").await.text();
    let lines: Vec<&str> = template.lines().collect();
    let late = lines[1..]
        .iter()
        .map(|line| line.replace("07:30", "09:30").replace(",420,", ",42O,"))
        .collect::<Vec<_>>();
    let hot = lines[1..]
        .iter()
        .map(|line| line.replace("07:30", "08:30").replace(",420,", ",640,"))
        .collect::<Vec<_>>();
    let sheet = [lines.join("\n"), hot.join("\n"), late.join("\n")].join("\n");
    let refused = director.post("/v1/imports", &json!({ "sheet": sheet })).await.expect(200);
    assert_eq!((&refused["imported"], &refused["problem_count"]), (&json!(false), &json!(3)), "{refused}");
    let problems = refused["problems"].as_array().unwrap();
    let told: Vec<_> = problems
        .iter()
        .map(|problem| (problem["line"].as_u64().unwrap(), problem["code"].as_str().unwrap()))
        .collect();
    assert_eq!(told, [(6, "not_a_number"), (7, "not_a_number"), (4, "above_unit_maximum")]);
    assert_eq!(director.get("/v1/trials").await.expect(200)["items"], json!([]));

    // A line that is not told apart may be a strip of any trial.
    let torn = json!({ "sheet": sheet.replacen(",420,", ",4,20,", 1), "on_problem": "hold" });
    assert_eq!(director.post("/v1/imports", &torn).await.expect(200)["imported"], false);
    let held =
        director.post("/v1/imports", &json!({ "sheet": sheet, "on_problem": "hold" })).await.expect(200);
    let results: Vec<&Value> =
        held["results"].as_array().unwrap().iter().map(|result| &result["result"]).collect();
    assert_eq!(results, ["created", "quarantined", "quarantined"]);
    // Somebody corrects what was meant.
    let item = format!("/v1/custody/{}/release", held["results"][2]["custody_id"].as_str().unwrap());
    let patch = json!([{ "op": "replace", "path": "/coupons/0/set_temperature", "value": { "value": 420, "unit": "Cel" } }]);
    director.post(&item, &json!({ "patch": patch, "reason": "An O for a 0." })).await.expect(200);
    assert_eq!(director.get("/v1/trials").await.expect(200)["items"].as_array().unwrap().len(), 2);

    // A device sees to its own crew's.
    let other = shop.another_crew(&director).await;
    let theirs = app.app_of_crew(&["trials:write"], other.crew).await;
    let names = template.replace("Heron crew", "");
    let refused =
        theirs.post("/v1/imports", &json!({ "sheet": names.replace("SM-07", "") })).await.expect(200);
    assert_eq!(refused["imported"], false);
    let problem = director
        .post("/v1/imports", &json!({ "sheet": "x", "delimiter": "|" }))
        .await
        .problem(422, "invalid_record");
    assert_eq!(problem.findings(), [("/delimiter".to_owned(), "unknown_code".to_owned())]);
}

/// What was given out as a table comes in again elsewhere, and says the same.
#[tokio::test]
async fn an_exported_table_can_be_imported() {
    let (here, there) = (App::start().await, App::start().await);
    let shop = Shop::plan();
    for app in [&here, &there] {
        shop.add_to(&app.director()).await;
    }
    for day in 0..3 {
        let trial = Trial::good_sweep(&shop, here.now() - TimeDelta::days(day))
            .member("operator", json!("-Kit, \"the\" Rushes"))
            .member(
                "supply",
                json!({ "source": "generator", "voltage_loaded": { "value": 221, "unit": "V" } }),
            )
            .member("nozzle", json!({ "gap": { "value": 4, "unit": "mm" } }));
        here.director().post("/v1/trials", &trial.json()).await.expect(201);
    }
    for units in ["metric", "us"] {
        let table = here.director().get(&format!("/v1/exports/trials?units={units}")).await.text();
        let seen = there.director().post("/v1/imports/preview", &json!({ "sheet": table })).await.expect(200);
        assert_eq!((&seen["problems"], seen["trials"].as_array().unwrap().len()), (&json!([]), 3));
    }
    let table = here.director().get("/v1/exports/trials").await.text();
    let imported = there.director().post("/v1/imports", &json!({ "sheet": table })).await.expect(200);
    for trial in imported["trials"].as_array().unwrap() {
        let path = format!("/v1/trials/{}", trial["id"].as_str().unwrap());
        let (sent, read) =
            (here.director().get(&path).await.expect(200), there.director().get(&path).await.expect(200));
        for member in ["coupons", "edges", "band", "set_point", "evidence"] {
            assert_eq!(sent["answer"][member], read["answer"][member], "{member}");
        }
        for member in ["operator", "supply", "nozzle", "upper_sheet", "sheet_temperature", "performed_at"] {
            assert_eq!(sent["record"][member], read["record"][member], "{member}");
        }
    }
    let history =
        async |app: &App| app.director().get(&format!("/v1/units/{}/history", shop.unit)).await.expect(200);
    assert_eq!(history(&here).await, history(&there).await);
}
