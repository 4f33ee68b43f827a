//! `/v1/people`: who can sign in, and what their roles let them do.

use lapwatch_tests::harness::{App, Caller, Shop, Trial};
use serde_json::{Value, json};
use uuid::Uuid;

const PASSWORD: &str = "samphire and sea lavender";

fn person(name: &str, role: &str, crew: Option<Uuid>) -> Value {
    json!({ "sign_in": name, "name": "Kit Rushes", "role": role, "crew_id": crew, "password": PASSWORD })
}

/// Adds a person and signs in as that person.
async fn join<'a>(app: &'a App, role: &str, crew: Option<Uuid>) -> Caller<'a> {
    let name = format!("{role}@saltmarsh.example");
    app.director().post("/v1/people", &person(&name, role, crew)).await.expect(201);
    let body = json!({ "sign_in": name, "password": PASSWORD });
    let answer = app.anybody().post("/v1/access-tokens", &body).await.expect(200);
    app.bearer(answer["access_token"].as_str().expect("a token"))
}

#[tokio::test]
async fn roles_do_what_they_are_for_and_no_more() {
    let app = App::start().await;
    let ours = Shop::open(&app.director()).await;
    let theirs = ours.another_crew(&app.director()).await;

    let lead = join(&app, "lead", Some(ours.crew)).await;
    lead.post("/v1/trials", &Trial::good_sweep(&ours, app.now()).json()).await.expect(201);
    lead.post("/v1/trials", &Trial::good_sweep(&theirs, app.now()).json()).await.problem(403, "forbidden");
    lead.put(&format!("/v1/units/{}", ours.unit), &ours.unit_form()).await.problem(403, "forbidden");
    lead.post("/v1/apps", &json!({ "name": "x", "scopes": ["trials:read"] })).await.problem(403, "forbidden");

    let equipment = join(&app, "equipment", None).await;
    equipment.put(&format!("/v1/units/{}", ours.unit), &ours.unit_form()).await.expect(200);
    let criteria = equipment.get("/v1/criteria").await.expect(200);
    equipment.put("/v1/criteria", &criteria).await.problem(403, "forbidden").advises("configuration:write");
    equipment.get("/v1/people").await.problem(403, "forbidden");

    let people = app.director().get("/v1/people").await.expect(200);
    let roles: Vec<&str> =
        people["items"].as_array().unwrap().iter().filter_map(|p| p["role"].as_str()).collect();
    assert_eq!(roles.len(), 3, "{people}");
    assert!(!people.to_string().contains("argon2"), "{people}");
}

/// Sign-in names are unique over the whole service, whatever their case; another organization learns no more.
#[tokio::test]
async fn a_name_is_taken_once() {
    let app = App::start().await;
    let neighbours = app.found("Dunlin Roofing").await;
    app.director().post("/v1/people", &person("kit@saltmarsh.example", "equipment", None)).await.expect(201);
    for caller in [app.director(), app.director_of(&neighbours)] {
        let again = person("KIT@saltmarsh.example ", "equipment", None);
        caller.post("/v1/people", &again).await.problem(409, "taken").advises("Choose another sign-in name");
    }
    let theirs = app.director_of(&neighbours).get("/v1/people").await.expect(200);
    assert_eq!(theirs["items"].as_array().unwrap().len(), 1, "{theirs}");
}

#[tokio::test]
async fn what_is_wrong_with_a_person_is_named() {
    let app = App::start().await;
    let director = app.director();
    let cases = [
        ("role", json!("boss"), "/role", "unknown_code"),
        ("role", json!("lead"), "/crew_id", "required"),
        ("password", json!("short"), "/password", "too_short"),
        ("sign_in", json!("  a "), "/sign_in", "wrong_length"),
        ("crew_id", json!(Uuid::now_v7()), "/crew_id", "unknown_id"),
        ("admin", json!(true), "/admin", "unknown_field"),
    ];
    for (member, value, pointer, code) in cases {
        let mut body = person("kit@saltmarsh.example", "equipment", None);
        body[member] = value;
        let problem = director.post("/v1/people", &body).await.problem(422, "invalid_record");
        problem.points_at(&[(pointer, code)]);
    }
    // None of these took the name.
    director.post("/v1/people", &person("kit@saltmarsh.example", "equipment", None)).await.expect(201);
}

/// Nobody adds a person who can do more than they can themselves.
#[tokio::test]
async fn power_is_not_given_away() {
    let app = App::start().await;
    let ours = Shop::open(&app.director()).await;
    let theirs = ours.another_crew(&app.director()).await;
    let keeper = app.app(&["access:write", "access:read"]).await;
    let director = person("new@saltmarsh.example", "director", None);
    keeper.post("/v1/people", &director).await.problem(403, "forbidden");
    let scopes = [
        "access:write",
        "trials:read",
        "trials:write",
        "units:read",
        "rechecks:read",
        "plans:read",
        "plans:write",
        "configuration:read",
    ];
    let bound = app.app_of_crew(&scopes, ours.crew).await;
    let lead = |crew| person("lead@saltmarsh.example", "lead", Some(crew));
    bound.post("/v1/people", &lead(theirs.crew)).await.problem(403, "forbidden");
    bound.post("/v1/people", &lead(ours.crew)).await.expect(201);
}
