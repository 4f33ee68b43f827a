//! Putting it together: checks, listener, workers, jobs; and taking it down again.

use std::net::SocketAddr;
use std::sync::Arc;

use actix_web::dev::ServerHandle;
use actix_web::middleware::{Compress, DefaultHeaders, from_fn};
use actix_web::web::{self, Data};
use actix_web::{App, HttpRequest, HttpResponse, HttpServer};
use anyhow::Context as _;
use tokio::sync::Semaphore;
use tokio::task::JoinHandle;
use utoipa_actix_web::AppExt;
use utoipa_swagger_ui::SwaggerUi;

use crate::auth::{Secrets, Tokens};
use crate::clock::Clock;
use crate::config::Settings;
use crate::problem::{Code, Problem};
use crate::routes::{self, Context, contract};
use crate::service::{PhotoKeeper, Service, feed};
use crate::storage::{Heads, Store, migrate};
use crate::{console, jobs, telemetry};

/// So many envelopes are read at a time. Each takes one connection to the database at a time; the next is asked to wait.
const ENVELOPES: usize = 16;

/// A running service.
#[derive(Debug)]
pub struct Running {
    /// Address it listens on.
    pub address: SocketAddr,
    /// Its operations, for what runs in the same process.
    pub service: Service,
    handle: ServerHandle,
    server: JoinHandle<std::io::Result<()>>,
    jobs: Option<JoinHandle<()>>,
    watch: JoinHandle<()>,
}

/// Starts the service: checks login and schema, binds, serves.
///
/// # Errors
/// When the database cannot be reached, its login could step around row security, its schema is not the one this
/// program knows, a secret cannot be read, or the address is taken.
pub async fn start(settings: &Settings, clock: Clock) -> anyhow::Result<Running> {
    let heads = Heads::new(settings.feed.waiting, settings.feed.waiting_of_one);
    let store = Store::new(&settings.database, settings.connections, heads)
        .context("setting up database connections")?;
    migrate::check(&store).await?;
    let listener = std::net::TcpListener::bind(settings.bind)
        .with_context(|| format!("listening on {}; choose another port with --port", settings.bind))?;
    let address = listener.local_addr()?;
    let issuer = settings.issuer(address);
    let secrets = Secrets::load_or_create(&settings.secrets_dir)?;
    let tokens = Tokens::new(&issuer, &secrets);
    let service = Service::new(store, secrets, tokens, PhotoKeeper::new(&settings.photos)?);
    let context = Data::new(Context {
        service: service.clone(),
        clock: clock.clone(),
        envelopes: Arc::new(Semaphore::new(ENVELOPES)),
        feed_heartbeat: settings.feed.heartbeat,
        secure_cookies: settings.secure_cookies(),
        operator_token: settings.operator_token.clone(),
    });
    telemetry::metrics();
    // Built once, before the first request needs it.
    let document = contract::document().clone();
    let mut server = HttpServer::new(move || {
        App::new()
            .into_utoipa_app()
            .configure(routes::register)
            .into_app()
            .app_data(context.clone())
            .app_data(web::PathConfig::default().error_handler(|error, _| {
                Problem::new(Code::NotFound, format!("The address is not of its form: {error}.")).into()
            }))
            .app_data(web::QueryConfig::default().error_handler(|error, _| {
                Problem::new(Code::BadRequest, format!("A query parameter is not of its form: {error}."))
                    .into()
            }))
            .configure(console::register)
            .route("/openapi.json", web::get().to(openapi))
            .service(web::redirect("/docs", "/docs/"))
            .service(SwaggerUi::new("/docs/{_:.*}").url("/docs/openapi.json", document.clone()))
            .default_service(web::to(unmatched))
            .wrap(
                DefaultHeaders::new()
                    .add(("X-Content-Type-Options", "nosniff"))
                    .add(("Referrer-Policy", "no-referrer")),
            )
            .wrap(from_fn(routes::say_version))
            .wrap(Compress::default())
            .wrap(from_fn(telemetry::observe))
    })
    .disable_signals()
    .shutdown_timeout(10)
    .listen(listener)?;
    if let Some(workers) = settings.workers {
        server = server.workers(workers);
    }
    let server = server.run();
    let handle = server.handle();
    let jobs = settings.jobs.then(|| tokio::spawn(jobs::run(service.clone(), clock)));
    let watch = tokio::spawn(feed::watch(service.clone(), settings.feed.period));
    Ok(Running { address, service, handle, server: tokio::spawn(server), jobs, watch })
}

impl Running {
    /// Ends it: no new request is taken, those under way are finished, connections are closed.
    pub async fn stop(self) {
        if let Some(jobs) = self.jobs {
            jobs.abort();
        }
        self.watch.abort();
        // Who waits would keep the server from ending.
        self.service.store.heads().close();
        self.handle.stop(true).await;
        // The outcome of a server that was told to stop tells nothing.
        let _stopped = self.server.await;
        self.service.store.close();
    }
}

async fn openapi() -> HttpResponse {
    HttpResponse::Ok().content_type("application/json").body(contract::json())
}

async fn unmatched(request: HttpRequest) -> HttpResponse {
    use actix_web::ResponseError;
    let methods = contract::methods(request.path());
    if methods.is_empty() && console::wants_page(&request) {
        console::not_found()
    } else if methods.is_empty() {
        Problem::new(Code::NotFound, "There is no such address; `/openapi.json` lists all.").error_response()
    } else {
        Problem::method_not_allowed(&methods).error_response()
    }
}
