//! Structured logs, request ids and metrics.

use actix_web::Error;
use actix_web::body::MessageBody;
use actix_web::dev::{ServiceRequest, ServiceResponse};
use actix_web::http::header::{HeaderName, HeaderValue};
use actix_web::middleware::Next;
use metrics_exporter_prometheus::{PrometheusBuilder, PrometheusHandle};
use std::sync::OnceLock;
use std::time::Instant;
use tracing_subscriber::EnvFilter;
use uuid::Uuid;

/// Response header that carries the request's id.
pub const REQUEST_ID: HeaderName = HeaderName::from_static("x-request-id");

tokio::task_local! {
    static CURRENT: Uuid;
}

/// The id of the running request; the nil UUID outside of one.
pub fn request_id() -> String {
    CURRENT.try_with(Uuid::to_string).unwrap_or_else(|_| Uuid::nil().to_string())
}

/// What goes on after its request was answered, as a part of that request.
pub fn carried_on<F: Future>(work: F) -> impl Future<Output = F::Output> {
    let id = CURRENT.try_with(|id| *id).unwrap_or_else(|_| Uuid::nil());
    CURRENT.scope(id, work)
}

/// What is logged unless `RUST_LOG` says otherwise.
pub const USUAL_LOGS: &str = "info,refinery_core=warn";

/// Sends logs to standard error: JSON lines, or plain text when `plain`. `RUST_LOG` filters, else `usual`.
pub fn init_logs(plain: bool, usual: &str) {
    let filter = EnvFilter::try_from_default_env().unwrap_or_else(|_| EnvFilter::new(usual));
    let logs = tracing_subscriber::fmt().with_env_filter(filter).with_writer(std::io::stderr);
    // A second subscriber is refused: the first one stays, which is what a test process wants.
    let _already_set = if plain { logs.try_init() } else { logs.json().try_init() };
}

/// The process's metrics, installed once.
pub fn metrics() -> &'static PrometheusHandle {
    static HANDLE: OnceLock<PrometheusHandle> = OnceLock::new();
    HANDLE
        .get_or_init(|| PrometheusBuilder::new().install_recorder().expect("no other recorder is installed"))
}

/// Middleware: gives the request an id, answers it in a header, logs one line and counts. The route pattern, not the
/// path, is the label, so that ids neither multiply series nor appear in metrics.
pub async fn observe(
    request: ServiceRequest,
    next: Next<impl MessageBody>,
) -> Result<ServiceResponse<impl MessageBody>, Error> {
    let id = Uuid::now_v7();
    let started = Instant::now();
    let method = request.method().to_string();
    CURRENT
        .scope(id, async move {
            let mut response = next.call(request).await?;
            let route = response.request().match_pattern().unwrap_or_else(|| "unmatched".into());
            let status = response.status().as_u16();
            let elapsed = started.elapsed();
            metrics::counter!("lapwatch_http_requests_total", "method" => method.clone(), "route" => route.clone(),
                "status" => status.to_string())
            .increment(1);
            metrics::histogram!("lapwatch_http_request_seconds", "method" => method.clone(), "route" => route.clone())
                .record(elapsed.as_secs_f64());
            let elapsed_us = u64::try_from(elapsed.as_micros()).unwrap_or(u64::MAX);
            tracing::info!(request_id = %id, %method, %route, status, elapsed_us, "request");
            if let Ok(value) = HeaderValue::from_str(&id.to_string()) {
                response.headers_mut().insert(REQUEST_ID, value);
            }
            Ok(response)
        })
        .await
}
