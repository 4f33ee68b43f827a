//! The contract: collected from the registrations, completed with what every operation has in common.

use std::sync::OnceLock;

use actix_web::App;
use actix_web::dev::ResourceDef;
use utoipa::openapi::path::{HttpMethod, Operation, ParameterIn, PathItem};
use utoipa::openapi::schema::{ArrayItems, Components, Schema};
use utoipa::openapi::security::{Http, HttpAuthScheme, SecurityScheme};
use utoipa::openapi::{Content, OpenApi, Ref, RefOr, Response, ResponseBuilder};
use utoipa::{OpenApi as _, ToSchema};
use utoipa_actix_web::AppExt;

use crate::problem::{Code, ProblemBody, ProblemItem};

#[derive(utoipa::OpenApi)]
#[openapi(
    info(
        title = "Lapwatch",
        description = "Trials of hot-air welders: bands, set points, histories, drift, rechecks.\n\n\
            Measurements are numbers with UCUM units. Errors are problem details (RFC 9457) with a stable `code` and \
            JSON Pointers. Records carry ids of their clients: sending one again is harmless. Enumerated strings may \
            grow: treat a value that you do not know as its kind's most cautious one.\n\n\
            Lapwatch advises. The membrane maker's instructions, the project specification, local codes and the \
            qualified person on site decide.",
        license(name = "MIT OR Apache-2.0", identifier = "MIT OR Apache-2.0"),
    ),
    tags(
        (name = "trials", description = "Send a trial, read its answer."),
        (name = "calculations", description = "Calculators: a question in, an answer out, nothing stored."),
        (name = "custody", description = "Envelopes of many records, and what of them could not be accepted."),
        (name = "fleet", description = "Where units stand: histories, flags, rechecks."),
        (name = "imports", description = "Trials from spreadsheets."),
        (name = "exports", description = "Trials, histories and rechecks as tables."),
        (name = "feed", description = "What happened since: the change feed, and what a phone needs."),
        (name = "photos", description = "Photos of what records tell of, whole or in parts."),
        (name = "records", description = "Service events, day plans, production spans, decisions."),
        (name = "configuration", description = "Sites, crews, membranes, lots, units, criteria, policy: in versions."),
        (name = "access", description = "People, apps and their tokens."),
        (name = "system", description = "Health, metrics, kinds of problems."),
    ),
    servers((url = "/", description = "This service.")),
    components(schemas(ProblemBody, ProblemItem)),
)]
struct Base;

/// The OpenAPI 3.1 document of this program.
pub fn document() -> &'static OpenApi {
    static DOCUMENT: OnceLock<OpenApi> = OnceLock::new();
    DOCUMENT.get_or_init(|| {
        let (_, mut document) = App::new()
            .into_utoipa_app()
            .openapi(Base::openapi())
            .configure(super::register)
            .split_for_parts();
        let components = document.components.get_or_insert_default();
        let bearer = Http::builder().scheme(HttpAuthScheme::Bearer).bearer_format("JWT");
        let about = "An access token of a person (`POST /v1/access-tokens`) or of an app (`POST /v1/apps`).";
        components
            .add_security_scheme("bearer", SecurityScheme::Http(bearer.description(Some(about)).build()));
        let operator =
            Http::builder().scheme(HttpAuthScheme::Bearer).description(Some("The operator's token."));
        components.add_security_scheme("operator", SecurityScheme::Http(operator.build()));
        name_items_of_pages(components);
        for item in document.paths.paths.values_mut() {
            for (_, operation) in operations_mut(item) {
                complete(operation);
            }
        }
        document
    })
}

/// The document as it is committed: pretty JSON with a final line feed.
pub fn json() -> String {
    let mut json = document().to_pretty_json().expect("an OpenAPI document serializes");
    json.push('\n');
    json
}

/// `Page_X` has its items as a reference to `X`, not as a copy of it: a generated client gets one class for both.
fn name_items_of_pages(components: &mut Components) {
    for (name, schema) in &mut components.schemas {
        let (Some(item), RefOr::T(Schema::Object(page))) = (name.strip_prefix("Page_"), schema) else {
            continue;
        };
        let Some(RefOr::T(Schema::Array(items))) = page.properties.get_mut("items") else { continue };
        items.items = ArrayItems::RefOrSchema(Box::new(RefOr::Ref(Ref::from_schema_name(item))));
    }
}

/// Says of an operation without security that it needs none, and adds the problems that any operation of its form can
/// answer.
fn complete(operation: &mut Operation) {
    let secured = !operation.security.get_or_insert_default().is_empty();
    let parameters = operation.parameters.iter().flatten().filter_map(|parameter| match parameter {
        RefOr::T(parameter) => Some(parameter),
        RefOr::Ref(_) => None,
    });
    let has_path = parameters.clone().any(|parameter| parameter.parameter_in == ParameterIn::Path);
    let has = |header: &str| parameters.clone().any(|parameter| parameter.name == header);
    let mut codes = vec![Code::Internal];
    if secured {
        codes.extend([Code::Unauthenticated, Code::Forbidden, Code::Unavailable]);
    }
    if has_path {
        codes.push(Code::NotFound);
    }
    if operation.parameters.is_some() {
        codes.push(Code::BadRequest);
    }
    if has("If-Match") {
        codes.push(Code::Stale);
    }
    if has("Tus-Resumable") {
        codes.push(Code::UploadVersion);
    }
    if operation.request_body.is_some() {
        codes.extend([
            Code::BadRequest,
            Code::Conflict,
            Code::TooLarge,
            Code::UnsupportedMediaType,
            Code::InvalidRecord,
        ]);
        if !secured {
            codes.extend([Code::SignInRefused, Code::TooManyRequests, Code::Unavailable]);
        }
    }
    for code in codes {
        let status = code.status().as_str().to_owned();
        operation.responses.responses.entry(status).or_insert_with(|| RefOr::T(problem(code)));
    }
}

fn problem(code: Code) -> Response {
    let schema = Ref::from_schema_name(ProblemBody::name());
    ResponseBuilder::new()
        .description(code.title())
        .content("application/problem+json", Content::new(Some(RefOr::<Schema>::Ref(schema))))
        .build()
}

fn operations_mut(item: &mut PathItem) -> impl Iterator<Item = (HttpMethod, &mut Operation)> {
    [
        (HttpMethod::Get, item.get.as_mut()),
        (HttpMethod::Put, item.put.as_mut()),
        (HttpMethod::Post, item.post.as_mut()),
        (HttpMethod::Delete, item.delete.as_mut()),
        (HttpMethod::Patch, item.patch.as_mut()),
        (HttpMethod::Head, item.head.as_mut()),
        (HttpMethod::Options, item.options.as_mut()),
    ]
    .into_iter()
    .filter_map(|(method, operation)| operation.map(|operation| (method, operation)))
}

/// Methods that the contract has for a path, upper case; empty when it has no such path. actix-web answers 404 where a
/// path exists and the method does not: this tells the two apart.
pub fn methods(path: &str) -> Vec<String> {
    static PATHS: OnceLock<Vec<(ResourceDef, Vec<String>)>> = OnceLock::new();
    let paths = PATHS.get_or_init(|| {
        document()
            .paths
            .paths
            .iter()
            .map(|(path, item)| {
                let present = [
                    ("GET", item.get.is_some()),
                    ("PUT", item.put.is_some()),
                    ("POST", item.post.is_some()),
                    ("DELETE", item.delete.is_some()),
                    ("PATCH", item.patch.is_some()),
                    ("HEAD", item.head.is_some()),
                    ("OPTIONS", item.options.is_some()),
                ];
                let methods = present.iter().filter(|(_, there)| *there).map(|(name, _)| (*name).to_owned());
                (ResourceDef::new(path.as_str()), methods.collect())
            })
            .collect()
    });
    paths
        .iter()
        .find(|(pattern, _)| pattern.is_match(path))
        .map(|(_, methods)| methods.clone())
        .unwrap_or_default()
}
