//! Every operation of the contract, asked by the wrong caller: without a token, without its scope, for another
//! organization's things.
//!
//! The operations are read from `/openapi.json`; what is particular to each stands in [`entry`]. An operation without an
//! entry there fails these tests.

use base64::Engine as _;
use base64::prelude::BASE64_STANDARD;
use chrono::TimeDelta;
use lapwatch_api::model::{Role, Scope};
use lapwatch_api::routes::contract;
use lapwatch_tests::harness::{App, Caller, Organization, Problem, Reply, Shop, Trial, photo, sha256};
use reqwest::Method;
use serde_json::{Value, json};
use uuid::Uuid;

/// One operation of the contract.
#[derive(Debug, Clone)]
struct Operation {
    id: String,
    method: Method,
    path: String,
    scope: Option<String>,
}

/// What these tests have to know of an operation beyond the contract.
struct Entry {
    /// A body that it accepts, if it takes one.
    body: Option<Value>,
    /// The id of this organization that stands in its address, if one does; of bytes, of the record that they belong to.
    subject: Option<Uuid>,
    /// Members of the body that name something which must be there, and whose absence is reported there.
    names: &'static [&'static str],
}

/// An organization with one of everything that an operation can be about.
struct Place {
    shop: Shop,
    trial: Uuid,
    flag: Uuid,
    app: Uuid,
    exception: Uuid,
    fit: Uuid,
    shared_fit: Uuid,
    span: Uuid,
    /// An open trial, and its coupon.
    open: [Uuid; 2],
    /// The close of another one.
    close: Uuid,
    /// A trial that nothing else is about.
    spare: Uuid,
    /// Two held items: one is released, one discarded.
    held: [Uuid; 2],
    /// A photo of the trial. Its bytes are made of its id.
    photo: Uuid,
    /// Bytes that belong to nothing, likewise.
    loose: Uuid,
    /// Three uploads.
    uploads: [Uuid; 3],
}

fn exception_form(shop: &Shop) -> Value {
    json!({ "name": "Hall 3", "site_id": shop.site, "membrane_id": shop.membrane, "minimum_strips": 4 })
}

/// Who needs no token, and why.
const OPEN: [(&str, &str); 6] = [
    ("get_health", "a supervisor asks it"),
    ("get_readiness", "a load balancer asks it"),
    ("get_metrics", "it asks for the operator's token; `system` tests that"),
    ("get_problem_kind", "it describes the contract"),
    ("get_access_token", "it gives a token"),
    ("get_upload_protocol", "it says what is spoken"),
];

/// The example of a request that stands in the contract.
fn example(schema: &str) -> Value {
    let document: Value = serde_json::from_str(&contract::json()).expect("the contract is JSON");
    let example = document["components"]["schemas"][schema]["example"].clone();
    assert!(example.is_object(), "{schema} has no example");
    example
}

/// What is particular to each operation.
fn entry(operation: &str, place: &Place) -> Option<Entry> {
    let shop = place.shop;
    let plain = |body: Option<Value>| Some(Entry { body, subject: None, names: &[] });
    let about = |subject| Some(Entry { body: None, subject: Some(subject), names: &[] });
    let form = |body, names| Some(Entry { body: Some(body), subject: None, names });
    let version = |body, subject, names| Some(Entry { body: Some(body), subject: Some(subject), names });
    let at = "2026-06-10T11:00:00Z";
    match operation {
        "send_trial" => form(
            Trial::good_sweep(&shop, lapwatch_tests::harness::an_ordinary_noon())
                .member("crew_id", json!(shop.crew))
                .json(),
            &[
                "/unit_id",
                "/crew_id",
                "/upper_sheet/membrane_id",
                "/lower_sheet/membrane_id",
                "/upper_sheet/lot_id",
            ],
        ),
        "evaluate_trial" => entry("send_trial", place),
        "carry_temperatures" => plain(Some(example("CarryQuestion"))),
        "find_supply" => plain(Some(example("SupplyQuestion"))),
        "find_dew_point" => plain(Some(example("DewPointQuestion"))),
        "read_peel_trace" => plain(Some(example("PeelQuestion"))),
        "chart_series" => plain(Some(example("SeriesQuestion"))),
        "compare_readers" => plain(Some(example("ReaderQuestion"))),
        "get_trial" | "get_trial_peel" => about(place.trial),
        "send_open_trial" => {
            let (header, ..) = Trial::good_sweep(&shop, lapwatch_tests::harness::an_ordinary_noon())
                .member("crew_id", json!(shop.crew))
                .pieces();
            form(header, &["/unit_id", "/crew_id", "/upper_sheet/membrane_id", "/lower_sheet/lot_id"])
        }
        "send_coupon" => form(
            json!({ "schema": "coupon/1", "id": Uuid::now_v7(), "open_trial_id": place.open[0], "recorded_at": at,
                "set_temperature": { "value": 440, "unit": "Cel" }, "specimens": [{ "mode": "film_tear" }] }),
            &["/open_trial_id"],
        ),
        "preview_import" | "import_trials" => plain(Some(json!({ "sheet": "coupon\n" }))),
        "send_trial_close" => form(
            json!({ "id": Uuid::now_v7(), "open_trial_id": place.open[0], "trial_id": Uuid::now_v7(),
                "recorded_at": at, "coupon_ids": [place.open[1]] }),
            &["/open_trial_id", "/coupon_ids/0"],
        ),
        "send_photo" => form(
            json!({ "id": Uuid::now_v7(), "subject_id": place.trial, "sha256": sha256(b"strip"), "taken_at": at }),
            &["/subject_id"],
        ),
        // Everybody may send any photo; it is one's own.
        "put_photo_content" | "begin_upload" => plain(None),
        "list_photos" => plain(None),
        "get_photo" | "get_photo_content" | "get_photo_rendition" => about(place.photo),
        "discard_photo_content" => about(place.loose),
        "get_upload_offset" => about(place.uploads[0]),
        "send_upload_bytes" => about(place.uploads[1]),
        "abandon_upload" => about(place.uploads[2]),
        "get_record" => about(place.span),
        "get_open_trial" => about(place.open[0]),
        "get_coupon" => about(place.open[1]),
        "get_trial_close" => about(place.close),
        "send_second_reading" => form(
            json!({ "id": Uuid::now_v7(), "trial_id": place.trial, "read_by": "Reed", "read_at": at,
                "coupons": [["cold", "cold", null], ["cold", "cold", "cold"], ["cold", "cold", "sound"]] }),
            &["/trial_id"],
        ),
        "list_trials"
        | "list_open_trials"
        | "get_import_template"
        | "export_trials"
        | "export_histories"
        | "export_rechecks"
        | "list_second_readings"
        | "list_reader_agreement"
        | "list_held_items"
        | "get_envelope_limits"
        | "get_photo_limits"
        | "list_unclaimed_contents"
        | "list_uploads"
        | "get_fleet"
        | "list_flags"
        | "list_rechecks"
        | "list_service_events"
        | "list_day_plans"
        | "list_day_events"
        | "list_seam_checks"
        | "list_retractions"
        | "list_production_spans"
        | "list_decisions"
        | "list_sites"
        | "list_crews"
        | "list_membranes"
        | "list_lots"
        | "list_units"
        | "list_criteria_exceptions"
        | "list_fleet_fits"
        | "make_fleet_fit"
        | "list_shared_fits"
        | "list_shared_decisions"
        | "make_shared_fit"
        | "get_criteria"
        | "get_policy"
        | "list_people"
        | "list_apps"
        | "list_changes"
        | "follow_changes"
        | "get_device_snapshot" => plain(None),
        "get_history" | "get_standing" | "get_unit" => about(shop.unit),
        "get_starting_steps" => version(
            json!({
                "upper_membrane_id": shop.membrane, "lower_membrane_id": shop.membrane, "purpose": "confirmation",
                "speed_set": { "value": 3, "unit": "m/min" }, "sheet_temperature": { "value": 20, "unit": "Cel" },
            }),
            shop.unit,
            &["/upper_membrane_id", "/lower_membrane_id"],
        ),
        "get_flag" => about(place.flag),
        "send_envelope" => plain(Some(json!([]))),
        "check_digests" => plain(Some(example("DigestQuestion"))),
        "get_held_item" | "get_held_content" => about(place.held[0]),
        "release_held_item" => version(
            json!({
                "patch": [{ "op": "replace", "path": "/kind", "value": "inspection" }],
                "reason": "Read to me on the telephone.",
            }),
            place.held[0],
            &[],
        ),
        "discard_held_item" => version(json!({ "reason": "A test." }), place.held[1], &[]),
        "get_fleet_fit" => about(place.fit),
        "get_shared_fit" => about(place.shared_fit),
        "get_site" => about(shop.site),
        "get_crew" => about(shop.crew),
        "get_membrane" => about(shop.membrane),
        "get_lot" => about(shop.lot),
        "get_criteria_exception" => about(place.exception),
        "revoke_app" => about(place.app),
        "add_site" => plain(Some(shop.site_form())),
        "add_crew" => form(shop.crew_form(), &["/site_id"]),
        "add_membrane" => plain(Some(shop.membrane_form())),
        "add_lot" => form(shop.lot_form(), &["/membrane_id"]),
        "add_criteria_exception" => form(exception_form(&shop), &["/site_id", "/membrane_id"]),
        "change_criteria_exception" => {
            version(exception_form(&shop), place.exception, &["/site_id", "/membrane_id"])
        }
        "add_unit" => form(shop.unit_form(), &["/crew_id"]),
        "change_site" => version(shop.site_form(), shop.site, &[]),
        "change_crew" => version(shop.crew_form(), shop.crew, &["/site_id"]),
        "change_membrane" => version(shop.membrane_form(), shop.membrane, &[]),
        "change_lot" => version(shop.lot_form(), shop.lot, &["/membrane_id"]),
        "change_unit" => version(shop.unit_form(), shop.unit, &["/crew_id"]),
        "put_criteria" => plain(Some(json!({
            "bond_width_automatic": { "value": 38, "unit": "mm" }, "bond_width_hand": { "value": 50, "unit": "mm" },
            "minimum_strips": 3, "share_limit": 0.1, "cold_weight": 1, "hot_weight": 1,
        }))),
        "put_policy" => plain(Some(json!({
            "working_days": [1, 2, 3, 4, 5], "shift_start": "07:00:00", "trial_due_after_min": 120, "in_use_days": 7,
            "edge_finding_interval_days": 14, "promise_arl_trials": 500,
        }))),
        "ask_what_if" => plain(Some(json!({ "sheet_temperature_change": { "value": -15, "unit": "K" } }))),
        "preview_policy" => plain(Some(json!({
            "policy": {
                "working_days": [1, 2, 3, 4, 5], "shift_start": "07:00:00", "trial_due_after_min": 120, "in_use_days": 7,
                "edge_finding_interval_days": 14, "promise_arl_trials": 500,
            },
            "from": "2026-06-01T00:00:00Z", "to": "2026-06-02T00:00:00Z",
        }))),
        "send_service_event" => form(
            json!({ "id": Uuid::now_v7(), "unit_id": shop.unit, "performed_at": at, "kind": "inspection", "affects_heat": false }),
            &["/unit_id"],
        ),
        "send_day_plan" => form(
            json!({ "id": Uuid::now_v7(), "crew_id": shop.crew, "date": "2026-06-10", "welding": true, "unit_ids": [shop.unit] }),
            &["/crew_id", "/unit_ids/0"],
        ),
        "send_production_span" => form(
            json!({
                "id": Uuid::now_v7(), "unit_id": shop.unit, "crew_id": shop.crew, "from": at, "to": at,
                "place": "Hall 3", "membrane_id": shop.membrane, "lot_id": shop.lot,
            }),
            &["/unit_id", "/crew_id", "/membrane_id", "/lot_id"],
        ),
        "send_day_event" => form(
            json!({
                "id": Uuid::now_v7(), "crew_id": shop.crew, "unit_id": shop.unit, "at": at, "kind": "sheet_changed",
                "membrane_id": shop.membrane, "lot_id": shop.lot,
            }),
            &["/crew_id", "/unit_id", "/membrane_id", "/lot_id"],
        ),
        "send_seam_check" => form(
            json!({
                "id": Uuid::now_v7(), "span_id": place.span, "unit_id": shop.unit, "at": at, "method": "probe",
                "result": "sound",
            }),
            &["/span_id", "/unit_id"],
        ),
        "send_retraction" => form(
            json!({ "id": Uuid::now_v7(), "record_id": place.spare, "at": at, "reason": "A test." }),
            &["/record_id"],
        ),
        "send_shared_decision" => form(
            json!({ "id": Uuid::now_v7(), "kind": "acknowledge", "lot_id": shop.lot, "at": at }),
            &["/lot_id"],
        ),
        "send_decision" => form(
            json!({ "id": Uuid::now_v7(), "kind": "acknowledge", "unit_id": shop.unit, "at": at }),
            &["/unit_id"],
        ),
        "add_person" => form(
            json!({
                "sign_in": format!("{}@saltmarsh.example", Uuid::new_v4().simple()), "name": "Kit Rushes", "role": "lead",
                "crew_id": shop.crew, "password": "samphire and sea lavender",
            }),
            &["/crew_id"],
        ),
        "add_app" => {
            form(json!({ "name": "Diary", "scopes": ["trials:read"], "crew_id": shop.crew }), &["/crew_id"])
        }
        _ => None,
    }
}

/// The operations of the running service's own contract.
async fn operations(app: &App) -> Vec<Operation> {
    let document = app.anybody().get("/openapi.json").await.expect(200);
    let mut operations = Vec::new();
    for (path, item) in document["paths"].as_object().expect("the contract has paths") {
        for (method, operation) in item.as_object().expect("a path has methods") {
            let scope = operation["security"][0]["bearer"][0].as_str().map(str::to_owned);
            operations.push(Operation {
                id: operation["operationId"].as_str().expect("an operation has an id").to_owned(),
                method: method.to_uppercase().parse().expect("a method"),
                path: path.clone(),
                scope,
            });
        }
    }
    operations
}

/// The operations that need a token, with their entries.
async fn guarded(app: &App, place: &Place) -> Vec<(Operation, Entry)> {
    let operations = operations(app).await;
    for (id, why) in OPEN {
        let listed = operations.iter().find(|operation| operation.id == id);
        let listed = listed.unwrap_or_else(|| panic!("{id} is gone; it was open because {why}"));
        assert_eq!(listed.scope, None, "{id} is listed as open");
    }
    operations
        .into_iter()
        .filter(|operation| !OPEN.iter().any(|(id, _)| *id == operation.id))
        .map(|operation| {
            let entry = entry(&operation.id, place);
            let entry = entry.unwrap_or_else(|| panic!("{} has no entry in these tests", operation.id));
            (operation, entry)
        })
        .collect()
}

/// Fills a place: a unit with a failed trial, so that there is a flag, and an app.
async fn furnish(app: &App, organization: &Organization) -> Place {
    let director = app.director_of(organization);
    let shop = Shop::open(&director).await;
    let failed = Trial::confirmation(&shop, app.now(), ["ccc", "ccc", "ccc"]).json();
    let answer = director.post("/v1/trials", &failed).await.expect(201);
    let body = json!({ "name": "Diary", "scopes": ["trials:read"] });
    let added = director.post("/v1/apps", &body).await.expect(201);
    let exception = director.post("/v1/criteria-exceptions", &exception_form(&shop)).await.expect(201);
    let fit = director.send(Method::POST, "/v1/fleet-fits").await.expect(201);
    let shared_fit = director.send(Method::POST, "/v1/shared-fits").await.expect(201);
    let spare = Trial::good_sweep(&shop, app.now() - TimeDelta::days(1)).json();
    director.post("/v1/trials", &spare).await.expect(201);
    let mut open = [Uuid::nil(); 2];
    let mut closed = Uuid::nil();
    for step in [1, 2] {
        let trial = Trial::good_sweep(&shop, app.now() - TimeDelta::days(1 + step));
        let (header, coupons, close) = trial.pieces();
        director.post("/v1/open-trials", &header).await.expect(201);
        for coupon in &coupons {
            director.post("/v1/coupons", coupon).await.expect(201);
        }
        let uuid = |value: &Value| value.as_str().and_then(|id| id.parse().ok()).expect("an id");
        if step == 1 {
            open = [uuid(&header["id"]), uuid(&coupons[0]["id"])];
        } else {
            director.post("/v1/trial-closes", &close).await.expect(201);
            closed = uuid(&close["id"]);
        }
    }
    let span = json!({
        "id": Uuid::now_v7(), "unit_id": shop.unit, "from": app.now(), "to": app.now(), "place": "Hall 3",
    });
    director.post("/v1/production-spans", &span).await.expect(201);
    let items = [0, 1].map(|_| {
        json!({ "schema": "service_event/1", "id": Uuid::now_v7(), "unit_id": shop.unit, "performed_at": app.now(),
                "kind": "looked_at", "affects_heat": false })
    });
    let held = director.post("/v1/envelopes", &json!(items)).await.expect(200);
    let id = |value: &Value| value.as_str().and_then(|id| id.parse().ok()).expect("an id");
    let trial = id(&answer["trial"]["id"]);
    let (told, loose) = (Uuid::now_v7(), Uuid::now_v7());
    let record = json!({
        "id": told, "subject_id": trial, "sha256": sha256(&picture(told)), "taken_at": app.now(),
    });
    director.post("/v1/photos", &record).await.expect(201);
    for bytes in [told, loose].map(picture) {
        let path = format!("/v1/photo-contents/{}", sha256(&bytes));
        Reply::of(director.request(Method::PUT, &path).body(bytes)).await.expect(201);
    }
    let mut uploads = [Uuid::nil(); 3];
    for upload in &mut uploads {
        let metadata = format!("sha256 {}", BASE64_STANDARD.encode(sha256(b"strip")));
        let request = director.request(Method::POST, "/v1/uploads").header("Tus-Resumable", "1.0.0");
        let begun = Reply::of(request.header("Upload-Length", 5).header("Upload-Metadata", metadata)).await;
        let place = begun.header("location").rsplit('/').next().and_then(|id| id.parse().ok());
        *upload = place.expect("its address ends in its id");
    }
    Place {
        shop,
        photo: told,
        loose,
        uploads,
        trial: id(&answer["trial"]["id"]),
        flag: id(&answer["flags"][0]["id"]),
        app: id(&added["app"]["id"]),
        exception: id(&exception["id"]),
        fit: id(&fit["id"]),
        shared_fit: id(&shared_fit["fit"]["id"]),
        span: id(&span["id"]),
        open,
        close: closed,
        spare: id(&spare["id"]),
        held: [0, 1].map(|index| id(&held["results"][index]["custody_id"])),
    }
}

/// A picture that is made of an id.
fn picture(id: Uuid) -> Vec<u8> {
    let bytes = id.into_bytes();
    photo(bytes[13], 8 + u32::from(bytes[14]), 8 + u32::from(bytes[15]))
}

async fn ask(
    caller: &Caller<'_>,
    operation: &Operation,
    subject: Option<Uuid>,
    body: Option<&Value>,
) -> Reply {
    let path = match subject {
        Some(id) => {
            operation.path.replace("{id}", &id.to_string()).replace("{sha256}", &sha256(&picture(id)))
        }
        None if operation.id == "put_photo_content" => {
            operation.path.replace("{sha256}", &sha256(&picture(Uuid::nil())))
        }
        None if operation.id == "list_photos" => format!("{}?trial_id={}", operation.path, Uuid::now_v7()),
        None => operation.path.clone(),
    };
    assert!(!path.contains('{'), "{}: {path} needs a subject", operation.id);
    // A stream that ends after what is there already.
    let path = if operation.id == "follow_changes" { format!("{path}?for_seconds=0") } else { path };
    let request = caller.request(operation.method.clone(), &path);
    let metadata = format!("sha256 {}", BASE64_STANDARD.encode(sha256(b"strip")));
    let request = match operation.id.as_str() {
        "put_photo_content" => Some(request.body(picture(Uuid::nil()))),
        "begin_upload" => Some(request.header("Upload-Length", 5).header("Upload-Metadata", metadata)),
        "get_upload_offset" | "abandon_upload" => Some(request),
        "send_upload_bytes" => {
            let media_type = "application/offset+octet-stream";
            Some(request.header("Upload-Offset", 0).header("Content-Type", media_type).body("x"))
        }
        _ => None,
    };
    if let Some(request) = request {
        return Reply::of(request.header("Tus-Resumable", "1.0.0")).await;
    }
    match body {
        Some(body) => caller.send_json(operation.method.clone(), &path, body).await,
        None => caller.send(operation.method.clone(), &path).await,
    }
}

/// First what is expected of a caller who may: otherwise the refusals below would prove nothing.
#[tokio::test]
async fn the_right_caller_is_served_by_every_operation() {
    // Where nothing is kept against its will.
    let app = App::start_with(|settings| settings.photos.keep_days = 0).await;
    let place = furnish(&app, &app.organization).await;
    for (operation, entry) in guarded(&app, &place).await {
        let scope = operation.scope.as_deref().unwrap_or_else(|| panic!("{} names no scope", operation.id));
        // Who adds somebody must be able to do what they will be able to do.
        let given: Vec<&str> = match operation.id.as_str() {
            "add_app" => vec!["trials:read"],
            // It shows more than units.
            "get_device_snapshot" => vec!["rechecks:read", "configuration:read"],
            // What is asked for is a production span.
            "get_record" => vec!["plans:read"],
            // What is released is a service event.
            "release_held_item" => vec!["units:write"],
            "add_person" => Role::Lead.scopes().into_iter().map(Scope::code).collect(),
            _ => Vec::new(),
        };
        let caller = app.app(&[given, vec![scope]].concat()).await;
        let reply = ask(&caller, &operation, entry.subject, entry.body.as_ref()).await;
        assert!(reply.status.is_success(), "{}: {}", operation.id, reply.text());
    }
}

#[tokio::test]
async fn nothing_is_served_without_a_token() {
    let app = App::start().await;
    let place = furnish(&app, &app.organization).await;
    let mut bodies = Vec::new();
    for (operation, entry) in guarded(&app, &place).await {
        let reply = ask(&app.anybody(), &operation, entry.subject, entry.body.as_ref()).await;
        if operation.method == Method::HEAD {
            reply.expect_status(401);
            continue;
        }
        let problem = reply.problem(401, "unauthenticated");
        assert_eq!(reply.header("www-authenticate"), "Bearer", "{}", operation.id);
        bodies.push(problem.without_request_id());
    }
    bodies.dedup();
    assert_eq!(bodies.len(), 1, "all refusals are alike");
}

#[tokio::test]
async fn nothing_is_served_without_its_scope() {
    let app = App::start().await;
    let place = furnish(&app, &app.organization).await;
    for (operation, entry) in guarded(&app, &place).await {
        let needed = operation.scope.as_deref().expect("a guarded operation names its scope");
        let others: Vec<&str> =
            Scope::ALL.iter().map(|scope| scope.code()).filter(|code| *code != needed).collect();
        let caller = app.app(&others).await;
        let reply = ask(&caller, &operation, entry.subject, entry.body.as_ref()).await;
        if operation.method == Method::HEAD {
            reply.expect_status(403);
            continue;
        }
        reply.problem(403, "forbidden").advises(needed);
    }
}

/// Another organization's thing answers exactly like a thing that does not exist.
#[tokio::test]
async fn a_foreign_subject_looks_like_a_missing_one() {
    let app = App::start().await;
    let neighbours = app.found("Dunlin Roofing").await;
    let here = furnish(&app, &app.organization).await;
    let there = furnish(&app, &neighbours).await;
    let mut checked = 0;
    for ((operation, ours), (_, theirs)) in
        guarded(&app, &here).await.into_iter().zip(guarded(&app, &there).await)
    {
        let Some(foreign) = theirs.subject else {
            // Whoever sends the same bytes keeps them as their own.
            let own = operation.id == "put_photo_content";
            assert!(
                own || !operation.path.contains('{'),
                "{} has a subject and no entry for it",
                operation.id
            );
            continue;
        };
        // The body is ours, without the id that the address gives.
        let body = ours.body.map(|mut body| {
            body.as_object_mut().expect("a body is an object").remove("id");
            body
        });
        let caller = app.director();
        if operation.method == Method::HEAD {
            for id in [foreign, Uuid::now_v7()] {
                ask(&caller, &operation, Some(id), None).await.expect_status(404);
            }
            continue;
        }
        let ask_for = async |id| -> Problem {
            ask(&caller, &operation, Some(id), body.as_ref()).await.problem(404, "not_found")
        };
        let (foreign, missing) = (ask_for(foreign).await, ask_for(Uuid::now_v7()).await);
        assert_eq!(foreign.without_request_id(), missing.without_request_id(), "{}", operation.id);
        checked += 1;
    }
    assert!(checked >= 15, "only {checked} operations have a subject");
    // And theirs is untouched.
    let answer = app.director_of(&neighbours).get(&format!("/v1/trials/{}", there.trial)).await.expect(200);
    assert_eq!(answer["answer"]["trial"]["unit_id"], there.shop.unit.to_string());
    let apps = app.director_of(&neighbours).get("/v1/apps").await.expect(200);
    assert_eq!(apps["items"][0]["revoked_at"], Value::Null);
}

/// A record that names another organization's thing is refused like one that names nothing.
#[tokio::test]
async fn a_foreign_id_in_a_record_looks_like_a_missing_one() {
    let app = App::start().await;
    let neighbours = app.found("Dunlin Roofing").await;
    let here = furnish(&app, &app.organization).await;
    let there = furnish(&app, &neighbours).await;
    let caller = app.director();
    for ((operation, ours), (_, theirs)) in
        guarded(&app, &here).await.into_iter().zip(guarded(&app, &there).await)
    {
        for pointer in ours.names {
            let (Some(body), Some(their_body)) = (&ours.body, &theirs.body) else {
                panic!("{} names {pointer} and has no body", operation.id)
            };
            let foreign =
                their_body.pointer(pointer).unwrap_or_else(|| panic!("no {pointer} in {their_body}"));
            let mut answers = Vec::new();
            for id in [foreign.clone(), json!(Uuid::now_v7())] {
                let mut body = body.clone();
                *body.pointer_mut(pointer).expect("it has the same members") = id.clone();
                let reply = ask(&caller, &operation, ours.subject, Some(&body)).await;
                let problem = reply.problem(422, "invalid_record");
                let found = problem.findings();
                assert!(
                    found.contains(&((*pointer).to_owned(), "unknown_id".to_owned())),
                    "{}: {found:?}",
                    operation.id
                );
                let text = problem.without_request_id().to_string();
                answers.push(text.replace(id.as_str().expect("an id"), "the id"));
            }
            assert_eq!(answers[0], answers[1], "{} {pointer}", operation.id);
        }
    }
}

/// Lists, boards and filters show one's own.
#[tokio::test]
async fn lists_hold_nothing_of_other_organizations() {
    let app = App::start().await;
    let neighbours = app.found("Dunlin Roofing").await;
    let there = furnish(&app, &neighbours).await;
    let here = furnish(&app, &app.organization).await;
    let foreign =
        [there.shop.site, there.shop.crew, there.shop.membrane, there.shop.lot, there.shop.unit, there.trial];
    for (operation, entry) in guarded(&app, &here).await {
        if operation.method != Method::GET || entry.subject.is_some() {
            continue;
        }
        for query in
            [String::new(), format!("unit_id={}", there.shop.unit), format!("crew_id={}", there.shop.crew)]
        {
            let stream = operation.id == "follow_changes";
            let ends = if stream { "for_seconds=0&" } else { "" };
            let reply = app.director().get(&format!("{}?{ends}{query}", operation.path)).await;
            if [400, 404].contains(&reply.status.as_u16()) {
                // This list has no such filter, or knows of no such crew.
                continue;
            }
            reply.expect_status(200);
            let text = reply.text();
            for id in foreign {
                assert!(!text.contains(&id.to_string()), "{}{query} shows {id}: {text}", operation.path);
            }
        }
    }
}
