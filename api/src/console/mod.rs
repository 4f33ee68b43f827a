//! The console: pages for people.
//!
//! Everything is rendered here and works without scripts: forms are forms, charts are inline SVG, and the only other
//! things a page loads are one stylesheet, one icon and photos from this service. A handler asks the service layer, a *page*
//! struct turns the answer into words and geometry on the crew's scales and in the site's time zone, and a template
//! lays that out and decides nothing.

mod assets;
mod chart;
mod error;
mod fleet;
mod held;
mod mark;
mod photo;
mod place;
mod response;
mod session;
mod show;
mod sign_in;
mod trial;
mod unit;
mod words;

use actix_web::guard;
use actix_web::web::{self, Data, ServiceConfig};
use actix_web::{Resource, Route};

use crate::routes::Context;

pub use error::wants_page;
pub use response::not_found;

/// The shared context in a handler's arguments.
type Shared = Data<Context>;

/// Registers the pages.
pub fn register(config: &mut ServiceConfig) {
    config
        .service(resource("/", reads().to(fleet::home)))
        .service(resource("/fleet", reads().to(fleet::show)))
        .service(resource("/held", reads().to(held::show)))
        .service(resource("/units/{id}", reads().to(unit::show)))
        .service(resource("/trials/{id}", reads().to(trial::show)))
        .service(resource("/photos/{sha256}", reads().to(photo::serve)))
        .service(resource("/sign-in", reads().to(sign_in::form)).route(web::post().to(sign_in::submit)))
        .service(resource("/sign-out", web::post().to(sign_in::sign_out)))
        .service(resource("/assets/{name}", reads().to(assets::serve)));
}

/// A route for GET, and for HEAD, which answers the same without the body (RFC 9110 section 9.3.2).
fn reads() -> Route {
    web::route().guard(guard::Any(guard::Get()).or(guard::Head()))
}

/// A page at `path`; methods that it does not take are answered by a page too.
fn resource(path: &str, route: Route) -> Resource {
    web::resource(path).route(route).default_service(web::to(response::method_not_allowed))
}
